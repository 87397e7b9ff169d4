"""Each note of a lick as the signs on its string: ``h7``, ``(5)``, ``7b9~``."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from linewright.errors import WriteError
from linewright.fretboard import PARTIALS
from linewright.score import Instrument, Lick, Mark, Note

__all__ = ["Token", "spell_notes"]

_QUARTER_BENDS: Final = {Fraction(1, 2): "¼", Fraction(3, 2): "¾"}
_WIDEST_BEND: Final = 7
_JOINS: Final = {"hammer-on": "h", "pull-off": "p", "release": "r", "slide": "s"}
_POST: Final = {"vibrato": "~", "staccato": ".", "accent": ">"}


@dataclass(slots=True)
class Token:
    """Signs before a note's column, from it on, and how wide its fret is.

    ``joins`` tells that the signs before may touch what stands there; ``graces`` are written
    in columns of their own before the note.
    """

    pre: str
    main: str
    digits: int
    post: str
    joins: bool
    graces: tuple[tuple[int, str], ...]
    trail: str = ""  # a slide out, set off by dashes


def spell_notes(lick: Lick) -> list[Token]:
    """A token for each note; raises WriteError for what a tab cannot say."""
    instrument = lick.instrument
    if instrument is None:
        raise WriteError("a tab needs an instrument")
    tokens = [_token(lick, note, instrument) for note in lick.notes]
    attack = 0
    attack_of: list[int] = []
    for index, note in enumerate(lick.notes):
        attack += bool(index) and note.onset != lick.notes[index - 1].onset
        attack_of.append(attack)
    last_on: dict[int, int] = {}  # string -> latest note
    for index, note in enumerate(lick.notes):
        string = note.string or 0
        before = last_on.get(string)
        if before is not None:
            near = attack_of[index] - attack_of[before] == 1 and not note.grace
            _join(lick, tokens, before, index, near=near)
        elif note.has("release"):
            raise _unsaid(lick, note, "a release without a bend before it")
        last_on[string] = index
    for index, note in enumerate(lick.notes):
        if note.has("slide out") and not tokens[index].trail:
            tokens[index].post += _slope(note)
    return tokens


def _join(lick: Lick, tokens: list[Token], before: int, index: int, *, near: bool) -> None:
    """Settle the slides between two notes that follow one another on a string."""
    first, then = lick.notes[before], lick.notes[index]
    if then.has("release") and not first.has("bend"):
        raise _unsaid(lick, then, "a release without a bend before it")
    if first.has("slide out") and (near or then.has("slide in") or then.grace):
        tokens[before].trail = _slope(first)
        return
    joined = sum(mark.kind.joins for mark in then.marks)
    if near and joined == 1 and then.has("slide") and not then.has("slide in"):
        tokens[before].post += "/" if (then.fret or 0) >= (first.fret or 0) else "\\"
        tokens[index].pre = tokens[index].pre.replace("s", "", 1)
        tokens[index].joins = False


def _slope(note: Note) -> str:
    mark = next(mark for mark in note.marks if mark.name == "slide out")
    return "/" if mark.semitones > 0 else "\\"


def _token(lick: Lick, note: Note, instrument: Instrument) -> Token:
    if note.string is None or note.fret is None:
        raise _unsaid(lick, note, "a note without a place")
    joins = [mark.name for mark in note.marks if mark.kind.joins]
    if len(joins) > 1:
        raise _unsaid(lick, note, f"a note reached by {' and '.join(joins)} at once")
    pre = _JOINS[joins[0]] if joins else ""
    main, digits, width_before = _fret(lick, note, instrument)
    slide_in = next((mark for mark in note.marks if mark.name == "slide in"), None)
    if slide_in is not None:
        pre += "-\\" if slide_in.semitones > 0 else "-/"
    post = "".join(sign for name, sign in _POST.items() if note.has(name))
    return Token(
        pre + main[:width_before],
        main[width_before:],
        digits,
        post,
        bool(joins),
        tuple(_graces(lick, note)),
    )


def _fret(lick: Lick, note: Note, instrument: Instrument) -> tuple[str, int, int]:
    """The fret with what encloses it, the width of the fret, and what stands before its column."""
    text = str(note.fret)
    if note.has("dead"):
        text = f"x{note.fret}" if note.fret else "x"
    digits, before = len(text), 0
    if note.has("harmonic"):
        partial = PARTIALS.get(note.fret or 0)
        natural = partial is not None and instrument.open_midi(note.string or 1) + partial
        if note.has("dead") or natural != note.midi:
            raise _unsaid(lick, note, f"{note.pitch} as a harmonic at fret {note.fret}")
        text, before = f"<{text}>", 1
    bends = [mark for mark in note.marks if mark.name == "bend"]
    if bends:
        text += _bend(lick, note, bends[0])
    if note.has("ghost"):
        text, before = f"({text})", before + 1
    return text, digits, before


def _bend(lick: Lick, note: Note, mark: Mark) -> str:
    if mark.semitones in _QUARTER_BENDS:
        return "b" + _QUARTER_BENDS[mark.semitones]
    if mark.semitones.denominator == 1 and 0 < mark.semitones <= _WIDEST_BEND:
        return f"b{(note.fret or 0) + int(mark.semitones)}"
    raise _unsaid(lick, note, f"a bend by {mark.semitones} half steps")


def _graces(lick: Lick, note: Note) -> list[tuple[int, str]]:
    found = []
    for grace in note.grace:
        if grace.string is None or grace.fret is None:
            raise _unsaid(lick, note, f"the grace note {grace.pitch}, which has no place")
        group = [n for n in lick.notes if n.onset == note.onset]
        owner = next((n for n in group if n.string == grace.string), group[0])
        if owner is not note:
            raise _unsaid(lick, note, "a grace note on the string of another note of the chord")
        found.append((grace.string, f"g{grace.fret}"))
    return found


def _unsaid(lick: Lick, note: Note, what: str) -> WriteError:
    return WriteError(f"a tab cannot say {what}", place=lick.place(note.onset))
