"""Plain COSIATEC, the reference for planted figures.

Written from the papers: SIA and SIATEC (Meredith, Lemström and Wiggins 2002, "Algorithms for
discovering repeated patterns in multidimensional representations of polyphonic music"), and
COSIATEC (Meredith 2013, MIREX "Discovery of repeated themes and sections"). Points are
(onset, pitch). A maximal translatable pattern (MTP) is all points that a vector takes to
points of the set; a translational equivalence class (TEC) is a pattern with all its
translations. COSIATEC takes the best TEC (compression ratio, then compactness, then coverage,
then pattern size), removes what it covers, and goes on until nothing is left.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

Point = tuple[Fraction, int]


@dataclass(frozen=True)
class Tec:
    """A pattern and the vectors that take it to its occurrences (zero included)."""

    pattern: tuple[Point, ...]
    vectors: tuple[Point, ...]

    @property
    def occurrences(self) -> list[list[Point]]:
        return [
            [(onset + vector[0], pitch + vector[1]) for onset, pitch in self.pattern]
            for vector in self.vectors
        ]

    @property
    def covered(self) -> frozenset[Point]:
        return frozenset(point for occurrence in self.occurrences for point in occurrence)


def maximal_patterns(points: list[Point]) -> list[tuple[Point, ...]]:
    """SIA: the maximal translatable pattern of every vector that points forward."""
    ordered = sorted(points)
    by_vector: dict[Point, list[Point]] = defaultdict(list)
    for k, first in enumerate(ordered):
        for second in ordered[k + 1 :]:
            by_vector[second[0] - first[0], second[1] - first[1]].append(first)
    return [tuple(pattern) for pattern in by_vector.values()]


def classes(points: list[Point]) -> list[Tec]:
    """SIATEC: every translational equivalence class, one for each shape."""
    everything = set(points)
    shapes: dict[tuple[Point, ...], tuple[Point, ...]] = {}
    for pattern in maximal_patterns(points):
        start = pattern[0]
        shape = tuple((p[0] - start[0], p[1] - start[1]) for p in pattern)
        shapes.setdefault(shape, pattern)
    found = []
    for shape in shapes:
        starts = [
            point
            for point in sorted(everything)
            if all((point[0] + s[0], point[1] + s[1]) in everything for s in shape)
        ]
        first = starts[0]
        pattern = tuple((first[0] + s[0], first[1] + s[1]) for s in shape)
        vectors = tuple((p[0] - first[0], p[1] - first[1]) for p in starts)
        found.append(Tec(pattern, vectors))
    return found


def rank(tec: Tec, points: list[Point]) -> tuple[float, float, int, int]:
    """Compression ratio, compactness in time, coverage, pattern size."""
    covered = len(tec.covered)
    ratio = covered / (len(tec.pattern) + len(tec.vectors) - 1)
    low, high = tec.pattern[0][0], tec.pattern[-1][0]
    within = sum(low <= onset <= high for onset, _ in points)
    return ratio, len(tec.pattern) / within, covered, len(tec.pattern)


def cosiatec(points: Iterable[Point], *, smallest: int = 2) -> list[Tec]:
    """The classes that make up the points, best first.

    Parameters
    ----------
    points : iterable of (onset, pitch)
    smallest : int
        Classes with smaller patterns, or with a single occurrence, are left out of the answer
        (they are still used to cover the points).
    """
    left = sorted(set(points))
    out = []
    while len(left) > 1:
        best = max(classes(left), key=lambda tec: rank(tec, left))
        covered = best.covered
        if len(best.vectors) < 2:
            break
        out.append(best)
        left = [point for point in left if point not in covered]
    return [tec for tec in out if len(tec.pattern) >= smallest]
