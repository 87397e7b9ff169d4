"""Bringing a lick in: read the file, find places on the neck, work out what it is made of."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import PurePath
from typing import Literal

from linewright.analysis import Analysis, analyze
from linewright.errors import InputError, MusicError, OptionError
from linewright.formats import ReadOptions, abc, find_format, read_bytes, sniff
from linewright.fretboard import finger, instrument, parse_instrument
from linewright.score import Instrument, Lick
from linewright.theory import PitchClass

__all__ = [
    "Book",
    "BroughtIn",
    "Failure",
    "bring_in",
    "bring_in_all",
    "bring_text",
    "contents",
    "made_of",
    "plain_tonic",
    "on_the_neck",
]

#: Told of each tune of a book as it is done: its number, how many there are, its title.
Progress = Callable[[int, int, str], None]


@dataclass(frozen=True)
class BroughtIn:
    """A lick that was read, placed on the neck and analysed, and not kept anywhere yet.

    ``remarks`` say what was decided on the way, ``tonic`` is the tonic asked for, if any.
    """

    lick: Lick
    analysis: Analysis
    tonic: str | None = None

    @property
    def remarks(self) -> tuple[str, ...]:
        """What the reader and the fingering had to decide."""
        return self.lick.remarks


@dataclass(frozen=True)
class Failure:
    """A tune of a book that could not be brought in, and why."""

    number: int
    title: str
    error: InputError


@dataclass(frozen=True)
class Book:
    """The tunes of a file, by number, and those that failed."""

    tunes: tuple[tuple[int, BroughtIn], ...]
    failures: tuple[Failure, ...]


def bring_in(
    data: bytes,
    filename: str | None = None,
    *,
    format: str | None = None,
    options: ReadOptions = ReadOptions(),
    tonic: str | None = None,
) -> BroughtIn:
    """Read one lick from a file's bytes, find its places and say what it is made of.

    Raises
    ------
    ReadError
        Also as ChoiceNeeded (several parts, voices or tunes) and TooLarge.
    OptionError
        For a tonic that is no note.
    """
    lick = read_bytes(data, filename, format=format, options=options)
    return _worked_out(lick, options, tonic, _title_from(filename))


def bring_text(
    text: str,
    tonic: str | None = None,
    octave: Literal["written", "guitar"] = "written",
    neck: str | None = None,
) -> BroughtIn:
    """Read a lick from typed text; ``octave`` is how ABC sounds, ``neck`` the name of the
    instrument it is for: ABC is laid out for it, a text tab keeps its strings and frets.
    """
    named = parse_instrument(neck) if neck and neck.strip() else None
    options = ReadOptions(octave=octave, instrument=named)
    return bring_in(text.encode(), options=options, tonic=tonic)


def bring_in_all(
    data: bytes,
    filename: str | None = None,
    *,
    format: str | None = None,
    options: ReadOptions = ReadOptions(),
    tonic: str | None = None,
    chosen: Collection[int] | None = None,
    progress: Progress | None = None,
) -> Book:
    """Read every tune of a file, or those whose numbers are ``chosen``.

    A tune that fails does not stop the others: it is reported with its number, title and reason.
    Raises ReadError only when the file as a whole cannot be read.
    """
    tunes: list[tuple[int, BroughtIn]] = []
    failures: list[Failure] = []
    pieces = _pieces(data, filename, format)
    wanted = [piece for piece in pieces if chosen is None or piece.number in chosen]
    for done, piece in enumerate(wanted, start=1):
        title = piece.title
        try:
            lick = read_bytes(piece.data, piece.filename, format=piece.format, options=options)
            title = lick.title
            tunes.append((piece.number, _worked_out(lick, options, tonic, _title_from(filename))))
        except InputError as error:
            failures.append(Failure(piece.number, title, error))
        if progress is not None:
            progress(done, len(wanted), title)
    return Book(tuple(tunes), tuple(failures))


def contents(
    data: bytes, filename: str | None = None, *, format: str | None = None
) -> tuple[tuple[int, str], ...]:
    """Number and title of every tune in a file, as :func:`bring_in_all` numbers them."""
    return tuple((piece.number, piece.title) for piece in _pieces(data, filename, format))


@dataclass(frozen=True)
class _Piece:
    """One tune of a file, not read yet."""

    number: int
    title: str
    data: bytes
    filename: str | None
    format: str | None


def _pieces(data: bytes, filename: str | None, format: str | None) -> tuple[_Piece, ...]:
    """The tunes of a file; only ABC holds more than one."""
    form = find_format(format) if format is not None else sniff(data, filename)
    if form.name == "abc":
        book = abc.split_book(abc.decode(data))
        if len(book) > 1:
            return tuple(
                _Piece(number, piece.title, piece.text.encode(), None, "abc")
                for number, piece in enumerate(book, start=1)
            )
    return (_Piece(1, filename or "Untitled", data, filename, format),)


def _worked_out(
    lick: Lick, options: ReadOptions, tonic: str | None, name: str | None = None
) -> BroughtIn:
    placed = on_the_neck(lick, options.instrument)
    if placed.title == "Untitled" and name:
        placed = placed.with_(title=name)
    return BroughtIn(placed, made_of(placed, tonic), plain_tonic(tonic))


def _title_from(filename: str | None) -> str | None:
    """A title for a lick that brings none: the file's name, without its ending."""
    words = " ".join(PurePath(filename).stem.replace("_", " ").split()) if filename else ""
    return words[:80] or None


def plain_tonic(tonic: str | None) -> str | None:
    """A tonic asked for as it is kept, None for none; OptionError for what is no note."""
    if not tonic or not tonic.strip():
        return None
    try:
        return PitchClass.parse(tonic).name
    except MusicError as error:
        raise OptionError(
            f"the tonic asked for: {tonic!r:.40} is not a note name", accepted=error.accepted
        ) from error


def made_of(lick: Lick, tonic: str | None = None) -> Analysis:
    """What a lick is made of; ``tonic`` as in ``G``, or None to have it found.

    The last analyses are kept at hand: an analysis depends on nothing else.
    """
    return _analysis(lick, plain_tonic(tonic))


@lru_cache(maxsize=128)
def _analysis(lick: Lick, tonic: str | None) -> Analysis:
    return analyze(lick, tonic)


def on_the_neck(lick: Lick, wanted: Instrument | None = None) -> Lick:
    """The lick with a string and fret for every note, as far as the instrument reaches.

    A lick that names no instrument is laid on ``wanted``, or a guitar in standard tuning. One
    that the instrument cannot play is left without places, with a remark.
    """
    if lick.notes and all(note.string is not None for note in lick.notes):
        return lick
    neck = wanted or lick.instrument or instrument("guitar")
    try:
        return finger(lick, neck)
    except MusicError as error:
        remark = f"shown without tab: {error}"
        return replace(lick, remarks=(*lick.remarks, remark))
