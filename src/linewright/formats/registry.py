"""Every format Linewright reads or writes, in one table; what a file is; one way in and one out.

Each format's module is imported when it is used, so that asking what exists costs nothing.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Final, Literal

from linewright.errors import InputError, OptionError, ReadError
from linewright.formats.limits import check_size
from linewright.formats.sounding import octave_lower, on_instrument
from linewright.score import Instrument, Lick

__all__ = [
    "FORMATS",
    "Format",
    "Imported",
    "ReadOptions",
    "find_format",
    "read_all_bytes",
    "read_bytes",
    "sniff",
    "write_bytes",
]


@dataclass(frozen=True, slots=True)
class Format:
    """A file format: ``name`` for options, ``label`` for people, ``extensions`` with their dot
    (the first is the one written), ``media_type``, and which ways it goes.
    """

    name: str
    label: str
    extensions: tuple[str, ...]
    media_type: str
    can_read: bool = True
    can_write: bool = True


#: Formats by name, in the order documentation lists them.
FORMATS: Final[dict[str, Format]] = {
    form.name: form
    for form in (
        Format("tab", "text tab", (".tab", ".txt"), "text/plain"),
        Format("abc", "ABC", (".abc",), "text/vnd.abc"),
        Format(
            "musicxml", "MusicXML", (".musicxml", ".xml"), "application/vnd.recordare.musicxml+xml"
        ),
        Format("mxl", "compressed MusicXML", (".mxl",), "application/vnd.recordare.musicxml"),
        Format("midi", "MIDI", (".mid", ".midi"), "audio/midi"),
        Format("json", "Linewright JSON", (".json",), "application/json"),
        Format("mei", "MEI", (".mei",), "application/mei+xml", can_read=False),
    )
}


@dataclass(frozen=True, slots=True)
class ReadOptions:
    """Choices for reading; each format takes those that mean something in it.

    Parameters
    ----------
    tune : int, optional
        Which tune of a book: its reference number (X: in ABC).
    part, voice : str, optional
        Which part and voice of a score.
    track : int, optional
        Which track of a MIDI file, counted from 1.
    grid : str, optional
        The grid to quantise a MIDI file to, when the reader's own choice is wrong.
    bars : tuple of (int, int), optional
        First and last bar to keep, by number.
    repeats : {"once", "play"}
        ``once`` reads repeated bars once, with the last of several endings; ``play`` writes them out as played.
    instrument : Instrument, optional
        Instrument and tuning, whatever the file says.
    octave : {"written", "guitar"}
        ``written`` takes the notes of ABC and MusicXML to sound as they are written; ``guitar``
        an octave lower, as guitar music in the treble clef does (common practice).
    """

    tune: int | None = None
    part: str | None = None
    voice: str | None = None
    track: int | None = None
    grid: str | None = None
    bars: tuple[int, int] | None = None
    repeats: Literal["once", "play"] = "once"
    instrument: Instrument | None = None
    octave: Literal["written", "guitar"] = "written"


@dataclass(frozen=True, slots=True)
class Imported:
    """One tune out of a file: its ``number`` in the file, ``title``, and a ``lick`` or an ``error``."""

    number: int
    title: str
    lick: Lick | None = None
    error: InputError | None = None


# -- what a file is ----------------------------------------------------------------------
_STRING_LINE_RE: Final = re.compile(
    r"^[A-Ga-g]?[#b♯♭]?\d? ?[|:\]}]?[-|\dxhpbrsSt/\\~()<>^*=. ]*-[-|]"
)
_NAMED_STRING_RE: Final = re.compile(r"^[ \t]*[A-Ga-g][#b♯♭]?\d?[ \t]*\|.*-", re.MULTILINE)
_ABC_FIELD_RE: Final = re.compile(r"^(X:\s*\d|K:)", re.MULTILINE)
_READABLE: Final = "Linewright reads " + ", ".join(
    f"{form.label} ({' '.join(form.extensions)})" for form in FORMATS.values() if form.can_read
)

#: Endings of recordings, which are read elsewhere.
_SOUND: Final = (".wav", ".flac", ".mp3", ".m4a", ".ogg", ".opus", ".webm")


def find_format(name: str) -> Format:
    """A format by its name, or by an extension with or without the dot; raises OptionError."""
    wanted = name.strip().lower()
    for form in FORMATS.values():
        if wanted == form.name or f".{wanted.lstrip('.')}" in form.extensions:
            return form
    raise OptionError(
        f"no format is called {name!r:.60}", accepted=f"Use one of {', '.join(FORMATS)}"
    )


def sniff(data: bytes, filename: str | None = None) -> Format:
    """What a file is: by its content first, then by its extension.

    Raises ReadError listing what is accepted when it is none of the formats that are read.
    """
    check_size(data)
    form = _by_content(data) or _by_extension(filename)
    if form is None:
        also = ""
        if (filename or "").lower().endswith(_SOUND):
            also = ". A recording is brought to a step of a practice plan, as a take"
        raise ReadError("this is in no format Linewright knows", accepted=_READABLE + also)
    if not form.can_read:
        raise ReadError(f"{form.label} is written but not read", accepted=_READABLE)
    return form


def _by_extension(filename: str | None) -> Format | None:
    lowered = (filename or "").lower()
    return next(
        (form for form in FORMATS.values() if lowered.endswith(form.extensions)),
        None,
    )


def _by_content(data: bytes) -> Format | None:
    if data.startswith(b"PK\x03\x04"):
        return FORMATS["mxl"]
    if data.startswith(b"MThd"):
        return FORMATS["midi"]
    text = _start_of_text(data)
    if text.startswith("<"):
        if re.search(r"<(?:\w+:)?score-(?:partwise|timewise)\b", text):
            return FORMATS["musicxml"]
        return FORMATS["mei"] if re.search(r"<(?:\w+:)?mei\b", text) else None
    if text.startswith("{") and '"' in text[:200]:
        return FORMATS["json"]
    if text.startswith("%abc") or len({m[1][0] for m in _ABC_FIELD_RE.finditer(text)}) == 2:
        return FORMATS["abc"]
    strings = sum(1 for line in text.splitlines() if _STRING_LINE_RE.match(line.strip()))
    if strings >= 3:
        return FORMATS["tab"]
    if _ABC_FIELD_RE.search(text):
        return FORMATS["abc"]
    # One or two string lines are a tab whose other strings are missing: its reader says so.
    return FORMATS["tab"] if _NAMED_STRING_RE.search(text) else None


def _start_of_text(data: bytes) -> str:
    """The first 64 kB as text, good enough to recognise it; empty for binary data."""
    start = data[: 1 << 16]
    if start[:2] in (b"\xff\xfe", b"\xfe\xff"):
        text = start[: len(start) // 2 * 2].decode("utf-16", "replace")
    else:
        text = start.decode("utf-8-sig", "replace")
    return "" if "\x00" in text else text.lstrip()


# -- in ----------------------------------------------------------------------------------
def read_bytes(
    data: bytes,
    filename: str | None = None,
    *,
    format: str | None = None,
    options: ReadOptions = ReadOptions(),
) -> Lick:
    """Read one lick from a file's bytes.

    Parameters
    ----------
    data : bytes
    filename : str, optional
        Used when the content alone does not tell the format.
    format : str, optional
        A name in :data:`FORMATS`, to skip recognising it.
    options : ReadOptions

    Raises
    ------
    ReadError
        The bytes are in no known format or break its rules.
    ChoiceNeeded
        The file holds several parts, voices or tunes and ``options`` picks none.
    TooLarge
        The file passes the size limit.
    """
    form = _chosen(data, filename, format)
    lick = _READERS[form.name](data, options)
    return _finished(lick, form, options)


def read_all_bytes(
    data: bytes,
    filename: str | None = None,
    *,
    format: str | None = None,
    options: ReadOptions = ReadOptions(),
) -> Iterator[Imported]:
    """Read every tune of a file, one at a time; a tune that fails comes back with its error.

    A file of any format but ABC holds one tune.
    """
    form = _chosen(data, filename, format)
    if form.name == "abc":
        yield from _read_book(data, form, options)
        return
    try:
        lick = _finished(_READERS[form.name](data, options), form, options)
    except InputError as error:
        yield Imported(1, "", error=error)
    else:
        yield Imported(1, lick.title, lick)


def _chosen(data: bytes, filename: str | None, format: str | None) -> Format:
    check_size(data)
    if format is None:
        return sniff(data, filename)
    form = find_format(format)
    if not form.can_read:
        raise OptionError(f"{form.label} is written but not read", accepted=_READABLE)
    return form


def _finished(lick: Lick, form: Format, options: ReadOptions) -> Lick:
    if options.bars is not None:
        lick = lick.slice(*options.bars)
    if options.octave == "guitar":
        lick = octave_lower(lick, form.name, form.label)
    if options.instrument is not None:
        lick = on_instrument(lick, options.instrument, keeps_places=form.name == "tab")
    return lick


def _read_book(data: bytes, form: Format, options: ReadOptions) -> Iterator[Imported]:
    from linewright.formats import abc

    for number, piece in enumerate(abc.split_book(abc.decode(data)), start=1):
        try:
            lick = abc.read_abc(piece.text, voice=options.voice, repeats=options.repeats)
            lick = _finished(lick, form, options)
        except InputError as error:
            yield Imported(number, piece.title, error=error)
        else:
            yield Imported(number, lick.title, lick)


def _read_tab(data: bytes, options: ReadOptions) -> Lick:
    from linewright.formats import abc, tab

    usual = options.instrument  # the capo asked for comes on top of what the file says
    return tab.read_tab(abc.decode(data), instrument=usual and replace(usual, capo=0))


def _read_abc(data: bytes, options: ReadOptions) -> Lick:
    from linewright.formats import abc

    return abc.read_abc(
        abc.decode(data), tune=options.tune, voice=options.voice, repeats=options.repeats
    )


def _read_musicxml(data: bytes, options: ReadOptions) -> Lick:
    from linewright.formats.musicxml import read_musicxml

    return read_musicxml(data, part=options.part, voice=options.voice, repeats=options.repeats)


def _read_midi(data: bytes, options: ReadOptions) -> Lick:
    from linewright.formats.midi import read_midi

    return read_midi(data, track=options.track, grid=options.grid)


def _read_json(data: bytes, _options: ReadOptions) -> Lick:
    from linewright.formats.lickjson import read_json

    return read_json(data)


_READERS: Final[dict[str, Callable[[bytes, ReadOptions], Lick]]] = {
    "tab": _read_tab,
    "abc": _read_abc,
    "musicxml": _read_musicxml,
    "mxl": _read_musicxml,
    "midi": _read_midi,
    "json": _read_json,
}


# -- out ---------------------------------------------------------------------------------
def write_bytes(lick: Lick, format: str) -> bytes:
    """A lick as the bytes of a file; raises OptionError for an unknown format, WriteError when
    the format cannot say what the lick holds.
    """
    form = find_format(format)
    return _WRITERS[form.name](lick)


def _write_tab(lick: Lick) -> bytes:
    from linewright.formats.tab import write_tab

    return write_tab(lick).encode()


def _write_abc(lick: Lick) -> bytes:
    from linewright.formats.abc import write_abc

    return write_abc(lick).encode()


def _write_musicxml(lick: Lick) -> bytes:
    from linewright.formats.musicxml import write_musicxml

    return write_musicxml(lick)


def _write_mxl(lick: Lick) -> bytes:
    from linewright.formats.musicxml import write_mxl

    return write_mxl(lick)


def _write_midi(lick: Lick) -> bytes:
    from linewright.formats.midi import write_midi

    return write_midi(lick)


def _write_json(lick: Lick) -> bytes:
    from linewright.formats.lickjson import write_json

    return write_json(lick).encode()


def _write_mei(lick: Lick) -> bytes:
    from linewright.formats.mei import write_mei

    return write_mei(lick).encode()


_WRITERS: Final[dict[str, Callable[[Lick], bytes]]] = {
    "tab": _write_tab,
    "abc": _write_abc,
    "musicxml": _write_musicxml,
    "mxl": _write_mxl,
    "midi": _write_midi,
    "json": _write_json,
    "mei": _write_mei,
}
