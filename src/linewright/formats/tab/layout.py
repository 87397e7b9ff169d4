"""The first pass over a tab: which line is a header, a chord row, strings or a counting row."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Final

from linewright.errors import MusicError, ReadError, TooLarge
from linewright.formats.tab.counting import is_counting
from linewright.theory import ChordSymbol
from linewright.theory.chords import NO_CHORD

__all__ = ["LIMIT", "Header", "Row", "Run", "Sheet", "chord_words", "lay_out"]

#: Largest text that is read, in bytes.
LIMIT: Final = 1_000_000
_LONGEST_LINE: Final = 10_000

#: Header words as written -> the name used here.
HEADERS: Final[dict[str, str]] = {
    "title": "title", "tempo": "tempo", "meter": "meter", "metre": "meter", "time": "meter",
    "time signature": "meter", "key": "key", "instrument": "instrument", "tuning": "tuning",
    "capo": "capo", "style": "style", "source": "source", "swing": "swing", "tags": "tags",
    "pickup": "pickup", "count": "count", "frets": "frets", "bar length": "bar length",
}  # fmt: skip
#: Headers that may stand between systems and hold from the next system on.
MOVABLE: Final = frozenset({"meter", "key", "bar length", "count"})

_HEADER_RE: Final = re.compile(r"\s*([A-Za-z][A-Za-z ]{0,20}?)\s*:\s*(.*?)\s*")
_LABEL_RE: Final = re.compile(
    r"(\s*)(?:([A-Ga-g](?:##|#|♯|bb|b|♭)?\d?)(?=\s*[|:\-])|(\d{1,2})(?=[|:]))?\s*"
)
_BODY_START: Final = frozenset("|:-0123456789(<xX/\\=")
_TAB_SIGNS: Final = frozenset("0123456789-|:hpbrstvxgoHPBRSTVX/\\~^()<>*=. ½¼¾")
_DASHES: Final = str.maketrans({"–": "-", "—": "-", "―": "-", "−": "-", "‐": "-", "‑": "-",
                                "_": "-", "¦": "|", "│": "|", "\xa0": " ", "’": "'"})  # fmt: skip
_TECHNIQUE_RE: Final = re.compile(r"\b(?:p\.?m\.?|let ring|l\.?r\.?)", re.IGNORECASE)
_STROKE_SIGNS: Final = frozenset("dDuUnvV↓↑⊓П")
_CHORD_FILL: Final = frozenset({"|", "||", "%", "/", ":", "|:", ":|", "-"})


@dataclass(frozen=True, slots=True)
class Header:
    """A ``Key: value`` line."""

    name: str
    value: str
    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the text; for a string line also its name and where its body begins."""

    line: int
    text: str
    label: str | None = None
    start: int = 0


@dataclass(slots=True)
class Run:
    """String lines that follow one another, with the rows that belong to them."""

    strings: list[Row]
    headers: list[Header] = field(default_factory=list)
    chords: Row | None = None
    count: Row | None = None
    techniques: list[Row] = field(default_factory=list)


@dataclass(slots=True)
class Sheet:
    """A tab taken apart into rows."""

    headers: dict[str, Header] = field(default_factory=dict)
    runs: list[Run] = field(default_factory=list)
    title: str | None = None
    remarks: list[str] = field(default_factory=list)


def lay_out(text: str) -> Sheet:
    """Take a tab apart; raises ReadError or TooLarge."""
    if len(text) > LIMIT or len(text.encode("utf-8", "replace")) > LIMIT:
        raise TooLarge("the tab is larger than 1 MB", accepted="Give one lick at a time")
    sheet = Sheet()
    above: list[Row | Header] = []  # rows not yet claimed by a system
    in_run = False
    for number, raw in enumerate(re.split(r"\r\n|\n|\r", text.removeprefix("\ufeff")), start=1):
        _check_line(raw, number)
        line = raw.translate(_DASHES).expandtabs(8).rstrip()
        row = _string_row(line, number)
        if row is not None:
            if not in_run:
                _open_run(sheet, above, row)
                above = []
            else:
                sheet.runs[-1].strings.append(row)
            in_run = True
            continue
        in_run = False
        if line.strip():
            above.append(_header(line, raw, number) or Row(number, line))
    _claim(sheet, above, None)
    if not sheet.runs:
        raise ReadError(
            "there are no string lines in this text",
            accepted="Write one line for each string, as in e|--0-3--|",
        )
    return sheet


def _check_line(raw: str, number: int) -> None:
    if len(raw) > _LONGEST_LINE:
        raise TooLarge(
            f"a line of {len(raw)} characters",
            line=number,
            accepted=f"Break the tab into systems; a line may have {_LONGEST_LINE}",
        )
    for column, sign in enumerate(raw, start=1):
        if (sign < " " and sign not in "\t\x0c\x0b") or sign == "\x7f":
            raise ReadError(
                "this is not plain text", line=number, column=column, accepted="Give a text tab"
            )


