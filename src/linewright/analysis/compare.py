"""Two licks side by side: what they share and where they differ."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from linewright.analysis.model import Analysis
from linewright.analysis.prose import article, frame_words, join_words
from linewright.analysis.rhythm import is_syncopated

__all__ = ["Comparison", "Point", "compare"]


@dataclass(frozen=True, slots=True)
class Point:
    """One respect in which two licks are compared.

    ``topic`` is ``frame``, ``outside``, ``figures``, ``motion``, ``rhythm``, ``chords`` or
    ``instrument``; ``same`` whether they agree in it; ``sentence`` says how.
    """

    topic: str
    same: bool
    sentence: str


@dataclass(frozen=True)
class Comparison:
    """Everything compared between a first and a second lick."""

    first: str
    second: str
    points: tuple[Point, ...]

    @property
    def shared(self) -> tuple[Point, ...]:
        """What the licks have in common."""
        return tuple(point for point in self.points if point.same)

    @property
    def different(self) -> tuple[Point, ...]:
        """Where they differ."""
        return tuple(point for point in self.points if not point.same)

    def to_dict(self) -> dict[str, Any]:
        """As JSON values."""

        def listed(points: tuple[Point, ...]) -> list[dict[str, str]]:
            return [{"topic": p.topic, "sentence": p.sentence} for p in points]

        return {
            "first": self.first,
            "second": self.second,
            "shared": listed(self.shared),
            "different": listed(self.different),
        }

    def text(self) -> str:
        """In words, what is shared first."""
        lines = [f"{self.first} and {self.second}"]
        for heading, points in (("Both", self.shared), ("Where they differ", self.different)):
            if points:
                lines += ["", heading, *(f"  {point.sentence}" for point in points)]
        return "\n".join(lines) + "\n"


def compare(one: Analysis, two: Analysis) -> Comparison:
    """Compare two analyses topic by topic; titles are told apart when they are equal."""
    first, second = one.lick.title, two.lick.title
    if first == second:
        first, second = f"{first} (first)", f"{second} (second)"
    tests: tuple[Callable[[Analysis, Analysis, str, str], list[Point]], ...] = (
        _frame,
        _outside,
        _figures,
        _motion,
        _rhythm,
        _chords,
        _instrument,
    )
    points = [point for test in tests for point in test(one, two, first, second)]
    return Comparison(first, second, tuple(points))


def _frame(one: Analysis, two: Analysis, first: str, second: str) -> list[Point]:
    points = []
    if one.frame is None or two.frame is None:
        if one.frame is two.frame:
            return [Point("frame", True, "No plain scale or arpeggio fits either.")]
        return [
            Point(
                "frame", False, f"{first} hangs on {one.frame_name}, {second} on {two.frame_name}."
            )
        ]
    if one.frame == two.frame:
        points.append(Point("frame", True, f"Both hang on {frame_words(one.frame)}."))
    elif one.frame.collection == two.frame.collection:
        name = one.frame.collection.name
        points.append(
            Point(
                "frame",
                True,
                f"Both hang on {article(name)} {name}, on {one.tonic} and on {two.tonic}.",
            )
        )
    else:
        mine, theirs = (
            {d.name for d in a.frame.collection.degrees} for a in (one, two) if a.frame is not None
        )
        only = []
        if mine - theirs:
            only.append(f"only the first has {join_words(_ordered(mine - theirs))}")
        if theirs - mine:
            only.append(f"only the second has {join_words(_ordered(theirs - mine))}")
        points.append(
            Point(
                "frame",
                False,
                f"{first} hangs on {frame_words(one.frame)}, {second} on {frame_words(two.frame)}:"
                f" {'; '.join(only)}.",
            )
        )
    if one.colour == two.colour and one.colour is not None:
        points.append(Point("frame", True, f"Both take the {one.colour.name} colour."))
    return points


def _ordered(names: set[str]) -> list[str]:
    return sorted(names, key=lambda name: (int(name.lstrip("b#")), name))


def _outside(one: Analysis, two: Analysis, first: str, second: str) -> list[Point]:
    mine, theirs = ({(n.degree.name, n.function) for n in a.outside_notes} for a in (one, two))
    if one.frame is None or two.frame is None:
        return []  # nothing to be outside of
    if not mine and not theirs:
        return [Point("outside", True, "Neither leaves its frame.")]
    points = []
    for degree, function in sorted(mine & theirs):
        points.append(Point("outside", True, f"Both use the {degree} as {_a(function)}."))
    mine, theirs = mine - theirs, theirs - mine
    in_both = sorted({degree for degree, _ in mine} & {degree for degree, _ in theirs})
    for degree in in_both:
        ways = [
            f"{title} as {join_words(_a(f) for d, f in sorted(own) if d == degree)}"
            for title, own in ((first, mine), (second, theirs))
        ]
        sentence = f"The {degree} is used in two ways: in {ways[0]}, in {ways[1]}."
        points.append(Point("outside", False, sentence))
    for title, own in ((first, mine), (second, theirs)):
        said = _uses({(degree, function) for degree, function in own if degree not in in_both})
        if said:
            points.append(Point("outside", False, f"Only {title} uses {said}."))
    return points


def _uses(pairs: set[tuple[str, str]]) -> str:
    """``the b6 and b7 as passing notes and the #4 as a borrowed chord tone``."""
    by_function: dict[str, list[str]] = {}
    for degree, function in sorted(pairs):
        by_function.setdefault(function, []).append(degree)
    return join_words(
        f"the {join_words(degrees)} as {_a(function) if len(degrees) == 1 else _many(function)}"
        for function, degrees in by_function.items()
    )


