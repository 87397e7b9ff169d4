"""Progressions: chords over bars, typed as symbols, as scale-degree numbers, or named as a form.

A form here is a chord plan in general use, called by its plain trade name (common practice:
every one of them is in the fake books and on every bandstand). Bars are parted by ``|``;
without one every word is a bar. Chords inside a bar share it equally; ``%`` says the last bar
again, ``N.C.`` is no chord.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final

from linewright.errors import MusicError, OptionError
from linewright.score import ChordSpan
from linewright.theory import ChordSymbol, Degree, Key, PitchClass

__all__ = ["FORMS", "MOST_BARS", "Progression", "parse_progression"]

MOST_BARS: Final = 2000

_BLUES = "17 | 47 | 17 | 17 | 47 | 47 | 17 | 17 | 57 | 47 | 17 | 57"
_BRIDGE = "37 | 37 | 67 | 67 | 27 | 27 | 57 | 57"
_RHYTHM_A = "1 6m7 | 2m7 57 | 3m7 6m7 | 2m7 57 | 1 17 | 4 4m | 1 57 |"

#: Form name -> its chords as scale-degree numbers in the key's tonic.
FORMS: Final[dict[str, str]] = {
    "12-bar blues": _BLUES,
    "8-bar blues": "17 | 57 | 47 | 47 | 17 | 57 | 17 47 | 17 57",
    "minor blues": "1m7 | 1m7 | 1m7 | 1m7 | 4m7 | 4m7 | 1m7 | 1m7 | b67 | 57 | 1m7 | 57",
    "ii-V-I": "2m7 | 57 | 1maj7 | 1maj7",
    "minor ii-V-i": "2m7b5 | 57 | 1m7 | 1m7",
    "rhythm changes": f"{_RHYTHM_A} 1 57 | {_RHYTHM_A} 1 | {_BRIDGE} | {_RHYTHM_A} 1",
    "fiddle tune": "1 | 1 | 4 | 5 | 1 | 1 | 4 5 | 1 | 1 | 4 | 1 | 5 | 1 | 4 | 1 5 | 1",
    "1-4-5": "1 | 4 | 5 | 1",
    "waltz": "1 | 1 | 4 | 4 | 5 | 5 | 1 | 1",
    "one chord": "1",
}
_ALIASES: Final = {
    "blues": "12-bar blues",
    "twelve-bar blues": "12-bar blues",
    "12 bar blues": "12-bar blues",
    "8 bar blues": "8-bar blues",
    "ii v i": "ii-V-I",
    "2-5-1": "ii-V-I",
    "minor 2-5-1": "minor ii-V-i",
    "i-iv-v": "1-4-5",
    "i-iv-v fiddle tune": "fiddle tune",
    "fiddle": "fiddle tune",
    "vamp": "one chord",
}
_NUMBER: Final = re.compile(r"([b#]?)([1-7])(.*)")
_IN_KEY: Final = re.compile(r"(.+?)\s+in\s+(.+)", re.IGNORECASE)
_NONE: Final = frozenset({"N.C.", "NC", "n.c.", "nc", "N.C"})


@dataclass(frozen=True)
class Progression:
    """Chords over bars.

    Parameters
    ----------
    bars : tuple of tuple of ChordSymbol or None
        The chords of each bar, which share it equally; None is no chord.
    key : Key or None
        The key the chords are in, when it was said; a line's home is its tonic.
    name : str
        The form's name, or the text as typed.
    """

    bars: tuple[tuple[ChordSymbol | None, ...], ...]
    key: Key | None = None
    name: str = ""

    def __post_init__(self) -> None:
        if not self.bars or not all(self.bars):
            raise OptionError("a progression without chords", accepted="Write it as G7 | C7 | G7")
        if len(self.bars) > MOST_BARS:
            raise OptionError(
                f"a progression of {len(self.bars)} bars", accepted=f"Use at most {MOST_BARS}"
            )

    def bar(self, number: int) -> tuple[ChordSymbol | None, ...]:
        """The chords of a bar counted from 0, the progression going round and round."""
        return self.bars[number % len(self.bars)]

    def spans(self, bar_length: Fraction, bars: int) -> tuple[ChordSpan, ...]:
        """The chords of ``bars`` bars in time; equal neighbours are joined."""
        found: list[ChordSpan] = []
        for number in range(bars):
            chords = self.bar(number)
            share = bar_length / len(chords)
            for place, symbol in enumerate(chords):
                onset = number * bar_length + place * share
                if found and found[-1].symbol == symbol:
                    found[-1] = ChordSpan(found[-1].onset, onset + share - found[-1].onset, symbol)
                else:
                    found.append(ChordSpan(onset, share, symbol))
        return tuple(found)

    @property
    def text(self) -> str:
        """The chords in symbols, bars parted by ``|``."""
        return " | ".join(
            " ".join(str(chord) if chord else "N.C." for chord in bar) for bar in self.bars
        )

    def to_dict(self) -> dict[str, Any]:
        """As JSON values."""
        return {
            "name": self.name,
            "key": self.key.name if self.key else None,
            "chords": self.text,
            "bars": len(self.bars),
        }


def parse_progression(
    text: str, bars: int | None = None, key: str | Key | PitchClass | None = None
) -> Progression:
    """Read a progression.

    Parameters
    ----------
    text : str
        Chord symbols (``G7 | C7 | G7 G7``), scale-degree numbers (``1 4 5 6m 2m``), or the
        name of a form in :data:`FORMS`, which may say its key (``ii-V-I in F``).
    bars : int, optional
        Go round, or stop, after so many bars.
    key : str, Key or PitchClass, optional
        The key for numbers and forms, and a line's home for symbols.

    Raises
    ------
    OptionError, MusicError
        Naming the word that cannot be read, or a key that is needed and not given.

    >>> parse_progression("1 4 5 6m", key="G").text
    'G | C | D | Em'
    >>> parse_progression("ii-V-I in Bb").text
    'Cm7 | F7 | Bbmaj7 | Bbmaj7'
    """
    if len(text) > 20_000:
        raise OptionError("this progression is too long to read", accepted="Use at most 2000 bars")
    home = _key(key)
    name = " ".join(text.split())
    said = _IN_KEY.fullmatch(name)
    if said and _form(said[1]) is not None:
        name, home = said[1], _key(said[2])
    form = _form(name)
    words = FORMS[form] if form else name
    made = tuple(_bars(words, home, text))
    if bars is not None:
        if not 1 <= bars <= MOST_BARS:
            raise OptionError(f"{bars} bars of chords", accepted=f"Use 1 to {MOST_BARS}")
        made = tuple(made[k % len(made)] for k in range(bars))
    return Progression(made, home, form or name)


def _key(key: str | Key | PitchClass | None) -> Key | None:
    if key is None or isinstance(key, Key):
        return key
    return Key(key) if isinstance(key, PitchClass) else Key.parse(key)


def _form(name: str) -> str | None:
    wanted = name.strip().lower()
    exact = {form.lower(): form for form in FORMS if form != "minor ii-V-i"}
    if name.strip() == "minor ii-V-i" or wanted == "minor ii-v-i":
        return "minor ii-V-i"
    return exact.get(wanted) or _ALIASES.get(wanted)


def _bars(words: str, home: Key | None, text: str) -> list[tuple[ChordSymbol | None, ...]]:
    if "|" in words:
        cells = [cell.split() for cell in words.strip().strip("|").split("|")]
    else:
        cells = [[word] for word in words.replace(",", " ").split()]
    done: list[tuple[ChordSymbol | None, ...]] = []
    for number, cell in enumerate(cells, 1):
        if cell in (["%"], ["/"]) or (not cell and done):
            if not done:
                raise OptionError("a progression cannot begin with %", accepted="Name a chord")
            done.append(done[-1])
            continue
        if len(cell) > 8:
            raise OptionError(
                f"bar {number} has {len(cell)} chords", accepted="Use at most 8 in a bar"
            )
        done.append(tuple(_chord(word, home, number) for word in cell))
    if not done or not all(done):
        raise OptionError(
            f"{text.strip()[:60]!r} names no chords",
            accepted=f"Write chord symbols, numbers, or one of {', '.join(FORMS)}",
        )
    return done


def _chord(word: str, home: Key | None, bar: int) -> ChordSymbol | None:
    if word in _NONE:
        return None
    match = _NUMBER.fullmatch(word)
    try:
        if match is None:
            return ChordSymbol.parse(word)
        if home is None:
            raise OptionError(
                f"{word} is a chord by number, and the key is not said",
                place=f"bar {bar} of the progression",
                accepted="Say the key, as in: 12-bar blues in A",
            )
        degree = Degree(int(match[2]), {"b": -1, "#": 1, "": 0}[match[1]])
        root = degree.above(home.tonic)
        return ChordSymbol.parse(f"{_plain(root)}{match[3]}")
    except MusicError as error:
        raise OptionError(
            f"{word[:30]!r} is no chord Linewright knows",
            place=f"bar {bar} of the progression",
            accepted="Write symbols (G7, Em7b5, C/E), numbers (1 4 5 6m 2m), or one of the forms "
            + ", ".join(FORMS),
        ) from error


def _plain(root: PitchClass) -> str:
    """A root no chord symbol can hold (a double flat) by its enharmonic name."""
    if -1 <= root.alter <= 1:
        return root.name
    return PitchClass.from_fifths(root.fifths + (12 if root.fifths < 0 else -12)).name
