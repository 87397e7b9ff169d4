"""Which instrument a tab is for: from its header, else from the names before its strings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from linewright.errors import MusicError, ReadError
from linewright.formats.tab.header import read_capo, read_header
from linewright.formats.tab.layout import Row, Sheet
from linewright.fretboard import from_labels, parse_instrument
from linewright.score import Instrument

__all__ = ["find_instrument", "wrong_count"]


class _Finder:
    def __init__(self, sheet: Sheet, usual: Instrument | None) -> None:
        self.sheet, self.usual = sheet, usual
        self.flipped = False
        self.remarks: list[str] = []

    def _value(self, name: str) -> str | None:
        header = self.sheet.headers.get(name)
        return " ".join(header.value.split()) or None if header else None

    def find(self) -> Instrument:
        head = self.sheet.headers
        capo = read_header(head["capo"], read_capo) if "capo" in head else 0
        name, tuning = self._value("instrument"), self._value("tuning")
        rows = self.sheet.runs[0].strings
        if self.usual is not None and name is None and tuning is None:
            return self.usual if "capo" not in head else replace(self.usual, capo=capo)
        culprit = head.get("tuning") or head.get("instrument") or head.get("capo")
        try:
            if tuning is not None:
                found = parse_instrument(name, tuning, capo)
                self._check_labels(found)
            else:
                found = self._by_lines(name, capo, rows)
        except ReadError:
            raise
        except MusicError as error:
            where = (culprit.line, culprit.column) if culprit else (rows[0].line, 1)
            raise ReadError(
                error.message, accepted=error.accepted, line=where[0], column=where[1]
            ) from error
        if "frets" in head:
            text = head["frets"].value
            if not (text.isascii() and text.isdigit() and 1 <= int(text[:4]) <= 36):
                raise ReadError(
                    f"{text[:20]!r} is not a number of frets", line=head["frets"].line,
                    column=head["frets"].column, accepted="Use 1 to 36",
                )  # fmt: skip
            found = replace(found, frets=int(text))
        return found

    def _by_lines(self, name: str | None, capo: int, rows: list[Row]) -> Instrument:
        """The instrument that the header's name and the names of the string lines tell."""
        labels = [row.label for row in rows]
        if name is not None and (labels[0] is None or labels[0].isdigit()):
            return parse_instrument(name, None, capo)
        if labels[0] is None or labels[0].isdigit():
            if len(rows) % 6 and len(rows) in (3, 4, 5, 7, 8):
                raise ReadError(
                    f"{len(rows)} string lines without names could be several instruments",
                    line=rows[0].line,
                    column=1,
                    accepted="Add a line such as Instrument: mandolin, or name the strings",
                )
            return parse_instrument("guitar", None, capo)
        count = len(rows)
        if name is not None:
            usual = parse_instrument(name, None, capo)
            count = len(usual.strings)
            if len(rows) % count:
                try:  # a guitar may have seven strings, a bass five
                    return parse_instrument(name, " ".join(map(str, reversed(labels))), capo)
                except MusicError as error:
                    raise wrong_count(rows, usual) from error
        if name is None and count not in (4, 5, 6, 7):
            count = next((n for n in (6, 4, 5) if count % n == 0), 0)
            if not count:
                raise ReadError(
                    f"this system has {_lines(rows)}", line=rows[0].line, column=1,
                    accepted="Write one line for each string, empty ones too: six for a guitar",
                )  # fmt: skip
        names = [label or "" for label in labels[:count]]
        if not all(names):
            missing = names.index("")
            raise ReadError(
                "this string line has no name", line=rows[missing].line, column=1,
                accepted="Name all the strings or none",
            )  # fmt: skip
        found, self.flipped = from_labels(names, name, capo)
        if self.flipped:
            self.remarks.append("The string lines run from low to high; they were turned over.")
        return found

    def _check_labels(self, found: Instrument) -> None:
        labels = [row.label for row in self.sheet.runs[0].strings[: len(found.strings)]]
        letters = [(label or "")[:1].upper() for label in labels]
        wanted = [pitch.step for pitch in found.strings]
        if all(letter.isalpha() for letter in letters) and letters != wanted:
            if letters == wanted[::-1]:
                self.flipped = True
                self.remarks.append("The string lines run from low to high; they were turned over.")
            else:
                self.remarks.append(
                    "The names before the string lines differ from the Tuning line, which was used."
                )


def _lines(rows: Sequence[Row]) -> str:
    return f"{len(rows)} string line{'' if len(rows) == 1 else 's'}"


def wrong_count(rows: Sequence[Row], instrument: Instrument) -> ReadError:
    """The error for a system whose lines are not as many as the strings."""
    kind, count = instrument.name, len(instrument.strings)
    return ReadError(
        f"this system has {_lines(rows)}; a {kind} has {count} strings",
        line=rows[0].line,
        column=1,
        accepted="Write one line for each string, empty ones too, or name the instrument"
        " in a line such as Instrument: mandolin",
    )


def find_instrument(
    sheet: Sheet, usual: Instrument | None = None
) -> tuple[Instrument, bool, list[str]]:
    """The instrument, whether the string lines run from low to high, and remarks.

    ``usual`` is taken when the header names neither instrument nor tuning.
    """
    finder = _Finder(sheet, usual)
    return finder.find(), finder.flipped, finder.remarks
