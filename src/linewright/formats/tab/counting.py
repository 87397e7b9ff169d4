"""The counting row: what a teacher says aloud, and the moments it names.

A number is a beat; ``&`` (or ``+``) halves it, ``e`` and ``a`` halve the halves; ``la li`` or
``trip let`` are its thirds and ``ta`` the half of a third (1 ta la ta li ta). A count in
parentheses is a rest. The syllables are those of American counting (common practice; the
la-li-ta syllables after McHose and Tibbs 1944).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from linewright.errors import ReadError
from linewright.score import Meter

__all__ = ["COUNT_WORDS", "Count", "count_unit", "is_counting", "read_counts", "timed"]

_TOKEN_RE: Final = re.compile(
    r"(?P<number>\d+)|(?P<part>trip|tri|plet|let|and|la|li|ta|te|[e&+a])|(?P<open>\()|(?P<close>\))"
    r"|(?P<fill>[\s|:.,\-]+)"
)
_PLAIN: Final = {
    "trip": "la", "tri": "la", "let": "li", "plet": "li", "and": "&", "+": "&", "te": "&",
}  # fmt: skip
#: Where each syllable stands in its beat.
_PARTS: Final[dict[str, Fraction]] = {
    "": Fraction(0), "e": Fraction(1, 4), "&": Fraction(1, 2), "a": Fraction(3, 4),
    "la": Fraction(1, 3), "li": Fraction(2, 3),
}  # fmt: skip
#: What ``ta`` means after each syllable.
_TA: Final = {"": Fraction(1, 6), "la": Fraction(1, 2), "li": Fraction(5, 6)}
#: Values of the ``Count`` header that fix the unit of the numbers, in quarters.
COUNT_WORDS: Final[dict[str, Fraction | None]] = {
    "beats": None, "straight": None, "triplets": None, "halves": Fraction(2),
    "quarters": Fraction(1), "eighths": Fraction(1, 2), "sixteenths": Fraction(1, 4),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Count:
    """One count: its column span, the beat ``number`` it belongs to, its ``part`` of the beat,
    whether it is a ``rest``, and once timed its ``offset`` into the full bar in quarters.
    """

    column: int
    width: int
    number: int
    part: str
    rest: bool
    offset: Fraction = Fraction(0)


def is_counting(text: str) -> bool:
    """Whether a line holds counts and nothing else, with at least one number."""
    at, numbers = 0, 0
    while at < len(text):
        match = _TOKEN_RE.match(text, at)
        if match is None:
            return False
        numbers += match["number"] is not None
        at = match.end()
    return numbers > 0


def read_counts(text: str, highest: int) -> list[Count]:
    """The counts of a row in order; ``highest`` is the largest number the meter can reach."""
    counts: list[Count] = []
    number, opened = 0, -1  # number 0: syllables before any number, as in a pickup's lone &
    for match in _TOKEN_RE.finditer(text):
        at = match.start()
        inside = opened >= 0
        if match["open"]:
            opened = at
        elif match["close"]:
            if inside and counts and counts[-1].column >= opened:
                last = counts[-1]
                counts[-1] = replace(last, width=at + 1 - last.column)
            opened = -1
        elif match["number"]:
            for column, digits in _numbers(match[0], at, highest):
                number = int(digits[:4])
                first = column - 1 if opened == column - 1 else column  # the parenthesis counts
                counts.append(Count(first, column - first + len(digits), number, "", inside))
        elif match["part"]:
            part = _PLAIN.get(match[0], match[0])
            first = at - 1 if opened == at - 1 else at
            counts.append(Count(first, at - first + len(match[0]), number, part, inside))
    return counts


def _numbers(digits: str, at: int, highest: int) -> list[tuple[int, str]]:
    """A run of digits is one number, or, when no bar counts so far, one number a digit."""
    if len(digits) == 1 or int(digits[:4]) <= highest or "0" in digits:
        return [(at, digits)]
    return [(at + index, digit) for index, digit in enumerate(digits)]


def count_unit(meter: Meter, highest: int, word: str) -> Fraction:
    """What one number counts, in quarters, from the highest number seen in bars of this meter.

    Numbers count the beats the meter names (quarters of 4/4, eighths of 7/8). In a compound
    meter they count the dotted beats unless they go past them (1 2 3 4 5 6), and in 2/2 the
    halves unless they go past them.
    """
    fixed = COUNT_WORDS.get(word)
    if fixed is not None:
        return fixed
    if meter.is_compound:
        return meter.beat if highest <= len(meter.beats) else Fraction(4, meter.denominator)
    if meter.denominator <= 2 and highest > meter.numerator:
        return Fraction(1)
    return Fraction(4, meter.denominator)


def timed(
    counts: Sequence[Count],
    meter: Meter,
    unit: Fraction,
    word: str,
    *,
    line: int,
    end: int,
    length: Fraction,
    is_first: bool,
) -> tuple[list[Count], bool]:
    """The counts of one bar with their offsets, and whether a ``1 & a`` was read as a triplet.

    ``end`` is the column of the closing bar line, ``length`` the offset at which the bar ends;
    in the first bar a syllable may come before any number. Raises ReadError for a count
    past the bar or one that goes back.
    """
    counts = _led(counts, meter, unit, first=is_first, line=line)
    done: list[Count] = []
    triplet_read = False
    for first, last in _beats(counts):
        beat = counts[first:last]
        next_column = counts[last].column if last < len(counts) else end
        thirds = _in_thirds(beat, meter, unit, word, next_column, last == len(counts))
        triplet_read |= thirds and not (meter.is_compound and unit == meter.beat)
        before = ""
        for count in beat:
            if count.part == "ta":
                inside = _TA.get(before)
                if inside is None:
                    raise _odd_count(count, line)
            elif thirds and count.part in ("&", "a"):
                inside = Fraction(1, 3) if count.part == "&" else Fraction(2, 3)
            else:
                inside = _PARTS[count.part]
                before = count.part
            offset = (count.number - 1 + inside) * unit
            if not 0 <= offset < length:
                raise ReadError(
                    f"count {count.number} is past the end of a {meter} bar",
                    line=line,
                    column=count.column + 1,
                    accepted="A bar line may be missing before it, or the meter is another",
                )
            if done and offset <= done[-1].offset:
                raise ReadError(
                    "the count goes back inside a bar"
                    if offset < done[-1].offset
                    else "the same count stands twice in a bar",
                    line=line,
                    column=count.column + 1,
                    accepted="A bar line may be missing before it",
                )
            done.append(replace(count, offset=offset))
    return done, triplet_read


def _led(
    counts: Sequence[Count], meter: Meter, unit: Fraction, *, first: bool, line: int
) -> list[Count]:
    """Give syllables that open a bar the beat they belong to: the one before the number that
    follows, or in a pickup the last of the bar.
    """
    done = list(counts)
    if not done or done[0].part == "":
        return done
    numbers = [count.number for count in done if count.part == ""]
    lead = numbers[0] - 1 if numbers else int(meter.length / unit) if first else 0
    if lead < 1:
        raise ReadError(
            f"{done[0].part!r} opens a bar without a number",
            line=line,
            column=done[0].column + 1,
            accepted="Begin each bar with a beat, as in 1 & 2 &",
        )
    for index, count in enumerate(done):
        if count.part == "":
            break
        done[index] = replace(count, number=lead)
    return done


def _beats(counts: Sequence[Count]) -> list[tuple[int, int]]:
    """Index ranges of the counts that share a beat."""
    edges = [i for i, count in enumerate(counts) if not i or count.part == ""]
    return list(zip(edges, [*edges[1:], len(counts)], strict=True))


def _in_thirds(
    beat: Sequence[Count], meter: Meter, unit: Fraction, word: str, following: int, at_end: bool
) -> bool:
    """Whether ``&`` and ``a`` are the thirds of this beat (see docs/tab.md, Triplets)."""
    parts = [count.part for count in beat]
    if "a" not in parts or "e" in parts:
        return meter.is_compound and unit == meter.beat and "&" in parts and "e" not in parts
    if meter.is_compound and unit == meter.beat:
        return True
    if word == "triplets":
        return True
    if word == "straight" or parts != ["", "&", "a"]:
        return False
    gap = beat[1].column - beat[0].column
    last = following - beat[2].column
    return beat[2].column - beat[1].column == gap and abs(last - gap) <= (1 if at_end else 0)


def _odd_count(count: Count, line: int) -> ReadError:
    return ReadError(
        "'ta' has no place here", line=line, column=count.column + 1,
        accepted="'ta' halves the thirds of a beat: 1 ta la ta li ta",
    )  # fmt: skip
