"""Choosing the grid, beat by beat, by description length.

Each beat is described by the grid it uses and, on that grid, the place and the error of every
onset; the shortest description wins. A finer grid costs more to name and more per onset, an
error costs by its square, so that a grid is made finer only when the notes insist. Swing is one
more grid, {0, x}, with x fitted to the whole phrase; it pays once for x and then little.
The principle is Rissanen's (1978); beat-wise costs for quantising follow Cemgil, Desain and
Kappen (2000), who weigh the complexity of a subdivision against the error it leaves.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import median
from typing import Final

__all__ = ["GRIDS", "Beat", "Fit", "Grid", "fit_beats"]


@dataclass(frozen=True, slots=True)
class Grid:
    """A way to divide a beat: its ``parts``, what naming it costs in bits, a name for a player.

    ``swung`` marks the two-part grid whose middle lies where the swing puts it.
    """

    parts: int
    bits: float
    name: str
    swung: bool = False


#: Divisions of a beat that divides in two, in order of plainness.
SIMPLE: Final[tuple[Grid, ...]] = (
    Grid(1, 0.5, "beats"),
    Grid(2, 1, "halves of the beat"),
    Grid(4, 2, "quarters of the beat"),
    Grid(3, 3, "triplets"),
    Grid(6, 5, "sextuplets"),
    Grid(8, 5.5, "eighths of the beat"),
    Grid(5, 11, "quintuplets"),
    Grid(7, 12, "septuplets"),
    Grid(12, 11, "twelfths of the beat"),
    Grid(16, 12, "sixteenths of the beat"),
)
#: Divisions of a beat that divides in three.
COMPOUND: Final[tuple[Grid, ...]] = (
    Grid(1, 0.5, "beats"),
    Grid(3, 1, "thirds of the beat"),
    Grid(6, 2, "sixths of the beat"),
    Grid(2, 4, "duplets"),
    Grid(4, 5, "quadruplets"),
    Grid(12, 7, "twelfths of the beat"),
    Grid(9, 11, "ninths of the beat"),
    Grid(5, 12, "quintuplets"),
    Grid(7, 12, "septuplets"),
    Grid(24, 13, "24ths of the beat"),
)
#: Mixtures that only a file exact to the tick can show.
_MIXED: Final[dict[bool, tuple[Grid, ...]]] = {
    False: tuple(Grid(n, 14 + n / 8, "mixed tuplets") for n in (9, 10, 14, 15, 20, 21, 24, 28)),
    True: tuple(Grid(n, 14 + n / 8, "mixed tuplets") for n in (8, 10, 14, 15, 18, 21, 36)),
}
_SWING: Final = Grid(2, 1, "swung halves of the beat", swung=True)
_SWING_BITS: Final = 8.0  # naming x once
_COLLISION_BITS: Final = 40.0
_FORBIDDEN_BITS: Final = 1e6
#: What a caller may ask for: name -> parts of a quarter (simple) and of a dotted quarter.
GRIDS: Final[dict[str, tuple[int, ...]]] = {
    "straight": (1, 2, 4, 8, 16),
    "triplet": (1, 3, 6, 12),
    "swing": (1, 2),
    "1/4": (1,),
    "1/8": (1, 2),
    "1/16": (1, 2, 4),
    "1/32": (1, 2, 4, 8),
    "1/12": (1, 3),
    "1/24": (1, 3, 6),
}


@dataclass(frozen=True, slots=True)
class Beat:
    """A stretch of time that is divided as one: a beat of the meter."""

    onset: Fraction
    length: Fraction
    is_compound: bool
    can_swing: bool  # a quarter-note beat among equals


@dataclass(frozen=True, slots=True)
class Fit:
    """A grid for every beat, the swing's place x (None without), and the bits it all takes."""

    grids: tuple[Grid, ...]
    swing: float | None
    bits: float

    def snap(self, beats: Sequence[Beat], onsets: Sequence[Fraction], time: float) -> Fraction:
        """The grid point nearest a time, in written quarters."""
        index = max(0, bisect_right(onsets, time) - 1)
        beat, grid = beats[index], self.grids[index]
        place = (time - float(beat.onset)) / float(beat.length)
        step = _nearest(grid, self.swing, place)[0]
        return beat.onset + beat.length * Fraction(step, grid.parts)