def _many(function: str) -> str:
    return {"passing": "passing notes", "approach": "approaches"}.get(function, f"{function}s")


def _a(function: str) -> str:
    if function == "passing":
        return "a passing note"
    return f"{'an' if function[0] in 'aeiou' else 'a'} {function}"


def _figures(one: Analysis, two: Analysis, first: str, second: str) -> list[Point]:
    mine, theirs = (Counter(f.kind for f in a.figures) for a in (one, two))
    if not mine and not theirs:
        return [Point("figures", True, "In neither does a figure recur.")]
    points = []
    for kind in sorted(set(mine) & set(theirs)):
        ideas = [next(f.loose.words for f in a.figures if f.kind == kind) for a in (one, two)]
        if ideas[0] == ideas[1]:
            points.append(Point("figures", True, f"Both have the same {kind}: {ideas[0]}."))
        else:
            points.append(
                Point(
                    "figures",
                    True,
                    f"Both have {_a(kind)}: the one {ideas[0]}; the other {ideas[1]}.",
                )
            )
    for title, own, other in ((first, mine, theirs), (second, theirs, mine)):
        only = [_a(kind) for kind in sorted(set(own) - set(other))]
        if only:
            points.append(Point("figures", False, f"Only {title} has {join_words(only)}."))
    return points


def _motion(one: Analysis, two: Analysis, first: str, second: str) -> list[Point]:
    def main(analysis: Analysis) -> str:
        moves = analysis.motion
        shares = {"steps": moves.steps, "skips": moves.skips, "leaps": moves.leaps}
        return max(shares, key=lambda name: shares[name])

    points = []
    mine, theirs = main(one), main(two)
    if mine == theirs:
        points.append(Point("motion", True, f"Both move mostly by {mine}."))
    else:
        points.append(
            Point("motion", False, f"{first} moves mostly by {mine}, {second} by {theirs}.")
        )
    ends = (one.motion.last, two.motion.last)
    if ends[0] is not None and ends[0] == ends[1]:
        points.append(Point("motion", True, f"Both end on {_degree(ends[0])}."))
    elif None not in ends:
        points.append(
            Point(
                "motion",
                False,
                f"{first} ends on {_degree(str(ends[0]))}, {second} on {_degree(str(ends[1]))}.",
            )
        )
    return points


def _degree(name: str) -> str:
    return f"the {name}" if name[-1:].isdigit() else name


def _rhythm(one: Analysis, two: Analysis, first: str, second: str) -> list[Point]:
    points = []
    meters = one.lick.meter, two.lick.meter
    if meters[0] == meters[1]:
        points.append(Point("rhythm", True, f"Both are in {meters[0]}."))
    else:
        points.append(
            Point("rhythm", False, f"{first} is in {meters[0]}, {second} in {meters[1]}.")
        )
    streams = one.rhythm.is_stream, two.rhythm.is_stream
    if all(streams):
        points.append(Point("rhythm", True, "Both are a steady stream."))
    elif any(streams):
        title = first if streams[0] else second
        points.append(Point("rhythm", False, f"Only {title} is a steady stream."))
    density = one.rhythm.density, two.rhythm.density
    if max(density) >= 1.25 * min(density):
        busier = first if density[0] > density[1] else second
        points.append(
            Point(
                "rhythm",
                False,
                f"{busier} is busier: {max(density):.1f} notes a beat against {min(density):.1f}.",
            )
        )
    syncopated = [is_syncopated(a.lick) for a in (one, two)]
    if all(syncopated):
        points.append(Point("rhythm", True, "Both are syncopated."))
    elif any(syncopated):
        points.append(
            Point("rhythm", False, f"Only {first if syncopated[0] else second} is syncopated.")
        )
    return points


def _chords(one: Analysis, two: Analysis, first: str, second: str) -> list[Point]:
    shares = one.harmony.strong_chord_tones, two.harmony.strong_chord_tones
    if shares[0] is None or shares[1] is None:
        return []
    said = [f"{round(share * 100)} %" for share in shares if share is not None]
    if abs(shares[0] - shares[1]) < 0.15:
        return [
            Point(
                "chords",
                True,
                f"Both keep {'equally' if said[0] == said[1] else 'about equally'} close to the"
                f" chords on strong beats ({join_words(dict.fromkeys(said))}).",
            )
        ]
    closer = first if shares[0] > shares[1] else second
    said = sorted(said, key=lambda share: -int(share.split()[0]))
    return [
        Point(
            "chords",
            False,
            f"{closer} keeps closer to the chords on strong beats ({said[0]} against {said[1]}).",
        )
    ]


def _instrument(one: Analysis, two: Analysis, first: str, second: str) -> list[Point]:
    mine, theirs = one.lick.instrument, two.lick.instrument
    if mine is None or theirs is None or mine == theirs:
        return []
    if mine.name == theirs.name:
        return [
            Point(
                "instrument",
                False,
                f"Both are for {mine.name}, in {mine.tuning} and in {theirs.tuning} tuning.",
            )
        ]
    return [Point("instrument", False, f"{first} is for {mine.name}, {second} for {theirs.name}.")]
