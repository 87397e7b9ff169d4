"""Header values of a tab: tempo, swing, pickup and the rest, read and written."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final, TypeVar

from linewright.errors import MusicError, ReadError
from linewright.formats.tab.counting import COUNT_WORDS
from linewright.formats.tab.layout import Header
from linewright.score import Meter, Tempo
from linewright.theory import Key, PitchClass

__all__ = [
    "Settings",
    "read_capo",
    "read_header",
    "read_key",
    "read_length",
    "read_pickup",
    "read_swing",
    "read_tempo",
    "write_key",
    "write_length",
    "write_swing",
    "write_tempo",
]

_T = TypeVar("_T")
_NOTE_VALUES: Final[dict[str, Fraction]] = {
    "whole": Fraction(4), "half": Fraction(2), "quarter": Fraction(1), "eighth": Fraction(1, 2),
    "sixteenth": Fraction(1, 4), "q": Fraction(1), "h": Fraction(2), "e": Fraction(1, 2),
    "minim": Fraction(2), "crotchet": Fraction(1), "quaver": Fraction(1, 2),
    "𝅗𝅥": Fraction(2), "♩": Fraction(1), "♪": Fraction(1, 2),
}  # fmt: skip
_NUMBER: Final = r"\d{1,6}(?:\.\d{1,4})?(?:/\d{1,6})?"
_TEMPO_RE: Final = re.compile(rf"(?:(.{{1,30}}?)\s*=\s*)?({_NUMBER})\s*(?:bpm)?", re.IGNORECASE)
_FRACTION_RE: Final = re.compile(r"(\d{1,3})/(\d{1,3})")
_AMOUNT_RE: Final = re.compile(r"(\d{1,3}(?:\.\d{1,3})?|an?|one|two|three)\s+([a-z]+?)s?")
_LONGEST_BAR: Final = 64
_WORDS: Final = {"a": 1, "an": 1, "one": 1, "two": 2, "three": 3}


def read_header(header: Header, reader: Callable[[str], _T]) -> _T:
    """Read a header's value, giving an error the line it stands on."""
    try:
        return reader(header.value)
    except MusicError as error:
        raise ReadError(
            error.message, accepted=error.accepted, line=header.line, column=header.column
        ) from error


def _number(text: str) -> Fraction:
    whole, _, below = text.partition("/")
    if below and not int(below):
        raise MusicError(f"{text!r} is not a number")
    return Fraction(whole) / (int(below) if below else 1)


def read_tempo(text: str, meter: Meter) -> Tempo:
    """``120`` (beats of the meter a minute) or ``dotted quarter = 90``."""
    match = _TEMPO_RE.fullmatch(text.strip())
    if match is None:
        raise MusicError(
            f"{text[:40]!r} is not a tempo", accepted="Write it as 120 or as dotted quarter = 90"
        )
    beat = meter.beat if match[1] is None else _note_value(match[1])
    return Tempo(_number(match[2]), beat)


def _note_value(text: str) -> Fraction:
    words = text.lower().replace("-", " ").replace(" note", "").strip()
    fraction = _FRACTION_RE.fullmatch(words)
    if fraction and int(fraction[2]) and int(fraction[1]):
        return Fraction(4 * int(fraction[1]), int(fraction[2]))
    dotted = words.startswith("dotted ") or words.endswith(".")
    value = _NOTE_VALUES.get(words.removeprefix("dotted ").rstrip(".").strip())
    if value is None:
        raise MusicError(
            f"{text[:30]!r} is not a note value",
            accepted="Use half, quarter, eighth, dotted quarter or a fraction such as 3/8",
        )
    return value * Fraction(3, 2) if dotted else value


def write_tempo(tempo: Tempo, meter: Meter) -> str:
    """The tempo as :func:`read_tempo` takes it."""
    number = str(tempo.bpm)
    if tempo.beat == meter.beat == 1:
        return number
    for word, value in list(_NOTE_VALUES.items())[:5]:
        if tempo.beat == value:
            return f"{word} = {number}"
        if tempo.beat == value * Fraction(3, 2):
            return f"dotted {word} = {number}"
    beat = tempo.beat / 4
    return f"{beat.numerator}/{beat.denominator} = {number}"


