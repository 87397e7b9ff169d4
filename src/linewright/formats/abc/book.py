"""A text of one or many tunes: cut it at its X: lines and lay one tune out for reading."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Final

from linewright.errors import ReadError, TooLarge
from linewright.formats.abc.text import (
    check_binary,
    check_size,
    lines_of,
    strip_comment,
    unescape,
)

__all__ = ["BookTune", "Field", "Segment", "Tune", "lay_out", "split_book"]

#: Characters one tune may have: a lick is short, and so is a tune.
MAX_TUNE: Final = 400_000

_START: Final = re.compile(r"X:\s*(\d{0,9})")
_SHARED: Final = re.compile(r"[LMUIBSR]:|%%")
_FIELD: Final = re.compile(r"([A-Za-z+]):(.*)", re.DOTALL)
_VOICE_SWITCH: Final = re.compile(r"\[V:\s*([^\]\s]+)[^\]]*\]")
_VOICE_ID: Final = re.compile(r"\s*(\S+)(.*)", re.DOTALL)
_VOICE_NAME: Final = re.compile(r"\b(?:name|nm)\s*=\s*(?:\"([^\"]*)\"|(\S+))")


@dataclass(frozen=True, slots=True)
class BookTune:
    """One tune of a collection, ready to be read alone.

    ``number`` is its X: number (its place in the text where that is missing or shared), ``title`` its
    first T: line, and line n of ``text`` is line ``first_line + n - 1`` of the whole text. What
    the collection's own header sets for all tunes (L:, M:, U:, I:, B:, S:, R:, ``%%``) stands
    before the X: line.
    """

    number: int
    title: str
    text: str
    first_line: int


def split_book(text: str) -> tuple[BookTune, ...]:
    """Cut a text at its X: lines; a text without any is one tune, an empty one none.

    Raises TooLarge and, for binary content, ReadError.
    """
    check_size(len(text))
    check_binary(text)
    lines = lines_of(text.removeprefix("\ufeff"))
    starts = [(i, m) for i, line in enumerate(lines) if (m := _START.match(line)) is not None]
    if not starts:
        if not text.strip():
            return ()
        return (BookTune(1, _title(lines), "\n".join(lines), 1),)
    shared = [line for line in lines[: starts[0][0]] if _SHARED.match(line)]
    tunes = []
    named = [int(match[1]) if match[1] else place for place, (_, match) in enumerate(starts, 1)]
    if len(set(named)) < len(named):  # every tune X:1: only the place tells them apart
        named = list(range(1, len(starts) + 1))
    ends = [i for i, _ in starts[1:]] + [len(lines)]
    for number, (start, _), end in zip(named, starts, ends, strict=True):
        own = lines[start:end]
        tunes.append(
            BookTune(number, _title(own), "\n".join(shared + own), start + 1 - len(shared))
        )
    return tuple(tunes)


def _title(lines: list[str]) -> str:
    for line in lines:
        if line.startswith("T:"):
            return unescape(strip_comment(line[2:])).strip() or "Untitled"
        if line.startswith("K:"):
            break
    return "Untitled"


@dataclass(frozen=True, slots=True)
class Field:
    """An information field: its letter, its value without comment, its line."""

    letter: str
    value: str
    line: int


@dataclass(frozen=True, slots=True)
class Segment:
    """A stretch of music of one voice: text, line, columns before it."""

    text: str
    line: int
    before: int = 0


@dataclass(slots=True)
class Tune:
    """A tune laid out: header fields, body of each voice, directives, remarks on the layout."""

    header: list[Field] = field(default_factory=list)
    voices: dict[str, list[Field | Segment]] = field(default_factory=dict)
    names: dict[str, str] = field(default_factory=dict)
    directives: list[tuple[str, str]] = field(default_factory=list)
    remarks: list[tuple[str, int]] = field(default_factory=list)


def lay_out(text: str, first_line: int) -> Tune:
    """Separate a tune's header from its body, and the body by voice.

    Raises ReadError when there is no K: field and TooLarge past :data:`MAX_TUNE` characters.
    """
    if len(text) > MAX_TUNE:
        raise TooLarge(
            f"one tune has {len(text):,} characters",
            line=first_line,
            accepted=f"Up to {MAX_TUNE:,} are read",
        )
    lines = lines_of(text)
    tune = Tune()
    at = _read_header(tune, lines, first_line)
    _read_body(tune, lines, at, first_line)
    return tune


def _read_header(tune: Tune, lines: list[str], first_line: int) -> int:
    for index, raw in enumerate(lines):
        line = strip_comment(raw).rstrip()
        if raw.startswith("%%"):
            _directive(tune, raw[2:])
        match = _FIELD.match(line)
        if match is None:
            if line:
                tune.remarks.append(("text that is no field was left out", first_line + index))
            continue
        letter, value = match[1], match[2].strip()
        if letter == "+" and tune.header:
            last = tune.header[-1]
            tune.header[-1] = Field(last.letter, f"{last.value} {value}".strip(), last.line)
            continue
        if letter == "V":
            _declare_voice(tune, value)
        elif letter == "I":
            _directive(tune, value)
        tune.header.append(Field(letter, value, first_line + index))
        if letter == "K":
            return index + 1
    raise ReadError(
        "no K: line was found, so this is not an ABC tune",
        line=first_line,
        accepted="A tune starts with X:1, a title T:, a meter M: and ends its header with a key "
        "such as K:G",
    )


def _directive(tune: Tune, text: str) -> None:
    name, _, value = text.strip().replace("=", " ", 1).partition(" ")
    tune.directives.append((name.lower(), value.strip().lower()))


def _declare_voice(tune: Tune, value: str) -> str:
    match = _VOICE_ID.match(value)
    voice = match[1] if match else "1"
    tune.voices.setdefault(voice, [])
    name = _VOICE_NAME.search(value)
    if name is not None:
        tune.names[voice] = name[1] or name[2] or ""
    return voice


def _read_body(tune: Tune, lines: list[str], at: int, first_line: int) -> None:
    common: list[Field | Segment] = []  # fields before the first voice are for all of them
    voice: str | None = None
    skipping = ""
    for index in range(at, len(lines)):
        raw, number = lines[index], first_line + index
        if raw.startswith("%%"):
            name = raw[2:].strip().partition(" ")[0]
            if name.startswith("begin"):
                skipping = "end" + name[5:]
            elif name == skipping:
                skipping = ""
            else:
                _directive(tune, raw[2:])
            continue
        if skipping:
            continue
        line = strip_comment(raw).rstrip()
        if not line:
            if raw.startswith("%"):
                continue  # a comment, not the blank line that ends a tune
            _note_leftover(tune, lines, index, first_line)
            break
        match = _FIELD.match(line)
        if match is not None and not (
            match[1] in "ABCDEFGabcdefgzx" and match[2][:1] in ("|", ":", "]")
        ):
            letter, value = match[1], match[2].strip()
            if letter == "V":
                voice = _declare_voice(tune, value)
                tune.voices[voice].append(Field("V", value, number))
            elif letter == "I":
                _directive(tune, value)
            elif voice is None or letter == "P":  # parts are parts of all voices
                common.append(Field(letter, value, number))
                for body in tune.voices.values():
                    body.append(Field(letter, value, number))
            else:
                tune.voices[voice].append(Field(letter, value, number))
            continue
        voice = _add_music(tune, line, number, voice, common)
    for body in tune.voices.values():
        if not body and common:
            body.extend(common)


def _add_music(
    tune: Tune, line: str, number: int, voice: str | None, common: list[Field | Segment]
) -> str | None:
    at = 0
    for switch in _VOICE_SWITCH.finditer(line) if "[V:" in line else ():
        voice = _add_segment(tune, line[at : switch.start()], number, at, voice, common)
        voice = switch[1]
        tune.voices.setdefault(voice, list(common))
        at = switch.end()
    return _add_segment(tune, line[at:], number, at, voice, common)


def _add_segment(
    tune: Tune,
    text: str,
    number: int,
    before: int,
    voice: str | None,
    common: list[Field | Segment],
) -> str | None:
    if not text.strip():
        return voice
    if voice is None:  # music before any V: belongs to the first voice
        voice = next(iter(tune.voices), "1")
        tune.voices.setdefault(voice, list(common))
    tune.voices[voice].append(Segment(text, number, before))
    return voice


def _note_leftover(tune: Tune, lines: list[str], index: int, first_line: int) -> None:
    for later in range(index + 1, len(lines)):
        if lines[later].strip() and not lines[later].startswith("%"):
            tune.remarks.append(
                (
                    "the tune ends at a blank line: the text after it was left out",
                    first_line + later,
                )
            )
            return
