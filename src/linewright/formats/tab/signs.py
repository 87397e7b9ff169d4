"""The second pass: the signs on one string line become notes with a column."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from linewright.errors import MusicError, ReadError
from linewright.formats.tab.layout import Row
from linewright.fretboard import PARTIALS
from linewright.score import Instrument, Mark

__all__ = ["BarSpan", "Sign", "StringReader"]

_JOINS: Final = {"h": "hammer-on", "t": "hammer-on", "p": "pull-off"}
_STEPS: Final = {
    "1/4": Fraction(1, 2), "1/2": Fraction(1), "3/4": Fraction(3, 2), "1½": Fraction(3),
    "¼": Fraction(1, 2), "½": Fraction(1), "¾": Fraction(3, 2),
}  # fmt: skip
_BEND_RE: Final = re.compile(r"(1/2|1/4|3/4|1½|½|¼|¾)|\((\d{1,2})\)|(\d{1,2})")
_WIDEST_BEND: Final = 7
_SIGNS: Final = "h p / \\ s b r ~ x ( ) < > . * ="


@dataclass(slots=True)
class Sign:
    """A fret, a dead note or a tie at a column of a string line."""

    string: int
    line: int
    column: int
    width: int
    bar: int
    fret: int | None  # None for a tie
    marks: list[Mark] = field(default_factory=list)
    grace: bool = False
    slid_from: Sign | None = None  # a slide that touches only the note before it
    slope: int = 0

    def has(self, name: str) -> bool:
        """Whether the sign carries a mark."""
        return any(mark.name == name for mark in self.marks)


@dataclass(frozen=True, slots=True)
class BarSpan:
    """First column of a bar's content and the column of the line that closes it."""

    start: int
    end: int