def _nearest(grid: Grid, swing: float | None, place: float) -> tuple[int, float]:
    """Nearest step of a grid to a place in the beat (0 to 1), and the error in beats."""
    if grid.swung and swing is not None:
        points = (0.0, swing, 1.0)
        step = min(range(3), key=lambda k: abs(points[k] - place))
        return step, place - points[step]
    step = min(max(round(place * grid.parts), 0), grid.parts)
    return step, place - step / grid.parts


def fit_beats(
    beats: Sequence[Beat],
    times: Sequence[Sequence[float]],
    sigma: Sequence[float],
    *,
    wanted: str | None = None,
    exact: bool = False,
) -> Fit:
    """The cheapest grids for beats that hold ``times`` (quarters), given errors of about
    ``sigma`` quarters in each beat.

    Parameters
    ----------
    beats : sequence of Beat
    times : sequence of sequence of float
        For each beat the moments that fall in it, in quarters from the start, ascending.
    sigma : sequence of float
        Expected error in quarters, for each beat.
    wanted : str, optional
        A name in :data:`GRIDS` to keep to.
    exact : bool
        Whether the times are exact, so that mixtures of tuplets may be told apart too.
    """
    straight = _fit(beats, times, sigma, None, wanted, exact)
    if wanted not in (None, "swing"):
        return straight
    place = _swing_estimate(beats, times)
    if place is None:
        return straight
    swung = _fit(beats, times, sigma, place, wanted, exact)
    return swung if wanted == "swing" or swung.bits < straight.bits else straight


def _allowed(beat: Beat, swing: float | None, wanted: str | None, exact: bool) -> tuple[Grid, ...]:
    table = COMPOUND if beat.is_compound else SIMPLE
    if exact:
        table += _MIXED[beat.is_compound]
    if wanted is not None:
        scale = 1 if beat.is_compound else max(1, int(beat.length))
        parts = {n * scale for n in GRIDS[wanted]} | {1}
        if beat.is_compound:  # thirds are its straight division
            parts = {1, 3} | {3 * n for n in GRIDS[wanted] if n in (2, 4)}
        kept = tuple(grid for grid in table if grid.parts in parts)
        table = kept or table
    if swing is not None and beat.can_swing:
        return (_SWING, *(grid for grid in table if grid.parts != 2))
    return table


def _fit(
    beats: Sequence[Beat],
    times: Sequence[Sequence[float]],
    sigma: Sequence[float],
    swing: float | None,
    wanted: str | None,
    exact: bool,
) -> Fit:
    total = _SWING_BITS if swing is not None else 0.0
    grids = []
    for beat, inside, error in zip(beats, times, sigma, strict=True):
        if not inside:
            total += SIMPLE[0].bits
            grids.append(SIMPLE[0])
            continue
        places = [(t - float(beat.onset)) / float(beat.length) for t in inside]
        relative = error / float(beat.length)
        bits, grid = min(
            (
                (_bits(beat, grid, swing, places, relative), grid)
                for grid in _allowed(beat, swing, wanted, exact)
            ),
            key=lambda item: item[0],
        )
        total += bits
        grids.append(grid)
    return Fit(tuple(grids), swing, total)


def _bits(
    beat: Beat, grid: Grid, swing: float | None, places: Sequence[float], sigma: float
) -> float:
    bits = grid.bits
    before = -1
    inner = set()
    for place in places:
        step, error = _nearest(grid, swing, place)
        bits += math.log2(grid.parts + 1) + error * error / (2 * sigma * sigma) * math.log2(math.e)
        if step == before:
            bits += _COLLISION_BITS
        before = step
        inner.add(Fraction(step, grid.parts))
    if swing is not None and beat.can_swing and not grid.swung:
        # an even half, or a triplet's long and short, could not be told from a swung pair
        bits += _FORBIDDEN_BITS * (inner - {0, 1} in ({Fraction(1, 2)}, {Fraction(2, 3)}))
    return bits


def _swing_estimate(beats: Sequence[Beat], times: Sequence[Sequence[float]]) -> float | None:
    """The usual place of the second of two notes in a beat, if it is late in most beats."""
    late, even = [], 0
    for beat, inside in zip(beats, times, strict=True):
        if not beat.can_swing:
            continue
        places = [t - float(beat.onset) for t in inside]
        inner = [p for p in places if 0.12 < p < 0.9]
        if len(inner) != 1:
            continue
        if 0.55 <= inner[0] <= 0.73:  # past 2.7 to 1 it is a dotted rhythm
            late.append(inner[0])
        elif 0.4 <= inner[0] < 0.55:
            even += 1
    if len(late) < 3 or even > len(late) / 2:
        return None
    return float(median(late))