def read_swing(text: str) -> Fraction | None:
    """``2:1``, ``triplet``, ``3:2``, ``none``: how much longer the first of two eighths is."""
    word = text.strip().lower()
    if word in ("none", "no", "straight", "0", "1", "1:1", "off"):
        return None
    if word in ("yes", "triplet", "triplets", "swing", "on", "shuffle"):
        return Fraction(2)
    match = re.fullmatch(rf"({_NUMBER})(?:\s*:\s*({_NUMBER}))?", word)
    if match is not None:
        ratio, below = _number(match[1]), _number(match[2] or "1")
        if below and 1 < ratio / below <= 4:
            return ratio / below
    raise MusicError(f"{text[:30]!r} is not a swing", accepted="Write it as 2:1, 3:2 or none")


def write_swing(swing: Fraction) -> str:
    """The swing as :func:`read_swing` takes it."""
    return f"{swing.numerator}:{swing.denominator}"


def read_length(text: str, meter: Meter) -> Fraction:
    """A length of time: ``1/8``, ``3/4`` (of a whole note), ``2`` or ``2 beats``, ``an eighth``."""
    word = text.strip().lower()
    fraction = _FRACTION_RE.fullmatch(word)
    length = Fraction(0)
    if fraction and int(fraction[2]):
        length = Fraction(4 * int(fraction[1]), int(fraction[2]))
    elif re.fullmatch(r"\d{1,3}(\.\d{1,3})?", word):
        length = Fraction(word) * Fraction(4, meter.denominator)
    else:
        match = _AMOUNT_RE.fullmatch(word)
        if match is not None:
            unit = meter.beat if match[2] == "beat" else _NOTE_VALUES.get(match[2], Fraction(0))
            length = unit * (_WORDS.get(match[1]) or Fraction(match[1]))
    if length <= 0:
        raise MusicError(
            f"{text[:30]!r} is not a length", accepted="Write it as 1/8, 1/4, 3/8 or 2 beats"
        )
    return length


def read_pickup(header: Header, meter: Meter) -> Fraction:
    """The pickup that a header asks for, 0 for none."""
    if header.value.strip().lower() in ("0", "none", "no"):
        return Fraction(0)
    length = read_header(header, lambda value: read_length(value, meter))
    if length >= meter.length:
        raise ReadError("a pickup is shorter than a bar", line=header.line, column=header.column)
    return length


def write_length(length: Fraction) -> str:
    """The length as a fraction of a whole note."""
    whole = length / 4
    return f"{whole.numerator}/{whole.denominator}"


def read_capo(text: str) -> int:
    """``2`` or ``fret 2``; ``none`` is 0."""
    word = text.strip().lower().removeprefix("fret").strip()
    if word in ("none", "no"):
        return 0
    match = re.fullmatch(r"(\d{1,2})(?:st|nd|rd|th)?(?: fret)?", word)
    if match is None:
        raise MusicError(f"{text[:30]!r} is not a fret for a capo", accepted="Write it as Capo: 2")
    return int(match[1])


def read_key(text: str) -> Key | None:
    """``G``, ``A dorian``, ``D major add Bb`` (an accidental the signature lacks), ``none``."""
    if text.strip().lower() == "none":
        return None
    name, _, extra = text.partition(" add ")
    key = Key.parse(name)
    if not extra:
        return key
    return Key(key.tonic, key.mode, tuple(PitchClass.parse(word) for word in extra.split()[:7]))


def write_key(key: Key | None) -> str:
    """The key as :func:`read_key` takes it."""
    if key is None:
        return "none"
    extra = f" add {' '.join(note.name for note in key.added)}" if key.added else ""
    return f"{key.tonic} {key.mode}{extra}"


@dataclass(slots=True)
class Settings:
    """The headers that may change between systems, as they stand at one system."""

    meter: Meter = field(default_factory=lambda: Meter(4, 4))
    key: Key | None = None
    word: str = ""  # value of Count
    bar_length: Fraction | None = None  # None for full bars

    def move(self, header: Header) -> None:
        """Take in a header that holds from here on."""
        if header.name == "meter":
            self.meter = read_header(header, Meter.parse)
            self.bar_length = None
        elif header.name == "key":
            self.key = read_header(header, read_key)
        elif header.name == "count":
            self.word = read_header(header, _count_word)
        else:
            self.bar_length = read_header(header, self._bar_length)

    def _bar_length(self, text: str) -> Fraction | None:
        if text.strip().lower() == "full":
            return None
        length = read_length(text, self.meter)
        if length > _LONGEST_BAR:
            raise MusicError(
                f"a bar of {length} quarters", accepted="Use up to sixteen whole notes"
            )
        return length


def _count_word(text: str) -> str:
    word = text.strip().lower()
    if word not in COUNT_WORDS:
        raise MusicError(
            f"{text[:30]!r} is no way of counting", accepted=f"Use one of {', '.join(COUNT_WORDS)}"
        )
    return word