class StringReader:
    """Reads the lines of one string, system after system."""

    def __init__(self, string: int, instrument: Instrument) -> None:
        self.string = string
        self.instrument = instrument
        self.signs: list[Sign] = []
        self.remarks: list[str] = []
        self._last: Sign | None = None
        self._pending: tuple[str, int, int] | None = None  # mark, line, column
        self._soft: tuple[Sign, int] | None = None  # a slide not yet known to arrive; its slope

    # -- one line ------------------------------------------------------------------------
    def read(self, row: Row, first_bar: int, cuts: Sequence[int] = ()) -> list[BarSpan]:
        """Read a line; its bars are numbered from ``first_bar`` and also begin at ``cuts``."""
        self._row, self._text = row, self._cut_tail(row)
        self._spans: list[BarSpan] = []
        self._first, self._start = first_bar, row.start
        self._touch, self._ghost = -1, False  # where the last note's token ends
        self._ahead: list[Mark] = []  # marks for the next note
        self._grace = False
        at = row.start
        for cut in (*cuts, len(self._text)):
            while at < min(cut, len(self._text)):
                at = self._step(at)
            if cut in cuts:
                self._spans.append(BarSpan(self._start, cut))
                self._start = cut
        if self._text[self._start :].strip(" :") or len(self._spans) == len(cuts) > 0:
            self._spans.append(BarSpan(self._start, max(self._start, len(self._text))))
        return self._spans

    def finish(self) -> None:
        """Check that nothing is left hanging."""
        if self._pending is not None:
            mark, line, column = self._pending
            raise ReadError(f"a {mark} leads to no fret", line=line, column=column + 1)
        self._settle_slide(None)

    def _cut_tail(self, row: Row) -> str:
        """The line without words after its last bar line, which are reported."""
        text = row.text
        bar = text.rfind("|")
        tail = text[bar + 1 :] if bar >= row.start else text[row.start :]
        at = len(text) - len(tail)
        if bar >= row.start and "-" not in tail and tail.strip(" :*o"):
            cut, words = at, tail.strip()
        else:
            match = re.search(r"\s+[^\s\-|][^|\-]*$", tail)
            if match is None:
                return text
            cut, words = at + match.start(), match[0].strip()
        if re.fullmatch(r"\(?[xX×]\s*\d+\)?|\(?\d+\s*[xX×]\)?", words):
            self.remarks.append(f"Line {row.line}: the repeat {words!r} was taken once.")
        else:
            self.remarks.append(f"Line {row.line}: {words[:40]!r} after the strings was left out.")
        return text[:cut]

    def _error(self, message: str, at: int, accepted: str | None = None) -> ReadError:
        return ReadError(message, line=self._row.line, column=at + 1, accepted=accepted)

    def _peek(self, at: int) -> str:
        return self._text[at] if 0 <= at < len(self._text) else ""

    # -- one sign ------------------------------------------------------------------------
    def _step(self, at: int) -> int:
        sign = self._text[at]
        if sign in "- ":
            return at + 1
        if sign == "|":
            return self._bar_line(at)
        if sign.isdigit() and sign.isascii():
            return self._fret(at)
        lowered = sign.lower()
        if lowered in _JOINS:
            self._pending = (_JOINS[lowered], self._row.line, at)
            return at + 1
        if lowered == "s":
            self._pending = ("slide", self._row.line, at)
            return at + 1
        if lowered in ("/", "\\"):
            return self._slide(at, lowered)
        if lowered in ("b", "^"):
            return self._bend(at)
        handler = {
            "x": self._dead, "r": self._release, "~": self._vibrato, "v": self._vibrato,
            "(": self._paren, ")": self._paren, "<": self._harmonic, ">": self._accent,
            "*": self._star, ".": self._dot, "=": self._tie, "g": self._grace_sign,
            ":": self._repeat, "o": self._repeat,
        }.get(lowered)  # fmt: skip
        if handler is None:
            raise self._error(
                f"{sign!r} is no sign of a tab", at, f"Use frets, - for silence, | and {_SIGNS}"
            )
        return handler(at)

    def _bar_line(self, at: int) -> int:
        if self._text[self._start : at].strip(" :"):
            self._spans.append(BarSpan(self._start, at))
        while self._peek(at) in ("|", ":"):
            at += 1
        self._start = at
        return at

    def _repeat(self, at: int) -> int:
        if "|" not in (self._peek(at - 1), self._peek(at + 1)):
            raise self._error(f"{self._text[at]!r} stands away from a bar line", at)
        return at + 1

    def _fret(self, at: int) -> int:
        end = at + 1
        while self._peek(end).isdigit() and self._peek(end).isascii():
            end += 1
        digits = self._text[at:end]
        if len(digits) > 2 or (len(digits) == 2 and digits[0] == "0"):
            raise self._error(
                f"{digits[:12]!r} is not a fret", at,
                "Digits side by side are one fret number of at most two digits; put - between frets",
            )  # fmt: skip
        self._add(at, end, int(digits))
        return end

    def _add(self, at: int, end: int, fret: int, *marks: Mark) -> Sign:
        try:
            self.instrument.midi_at(self.string, fret)
        except MusicError as error:
            hint = error.accepted
            if fret >= 10:
                digits = " then ".join(str(fret))
                hint = f"{hint}; for {digits} put - between them"
            raise self._error(error.message, at, hint) from error
        sign = Sign(self.string, self._row.line, at, end - at, self._first + len(self._spans), fret)
        if self._pending is not None:
            sign.marks.append(Mark(self._pending[0]))
            self._pending = None
        sign.marks += [*self._ahead, *marks]
        if self._ghost:
            sign.marks.append(Mark("ghost"))
        sign.grace, self._grace = self._grace, False
        self._ahead = []
        self._settle_slide(sign)
        self.signs.append(sign)
        self._last, self._touch = sign, end
        return sign

    def _touching(self, at: int, what: str) -> Sign:
        if self._last is None or self._touch != at:
            raise self._error(f"{what} touches no fret", at, "Write it right after the fret")
        return self._last

    def _starts_note(self, at: int) -> bool:
        return self._peek(at) in tuple("0123456789xX(<")

    def _slide(self, at: int, sign: str) -> int:
        before = self._last is not None and self._touch == at
        after = self._starts_note(at + 1)
        slope = 1 if sign == "/" else -1
        if before and after:
            self._pending = ("slide", self._row.line, at)
        elif before and self._last is not None:
            self._soft = (self._last, slope)
        elif after:
            if self._soft is None:
                down = sign == "\\"
                self._ahead.append(Mark("slide in", Fraction(1 if down else -1)))
        elif self._last is not None:
            self._last.marks.append(Mark("slide out", Fraction(slope)))
        else:
            raise self._error("a slide with no fret before or after it", at)
        return at + 1

    def _settle_slide(self, reached: Sign | None) -> None:
        """A slide that touched only the note before it reaches ``reached`` or trails off."""
        if self._soft is None:
            return
        start, slope = self._soft
        self._soft = None
        if reached is None or any(mark.kind.joins for mark in reached.marks):
            start.marks.append(Mark("slide out", Fraction(slope)))
        else:
            reached.slid_from, reached.slope = start, slope

    def _bend(self, at: int) -> int:
        note = self._touching(at, "a bend")
        match = _BEND_RE.match(self._text, at + 1)
        end = match.end() if match else at + 1
        push = Fraction(2)
        if match and match[1]:
            push = _STEPS[match[1]]
        elif match:
            push = Fraction(int(match[2] or match[3]) - (note.fret or 0))
            if not 0 < push <= _WIDEST_BEND:
                raise self._error(
                    f"a bend from fret {note.fret} cannot sound as fret {match[2] or match[3]}", at,
                    "After b write the fret whose pitch is reached (7b9), ½ for a half step,"
                    " or nothing for a whole step",
                )  # fmt: skip
        note.marks = [mark for mark in note.marks if mark.name != "bend"]
        note.marks.append(Mark("bend", push))
        self._touch = end
        return end

    def _release(self, at: int) -> int:
        if self._last is None or not self._last.has("bend"):
            raise self._error("a release without a bend before it", at)
        if self._starts_note(at + 1):
            self._pending = ("release", self._row.line, at)
        else:
            self._add(at, at + 1, self._last.fret or 0, Mark("release"))
        return at + 1

    def _dead(self, at: int) -> int:
        match = re.compile(r"\d{1,2}").match(self._text, at + 1)
        end = match.end() if match else at + 1
        self._add(at, end, int(match[0]) if match else 0, Mark("dead"))
        return end

    def _vibrato(self, at: int) -> int:
        if self._last is None:
            raise self._error("a vibrato with no fret before it", at)
        touching = self._touch == at
        if not self._last.has("vibrato"):
            self._last.marks.append(Mark("vibrato"))
        while self._peek(at) in ("~", "v", "V"):
            at += 1
        if touching:
            self._touch = at
        return at

    def _paren(self, at: int) -> int:
        if self._text[at] == ")" and self._touch == at:
            self._touch = at + 1
        self._ghost = self._text[at] == "("
        return at + 1

    def _harmonic(self, at: int) -> int:
        match = re.compile(r"<(\d{1,2})>").match(self._text, at)
        if match is None:
            raise self._error("'<' opens no harmonic", at, "Write a harmonic as <12>")
        sign = self._add(at + 1, match.end() - 1, int(match[1]))
        self._mark_harmonic(sign, at)
        self._touch = match.end()
        return match.end()

    def _mark_harmonic(self, sign: Sign, at: int) -> None:
        if sign.fret not in PARTIALS:
            raise self._error(
                f"there is no natural harmonic at fret {sign.fret}", at,
                f"They lie at frets {', '.join(map(str, sorted(PARTIALS)))}",
            )  # fmt: skip
        sign.marks.append(Mark("harmonic"))

    def _accent(self, at: int) -> int:
        if self._last is not None and self._touch == at:
            self._last.marks.append(Mark("accent"))
            self._touch = at + 1
        elif self._starts_note(at + 1):
            self._ahead.append(Mark("accent"))
        else:
            raise self._error("an accent that touches no fret", at)
        return at + 1

    def _star(self, at: int) -> int:
        if self._last is not None and self._touch == at:
            self._mark_harmonic(self._last, at)
            self._touch = at + 1
            return at + 1
        return self._repeat(at)

    def _dot(self, at: int) -> int:
        self._touching(at, "a staccato dot").marks.append(Mark("staccato"))
        self._touch = at + 1
        return at + 1

    def _tie(self, at: int) -> int:
        if self._last is None:
            raise self._error("a tie with no fret before it", at)
        if self._touch != at:
            bar = self._first + len(self._spans)
            self.signs.append(Sign(self.string, self._row.line, at, 1, bar, None))
        while self._peek(at) == "=":
            at += 1
        self._touch = at
        return at

    def _grace_sign(self, at: int) -> int:
        if not self._starts_note(at + 1):
            raise self._error("'g' marks no grace note", at, "Write g right before its fret")
        self._grace = True
        return at + 1
