"""Heard notes on the grid of a step, and what their timing says.

The grid is the click's: its tempo is known, and its place in the recording where our own click
was played (or the recording says where bar 1 begins); else the place is estimated from the
notes, and the mean is then nobody's (it holds the recording's delay and the player's habit in
one). A slow drift is followed, so that a player who drags a whole slot over a take is told so
and is not taken to play between the slots. Swung eighths are measured about the player's own
swing. Deviations are split as a tapping study splits them: mean, linear drift and the standard
deviation that is left (Repp 2005, Psychonomic Bulletin & Review 12, 969-992, reviews such
measures).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import fmean, median
from typing import Final

from linewright.practice.takes.model import SURE, Ground, PlacedNote, Timing
from linewright.score import PlayedNote, swing_place

__all__ = ["place_notes"]

_FOLLOW: Final = 0.2  # how quickly the running offset follows the notes
_SIGMA: Final = 0.06  # of a beat: what a note may stray and still be meant for its slot
_OTHER_SLOT: Final = 6.0  # what leaving the step's own grid costs, in half squared sigmas
_PASSED: Final = 1.5  # what passing over a slot of the step costs
_SAME_SLOT: Final = 12.0  # what two notes in one slot cost
_USUAL_MEAN: Final = 0.05  # seconds from the click that a player is on average
_USUAL_DRIFT: Final = 0.15  # seconds that the end lies behind the beginning
_LEAST_SWING: Final = 1.2  # long : short under which eighths count as straight


@dataclass(frozen=True, slots=True)
class _Slot:
    at: Fraction
    off_grid: bool
    is_late_eighth: bool


def place_notes(
    heard: Sequence[PlayedNote], ground: Ground, quarter_bpm: Fraction, start_s: float | None
) -> tuple[tuple[PlacedNote, ...], Timing]:
    """Notes on the grid, in order, and the timing they show.

    Parameters
    ----------
    heard : sequence of PlayedNote
        In order of onset.
    ground : Ground
    quarter_bpm : Fraction
        Of the click.
    start_s : float or None
        Where bar 1, beat 1 of the click falls in the recording as the player heard it; None when
        that is not known.
    """
    second = float(quarter_bpm) / 60  # quarters in a second
    swings = _pulse(ground) == 1 and ground.unit == Fraction(1, 2)
    at = [note.onset_s * second for note in heard]
    start = start_s * second if start_s is not None else _find_start(at, heard, ground, swings)
    times = [time - start for time in at]
    place = _swing_in(times, heard, ground) if swings else None
    slots, line, place = _settle(times, heard, ground, place, second, is_known=start_s is not None)
    # after the fit the swing is told by the two kinds of eighth
    place = _eighth_place(slots, times, line, heard) if swings else None
    timing = _timing(times, slots, line, heard, place, second, ground, quarter_bpm, start_s)
    swung_by = float(swing_place(ground.swing)) - 0.5 if ground.swing and swings else 0.0
    own = place - 0.5 if place is not None else swung_by
    placed = []
    for note, time, slot in zip(heard, times, slots, strict=True):
        expected = float(slot.at) + (own if slot.is_late_eighth else 0.0)
        shift = 0.0 if start_s is not None else line[0] + line[1] * time
        placed.append(
            PlacedNote(note, slot.at, 1000 * (time - expected - shift) / second, slot.off_grid)
        )
    return _one_a_slot(placed), timing


# -- where the grid lies -------------------------------------------------------------------
def _find_start(
    at: Sequence[float], heard: Sequence[PlayedNote], ground: Ground, swings: bool
) -> float:
    """The start that puts the notes on the slots best; the first note is taken to be in bar 1."""
    if not at:
        return 0.0
    beat = float(_pulse(ground))
    period = beat if swings else float(ground.unit)
    sure = [t for t, n in zip(at, heard, strict=True) if n.confidence >= SURE] or list(at)
    sure = sure[:48]  # a drift must not smear the phase
    unit = float(ground.unit)
    places = (0.5, 0.55, 0.6, 2 / 3, 0.72) if swings else (0.5,)
    best = (math.inf, 0.0)
    for step in range(96):
        phase = period * step / 96
        for place in places:
            cost = 0.0
            for time in sure:
                rest = (time - phase) % period
                if swings:
                    off = min(rest, abs(rest - place * beat), period - rest)
                else:
                    off = min(rest, unit - rest)
                cost += min(off, unit / 4) ** 2
            # plain eighths before swung ones; a take begins on a beat before it begins after one
            cost += 0.0 if place == 0.5 else 1e-4 * len(sure)
            rest = (sure[0] - phase) % period
            cost += 1e-3 * min(rest, period - rest) ** 2
            if cost < best[0]:
                best = (cost, phase)
    phase = best[1]
    first = at[0]
    number = math.floor((first - phase) / period + 0.25)
    return phase + number * period


def _swing_in(times: Sequence[float], heard: Sequence[PlayedNote], ground: Ground) -> float | None:
    """Where in the beat the second eighths come, if they are swung; None for straight."""
    halves = [
        (time + 0.12) % 1 - 0.12
        for time, note in zip(times, heard, strict=True)
        if note.confidence >= SURE
    ]
    later = [rest for rest in halves if 0.4 <= rest <= 0.82]
    if len(later) < 4:
        return float(swing_place(ground.swing)) if ground.swing else None
    middle = median(later)
    close = sum(abs(rest - middle) < 0.08 for rest in later)
    if middle / (1 - middle) < _LEAST_SWING or close < 0.7 * len(later):
        return None
    return middle


# -- notes to slots ------------------------------------------------------------------------
_Line = tuple[float, float]  # late at time 0 and how it grows, in quarters


def _settle(
    times: Sequence[float],
    heard: Sequence[PlayedNote],
    ground: Ground,
    place: float | None,
    second: float,
    *,
    is_known: bool,
) -> tuple[list[_Slot], _Line, float | None]:
    """The slots that explain the notes best with one steady trend, that trend, and where the
    second eighths come.

    Several first trends are tried, since a take that is late by half a slot may as well be early.
    """
    unit = float(ground.unit)
    firsts = (0.0, unit / 2, -unit / 2) if is_known else (0.0,)
    lines = [(first, 0.0) for first in firsts]
    lines += [_followed(times, ground, place, first) for first in firsts]
    tried = sorted(
        (_align(times, ground, place, line)[0] + _oddness(line, times, second), k)
        for k, line in enumerate(lines)
    )
    best: tuple[float, list[_Slot], _Line, float | None] | None = None
    for _, k in tried[:2]:
        line, own = lines[k], place
        for _ in range(3):
            cost, slots, late = _align(times, ground, own, line)
            line = _fit(times, slots, late, heard)
            found = _eighth_place(slots, times, line, heard) if own is not None else None
            own = found if found is not None and 0.4 <= found <= 0.82 else own
        cost += _oddness(line, times, second)
        if best is None or cost < best[0]:
            best = (cost, slots, line, own)
    assert best is not None
    return best[1], best[2], best[3]


def _oddness(line: _Line, times: Sequence[float], second: float) -> float:
    """How unlikely a mean and a drift are for a player, in half squared sigmas."""
    middle = line[0] + line[1] * (times[0] + times[-1]) / 2
    drift = line[1] * (times[-1] - times[0])
    return (middle / second / _USUAL_MEAN) ** 2 / 2 + (drift / second / _USUAL_DRIFT) ** 2 / 2


def _followed(times: Sequence[float], ground: Ground, place: float | None, first: float) -> _Line:
    """A first trend: each note to the slot nearest where the notes before it were heading."""
    offset, found = first, []
    points = _slot_points(ground, place)
    size = float(_pulse(ground))
    for time in times:
        number, rest = divmod(time - offset, size)
        near = min(points, key=lambda point: abs(point - rest))
        found.append(time - number * size - near)
        offset += _FOLLOW * max(-0.2 * size, min(0.2 * size, found[-1] - offset))
    if len(times) < 8:
        return fmean(found), 0.0
    middle = fmean(times)
    bottom = sum((t - middle) ** 2 for t in times)
    slope = sum((t - middle) * f for t, f in zip(times, found, strict=True)) / max(bottom, 1e-9)
    return fmean(found) - slope * middle, slope


def _slot_points(ground: Ground, place: float | None) -> list[float]:
    """The step's own slots within a beat, and the beat after, in quarters."""
    beat = _pulse(ground)
    own = max(1, round(beat / ground.unit))
    points = [float(beat * k / own) for k in range(own + 1)]
    if own == 2 and place is not None:
        points[1] = place * float(beat)
    return points


