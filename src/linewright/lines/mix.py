"""The mix: which states count for which element, and the tilts that make the shares come true.

The tilted model weighs every note of an element by exp(theta); it is the model nearest to the
untilted one (in relative entropy) whose expected shares are those asked (Csiszár 1975). The
thetas are the least point of a convex function whose value and slope come from one backward
and one forward pass, found by BFGS (Nocedal and Wright 2006, ch. 6).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from linewright.lines.chain import Chain
from linewright.lines.lattice import Lattice

__all__ = ["Element", "Proofs", "Tuned", "members", "tune"]

Vector = NDArray[np.float64]
#: Directions, and how far lines on the same chains go along each.
Proofs = list[tuple[Vector, float]]
_TURNS: Final = 14
_CLOSE: Final = 0.003
_FARTHEST: Final = 14.0


@dataclass(frozen=True)
class Element:
    """Something a mix can name.

    Parameters
    ----------
    name : str
        A figure's tag, an outside degree, a kind of figure, or an outside function.
    words : str
        What it is, in a sentence.
    share : float
        Its share of the lick's notes.
    length : float
        Notes it comes at a time.
    plans, uses : tuple of int
        The plans and usages it stands for.
    group : bool
        Whether it is a kind or a function rather than one figure or degree.
    """

    name: str
    words: str
    share: float
    length: float
    plans: tuple[int, ...] = ()
    uses: tuple[int, ...] = ()
    group: bool = False

    def to_dict(self) -> dict[str, Any]:
        """As JSON values."""
        return {
            "name": self.name,
            "words": self.words,
            "share": round(self.share, 4),
            "group": self.group,
        }


def members(lattice: Lattice, elements: Sequence[tuple[frozenset[int], frozenset[int]]]) -> Vector:
    """A row for each element (its plans, its usages), 1 for the states that count for it."""
    found = np.zeros((len(elements), len(lattice.states)))
    for number, state in enumerate(lattice.states):
        figure, use = lattice.figure_of(state), lattice.use_of(state)
        if figure is None and use is None:
            continue
        for row, (plans, uses) in enumerate(elements):
            if (figure is not None and figure[0] in plans) or (use is not None and use in uses):
                found[row, number] = 1.0
    return found


@dataclass(frozen=True)
class Tuned:
    """Tilts found, the expected shares under them, and whether they are those asked."""

    theta: Vector
    expected: Vector
    reached: bool


def tune(
    chains: Sequence[Chain],
    rows: Vector,
    asked: Vector,
    counts: Vector,
    lengths: Sequence[float],
    *,
    close: float = _CLOSE,
    proofs: Proofs | None = None,
) -> Tuned:
    """Find the tilts for asked shares.

    Parameters
    ----------
    chains : sequence of Chain
        The stretches of the line; left with the messages of the result.
    rows : array, shape (elements, states)
    asked : array, shape (sections, elements)
        Shares.
    counts : array, shape (sections,)
        Free notes in each section.
    lengths : sequence of float
        Notes each element comes at a time.
    close : float
        How near every share must come.
    proofs : list, optional
        Only whether the shares are reached is of interest: stop once it is proved that they are
        not, with tilts and expected shares of no meaning. It holds what was proved of the same
        chains before, and is added to.
    """
    sections, size = asked.shape
    goal = np.clip(asked, 1e-4, 1 - 1e-4)
    for along, farthest in proofs or ():
        if _beyond(asked, counts, along, farthest, close):
            return Tuned(along, along, False)
    at = _Point(chains, rows, asked, counts, np.zeros((sections, size)))
    best = at
    # The first step takes each logit for a straight line of slope ``length``.
    gap = at.got - goal
    rise = (_logit(at.got) - _logit(goal)) / np.array(lengths, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        first = np.where(np.abs(gap) > 1e-9, rise / (gap * counts[:, None]), 1.0 / counts[:, None])
    inverse = np.diag(np.clip(first, 1e-6, 1e6).ravel())
    last_gain = 0
    for turn in range(_TURNS):
        if at.miss <= close or turn - last_gain > 4:
            break
        step = -(inverse @ at.slope).reshape(sections, size)
        step = np.clip(step, -3.0, 3.0)
        to = _Point(chains, rows, asked, counts, _bounded(at.theta + step))
        for _ in range(4):
            if to.cost <= at.cost + 1e-9 * abs(at.cost):
                break
            step = step / 3.0
            to = _Point(chains, rows, asked, counts, _bounded(at.theta + step))
        inverse = update(inverse, (to.theta - at.theta).ravel(), to.slope - at.slope)
        at = to
        if at.miss < 0.97 * best.miss:
            last_gain = turn
        if at.miss < best.miss:
            best = at
        if proofs is not None and turn % 3 == 2:
            worth = list(at.theta @ rows)
            farthest = sum(chain.highest(worth) for chain in chains)
            if _beyond(asked, counts, at.theta, farthest, close):
                proofs.append((at.theta, farthest))
                return Tuned(at.theta, at.got, False)
    if best is not at:
        _expect(chains, rows, best.theta, sections)
    return Tuned(best.theta, best.got, best.miss <= close)


def _beyond(asked: Vector, counts: Vector, along: Vector, farthest: float, close: float) -> bool:
    """Whether no tilts at all bring every share within ``close`` of those asked: a proof by one
    direction, along which no line that is allowed goes farther than ``farthest``.

    The expected counts are a mean of the counts of single lines, so in any direction they go no
    farther than the line that goes farthest. Where shares are out of reach the thetas grow without
    end in a direction that parts them from all lines (which is where :func:`tune` looks). True is
    certain; False says nothing.
    """
    spare = close * float((np.abs(along) * counts[:, None]).sum())
    wanted = float((along * asked * counts[:, None]).sum())
    rounding = 1e-9 * (1.0 + abs(wanted) + abs(farthest))
    return math.isfinite(farthest) and wanted - spare > farthest + rounding


class _Point:
    """Thetas with what follows from them: shares, how far off, the dual and its slope.

    The dual, log of the whole weight minus theta times the counts asked, is convex, and its
    slope is expected minus asked counts; at its least point the shares are those asked.
    """

    __slots__ = ("cost", "got", "miss", "slope", "theta")

    def __init__(
        self, chains: Sequence[Chain], rows: Vector, asked: Vector, counts: Vector, theta: Vector
    ) -> None:
        self.theta = theta
        total, log_weight = _expect(chains, rows, theta, len(asked))
        self.got = total / counts[:, None]
        self.miss = float(np.abs(self.got - asked).max(initial=0.0))
        wanted = asked * counts[:, None]
        self.slope = (total - wanted).ravel()
        self.cost = log_weight - float((theta * wanted).sum())


def _bounded(theta: Vector) -> Vector:
    return np.asarray(np.round(np.clip(theta, -_FARTHEST, _FARTHEST), 6))


def update(inverse: Vector, moved: Vector, change: Vector) -> Vector:
    """The inverse Hessian after a step (the update of Broyden, Fletcher, Goldfarb and Shanno)."""
    inner = float(moved @ change)
    if inner <= 1e-12:
        return inverse
    one = np.eye(len(moved))
    left = one - np.outer(moved, change) / inner
    return np.asarray(left @ inverse @ left.T + np.outer(moved, moved) / inner)


def _expect(
    chains: Sequence[Chain], rows: Vector, theta: Vector, sections: int
) -> tuple[Vector, float]:
    """Expected counts by section and element, and the log of the whole weight."""
    total = np.zeros((sections, len(rows)))
    log_weight = 0.0
    for chain in chains:
        set_tilts(chain, rows, theta)
        if not chain.backward():
            return total, math.inf
        total += chain.expected(rows, sections)
        log_weight += chain.log_weight
    return total, log_weight


def set_tilts(chain: Chain, rows: Vector, theta: Vector) -> None:
    """Weigh the chain's states by exp of the sum of their elements' thetas, section by section."""
    size = chain.tables.size
    factors = [[round(math.exp(value), 9) for value in section] for section in theta]
    tilts = []
    for section in factors:
        tilt = np.ones(size)
        for row, factor in zip(rows, section, strict=True):
            tilt *= np.where(row > 0, factor, 1.0)
        tilts.append(tilt)
    chain.tilt(tilts)


def _logit(share: Vector) -> Vector:
    safe = np.clip(share, 1e-6, 1 - 1e-6)
    return np.log(safe / (1 - safe))