def _string_row(line: str, number: int) -> Row | None:
    match = _LABEL_RE.match(line)
    start = match.end() if match else 0
    body = line[start:]
    if not body or body[0] not in _BODY_START:
        return None
    label = (match[2] or match[3]) if match else None
    letters = [sign for sign in body if sign != " "]
    strong = sum(sign in "-|0123456789" for sign in letters) * 5 >= len(letters) * 3
    plain = set(body) <= _TAB_SIGNS
    named = label is not None and body[0] in "|:" and ("-" in body or plain)
    if "--" in body or named:
        if not (strong or (named and plain)):
            return None
    elif (
        not plain
        or not ({"|", "-"} & set(body))
        or not set(body) & set("-0123456789")
        or ("-" not in body and is_counting(line))
    ):
        return None
    return Row(number, line, label, start)


def _header(line: str, raw: str, number: int) -> Header | None:
    match = _HEADER_RE.fullmatch(line)
    if match is None:
        return None
    name = HEADERS.get(match[1].lower())
    if name is None or (name == "count" and is_counting(match[2])):
        return None
    value = raw.partition(":")[2].strip()
    return Header(name, value, number, match.start(2) + 1)


def chord_words(row: Row) -> list[tuple[int, str]] | None:
    """(column, text) of each chord of a chord row; None when the row is something else."""
    words = [(m.start(), m[0]) for m in re.finditer(r"[^\s|]+", row.text)]
    words = [(at, word) for at, word in words if word not in _CHORD_FILL]
    good = sum(_is_chord(word) for _, word in words)
    if not good or good * 2 < len(words):
        return None
    for at, word in words:
        if not _is_chord(word):
            raise ReadError(
                f"{word[:20]!r} in the chord row is not a chord symbol Linewright knows",
                accepted="Write it as G, Em, A7, Cmaj7, Bm7b5, F#dim, C/E or N.C.",
                line=row.line,
                column=at + 1,
            )
    return words


def is_technique(text: str) -> bool:
    """Whether a row holds nothing but picking strokes, or nothing but P.M. and let ring signs.

    A row of D alone is a row of D chords.
    """
    words = text.split()
    if not _TECHNIQUE_RE.sub("", text).strip(" |-"):
        return True
    return set(words) <= _STROKE_SIGNS and set(words) != {"D"}


def _is_chord(word: str) -> bool:
    if word in NO_CHORD:
        return True
    try:
        ChordSymbol.parse(word)
    except MusicError:
        return False
    return True


def _open_run(sheet: Sheet, above: list[Row | Header], first: Row) -> None:
    run = Run([first])
    _claim(sheet, above, run)
    sheet.runs.append(run)


def _claim(sheet: Sheet, rows: list[Row | Header], run: Run | None) -> None:
    """Hand rows between two systems to the one above (``sheet.runs[-1]``) or below (``run``)."""
    before = sheet.runs[-1] if sheet.runs else None
    texts: list[Row] = []
    for row in rows:
        if isinstance(row, Header):
            _take_header(sheet, row, run)
            continue
        count = _counting_row(row) if before or run else None
        if count is not None:
            _take_count(count, before, run)
        elif run is not None and is_technique(row.text):
            run.techniques.append(row)
        elif chord_words(row) is not None and run is not None:
            if run.chords is not None:
                texts.append(run.chords)
            run.chords = row
        else:
            texts.append(row)
    for row in texts:
        words = " ".join(row.text.split())
        if before is None and sheet.title is None and "title" not in sheet.headers:
            sheet.title = words[:200]
            sheet.remarks.append(f"Line {row.line} was taken as the title.")
        else:
            sheet.remarks.append(f"Line {row.line} was left out: {words[:60]!r}.")


def _counting_row(row: Row) -> Row | None:
    """The row if it is a counting row, its ``Count:`` label blanked."""
    head, colon, rest = row.text.partition(":")
    if colon and head.strip().lower() == "count" and is_counting(rest):
        return Row(row.line, " " * (len(head) + 1) + rest)
    return row if is_counting(row.text) else None


def _take_header(sheet: Sheet, header: Header, run: Run | None) -> None:
    if not sheet.runs:
        if header.name in sheet.headers:
            raise ReadError(
                f"{header.name.capitalize()} is given twice", line=header.line, column=1,
                accepted="Keep one of the two lines",
            )  # fmt: skip
        sheet.headers[header.name] = header
    elif header.name in MOVABLE and run is not None:
        run.headers.append(header)
    else:
        raise ReadError(
            f"{header.name.capitalize()} stands below the first strings",
            line=header.line,
            column=1,
            accepted=f"Only {', '.join(sorted(MOVABLE))} may change between systems;"
            " put the others on top",
        )


def _take_count(row: Row, before: Run | None, run: Run | None) -> None:
    """A counting row belongs to the nearer of the systems above and below it that has none; to
    the one above when both are equally near.
    """
    free = [
        (abs(row.line - edge), system)
        for system, edge in (
            (before, before.strings[-1].line if before else 0),
            (run, run.strings[0].line if run else 0),
        )
        if system is not None and system.count is None
    ]
    if free:
        min(free, key=lambda pair: pair[0])[1].count = row
    else:
        raise ReadError(
            "a second counting row for the same strings", line=row.line, column=1,
            accepted="Give one counting row to a system, below or above its strings",
        )  # fmt: skip