def _align(
    times: Sequence[float], ground: Ground, place: float | None, line: _Line
) -> tuple[float, list[_Slot], list[float]]:
    """The cheapest way to give every note a later slot than the note before it.

    A note pays for its distance from the slot, for a slot that is not the step's own, and for
    each slot of the step that is passed over (little, since a note may be held).
    """
    beat = _pulse(ground)
    size = float(beat)
    sigma = _SIGMA * size
    kinds = _inner_slots(ground, place)
    # Moments are compared in whole ticks, of which every slot is a multiple.
    ticks = math.lcm(*(m.denominator for m in (beat, ground.unit, *(kind[0] for kind in kinds))))
    unit, reach = int(ground.unit * ticks), 0.8 * max(float(ground.unit), size / 4)
    rows: list[list[tuple[int, float, _Slot]]] = []
    for time in times:
        shift = line[0] + line[1] * time
        number = math.floor((time - shift) / size)
        row = []
        for step in (-1, 0, 1):
            for inner, expected, slot_cost, off, late_eighth in kinds:
                away = time - shift - (number + step) * size - expected
                if abs(away) <= reach:
                    place_at = beat * (number + step) + inner
                    cost = (away / sigma) ** 2 / 2 + slot_cost
                    row.append((int(place_at * ticks), cost, _Slot(place_at, off, late_eighth)))
        row.sort(key=lambda item: item[0])
        rows.append(row)
    totals: list[list[tuple[float, int]]] = []
    for k, row in enumerate(rows):
        here = []
        for at, cost, _ in row:
            came = (0.0, -1)
            if k:
                came = (math.inf, -1)
                for j, (before, _, _) in enumerate(rows[k - 1]):
                    if before > at:
                        break
                    passed = max(0, (at - before - 1) // unit)
                    step_cost = _SAME_SLOT if before == at else _PASSED * min(passed, 4)
                    total = totals[k - 1][j][0] + step_cost
                    if total < came[0]:
                        came = (total, j)
            here.append((came[0] + cost, came[1]))
        totals.append(here)
    at_end = min(range(len(totals[-1])), key=lambda j: totals[-1][j][0])
    total = totals[-1][at_end][0]
    chosen: list[_Slot] = []
    for k in range(len(rows) - 1, -1, -1):
        chosen.append(rows[k][at_end][2])
        at_end = totals[k][at_end][1]
    chosen.reverse()
    late = []
    for time, slot in zip(times, chosen, strict=True):
        swung = place - 0.5 if slot.is_late_eighth and place is not None else 0.0
        late.append(time - float(slot.at) - swung)
    return total, chosen, late


def _inner_slots(
    ground: Ground, place: float | None
) -> list[tuple[Fraction, float, float, bool, bool]]:
    """Slots within a beat: where, where expected, what it costs, off the grid, a later eighth."""
    beat = _pulse(ground)
    own = max(1, round(beat / ground.unit))
    found: dict[Fraction, tuple[Fraction, float, float, bool, bool]] = {}
    for parts in dict.fromkeys((own, 2 * own, 3 if own != 3 else 6)):
        for part in range(parts):
            inner = beat * Fraction(part, parts)
            if inner in found:
                continue
            off = parts != own
            late_eighth = beat == 1 and inner == Fraction(1, 2) and own == 2
            expected = place if late_eighth and place is not None else float(inner)
            found[inner] = (inner, expected, _OTHER_SLOT if off else 0.0, off, late_eighth)
    return list(found.values())


def _one_a_slot(placed: list[PlacedNote]) -> tuple[PlacedNote, ...]:
    """Two notes never share a slot: the one heard more surely stays."""
    kept: list[PlacedNote] = []
    for note in placed:
        if not kept or note.onset > kept[-1].onset:
            kept.append(note)
        elif note.onset == kept[-1].onset and note.heard.confidence > kept[-1].heard.confidence:
            kept[-1] = note
    return tuple(kept)


def _pulse(ground: Ground) -> Fraction:
    """What the grid is laid out in: the beat, or a slot where beats differ or do not hold slots."""
    beats = set(ground.meter.beats)
    beat = ground.meter.beat
    return beat if len(beats) == 1 and beat % ground.unit == 0 else ground.unit


# -- what the timing says ------------------------------------------------------------------
def _counted(slots: Sequence[_Slot], heard: Sequence[PlayedNote]) -> list[int]:
    """Notes whose timing is measured: struck, sure, and on the step's own grid."""
    best = [
        k for k, (slot, note) in enumerate(zip(slots, heard, strict=True))
        if note.confidence >= SURE and note.attack == "struck" and not slot.off_grid
    ]  # fmt: skip
    if len(best) >= 8:
        return best
    return [k for k, note in enumerate(heard) if note.confidence >= SURE]


def _fit(
    times: Sequence[float], slots: Sequence[_Slot], late: Sequence[float],
    heard: Sequence[PlayedNote],
) -> tuple[float, float]:  # fmt: skip
    """Mean and slope of the deviations (quarters, a quarter), later eighths with their own mean."""
    counted = _counted(slots, heard)
    if not counted:
        return 0.0, 0.0
    later = [k for k in counted if slots[k].is_late_eighth]
    others = [k for k in counted if not slots[k].is_late_eighth] or counted
    # slope within both kinds, so that swing does not bend it
    top = bottom = 0.0
    for group in (others, later):
        if len(group) < 3:
            continue
        t = fmean(times[k] for k in group)
        y = fmean(late[k] for k in group)
        top += sum((times[k] - t) * (late[k] - y) for k in group)
        bottom += sum((times[k] - t) ** 2 for k in group)
    slope = top / bottom if bottom > 1 and len(counted) >= 6 else 0.0
    mean = fmean(late[k] - slope * times[k] for k in others)
    return mean, slope


def _eighth_place(
    slots: Sequence[_Slot], times: Sequence[float], line: tuple[float, float],
    heard: Sequence[PlayedNote],
) -> float | None:  # fmt: skip
    """Where the second eighths come as played, of a beat; None with too few."""
    counted = [k for k in _counted(slots, heard) if slots[k].is_late_eighth]
    if len(counted) < 3:
        return None
    return 0.5 + fmean(
        times[k] - float(slots[k].at) - line[0] - line[1] * times[k] for k in counted
    )


def _timing(
    times: Sequence[float], slots: Sequence[_Slot], line: tuple[float, float],
    heard: Sequence[PlayedNote], place: float | None, second: float, ground: Ground,
    quarter_bpm: Fraction, start_s: float | None,
) -> Timing:  # fmt: skip
    counted = _counted(slots, heard)
    mean, slope = line
    residuals = []
    for k in counted:
        expected = float(slots[k].at)
        if slots[k].is_late_eighth and place is not None:
            expected += place - 0.5
        residuals.append(times[k] - expected - mean - slope * times[k])
    spread = math.sqrt(sum(r * r for r in residuals) / max(1, len(residuals) - 2))
    first = times[counted[0]] if counted else 0.0
    last = times[counted[-1]] if counted else 0.0
    swing = None
    if place is not None and 0.3 < place < 0.9:
        swing = place / (1 - place)
        if swing < _LEAST_SWING and counted:  # straight: both eighths tell of the mean
            later = sum(slots[k].is_late_eighth for k in counted)
            mean += (place - 0.5) * later / len(counted)
    # a tempo kept slower than the click's makes every note later by the same share
    kept = float(quarter_bpm / ground.beat) * (1 - slope)
    return Timing(
        mean_ms=1000 * (mean + slope * (first + last) / 2) / second,
        spread_ms=1000 * spread / second,
        drift_ms=1000 * slope * (last - first) / second,
        swing=swing,
        bpm=kept,
        is_placed=start_s is not None,
        count=len(counted),
    )
