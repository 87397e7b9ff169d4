"""Values of the information fields that matter to the music: M:, L:, Q:, K: (ABC 2.1, 3.1)."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from linewright.errors import MusicError, ReadError
from linewright.score import Meter, Tempo
from linewright.theory import STEPS, Key, PitchClass

__all__ = ["KeyField", "default_unit", "read_key", "read_meter", "read_tempo", "read_unit"]

_KEY: Final = re.compile(r"([A-G])([#b♯♭]?)\s*([A-Za-z]*)")
_ACCIDENTAL: Final = re.compile(r"(\^\^|\^|__|_|=)([A-Ga-g])")
_CLEF: Final = re.compile(
    r"(?:clef\s*=\s*)?\"?(treble|bass|alto|tenor|perc|none|[GFC])[1-5]?([+-]8)?\"?(?=\s|$)", re.I
)
_SETTING: Final = re.compile(
    r"(?<!\S)(clef|octave|transpose|t|middle|m|stafflines|strings|style|name|nm|snm|sname|subname"
    r"|score|sound|shift|instrument|cue|merge|up|down|stem|gstem)=(\"[^\"]*\"|\S+)",
    re.I,
)
_ALTER: Final = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}
_MODE_NAMES: Final = {
    "maj": "major", "ion": "major", "min": "minor", "aeo": "minor", "mix": "mixolydian",
    "dor": "dorian", "phr": "phrygian", "lyd": "lydian", "loc": "locrian",
}  # fmt: skip
_PIPES: Final = {"F": 1, "C": 1}
_BEATS: Final = re.compile(r"((?:\d{1,3}\s*/\s*\d{1,3}\s*)+)=\s*(\d{1,4}(?:\.\d{1,6})?)")
_UNIT_BEATS: Final = re.compile(r"C(\d{0,2})(?:/(\d{1,2}))?\s*=\s*(\d{1,4})")
_LENGTH: Final = re.compile(r"(\d{1,3})\s*/\s*(\d{1,3})")


def read_meter(text: str) -> Meter | None:
    """The meter of an M: field; None for ``none``. Raises MusicError.

    >>> str(read_meter("C|")), read_meter("none")
    ('2/2', None)
    """
    word = text.strip()
    if word.lower() in ("none", ""):
        return None
    if word == "C3|" or word == "o":  # found in old collections: three minims
        return Meter(3, 2)
    return Meter.parse(word)


def default_unit(meter: Meter | None) -> Fraction:
    """Unit note length in quarters where there is no L: (ABC 2.1, 3.1.7)."""
    if meter is not None and Fraction(meter.numerator, meter.denominator) < Fraction(3, 4):
        return Fraction(1, 4)
    return Fraction(1, 2)


def read_unit(text: str) -> Fraction:
    """Unit note length of an L: field, in quarters. Raises MusicError."""
    word = text.strip()
    match = _LENGTH.fullmatch(word)
    top, bottom = (int(match[1]), int(match[2])) if match else (1, 1 if word == "1" else 0)
    if not (1 <= top <= 3 and bottom in (1, 2, 4, 8, 16, 32, 64, 128, 256, 512)):
        raise MusicError(
            f"{word!r} is not a unit note length", accepted="Write it as L:1/8 or L:1/16"
        )
    return Fraction(4 * top, bottom)


def read_tempo(text: str, unit: Fraction) -> tuple[Tempo | None, str | None]:
    """The tempo of a Q: field and, where something had to be decided, a remark.

    ``unit`` is the unit note length in quarters, which the old form ``C=120`` counts in. The old
    form ``120`` names no beat; like abc2midi we take quarter notes.
    """
    words = re.sub(r'"[^"]*"?', " ", text).strip()
    beats, plain, old = _BEATS.search(words), words, _UNIT_BEATS.search(words)
    try:
        if beats is not None:
            parts = [tuple(map(int, p)) for p in re.findall(r"(\d+)\s*/\s*(\d+)", beats[1])]
            beat = sum((Fraction(4 * a, b) for a, b in parts), Fraction(0))
            return Tempo(Fraction(beats[2]), beat), None
        if old is not None:
            return Tempo(
                Fraction(old[3]), unit * Fraction(int(old[1] or 1), int(old[2] or 1))
            ), None
        if re.fullmatch(r"\d{1,4}", plain):
            return Tempo(Fraction(plain)), f"Q:{plain} names no beat: quarter notes are meant"
    except (MusicError, ZeroDivisionError):
        return None, f"the tempo {text.strip()!r} is out of range and was left out"
    return None, f"the tempo {text.strip()!r} is given in words only"


@dataclass(frozen=True, slots=True)
class KeyField:
    """What a K: field (or the settings of a V: field) says.

    ``key`` is None when no tonic is declared; ``alters`` is the signature that sounds;
    ``octaves`` and ``semitones`` move what is written to what sounds; ``has_key`` tells a field
    that only sets a clef from one that sets the key.
    """

    key: Key | None
    alters: dict[str, int]
    has_key: bool = True
    octaves: int = 0
    semitones: int = 0
    remark: str | None = None


def read_key(text: str) -> KeyField:
    """Read a K: field; lenient: what is not understood becomes a remark.

    Raises ReadError for a field that starts with no key at all.

    >>> read_key("D dorian ^c").key.name, read_key("none").key
    ('D dorian C#', None)
    """
    octaves, semitones, rest = settings(text)
    rest = rest.strip()
    if rest[:2] in ("HP", "Hp"):
        pipes = "a key of HP declares no tonic: F and C sound sharp, as on the Highland pipe"
        return KeyField(None, dict(_PIPES), True, octaves, semitones, pipes)
    extra = {letter.upper(): _ALTER[sign] for sign, letter in _ACCIDENTAL.findall(rest)}
    if rest == "" or rest.lower().startswith("none"):
        return KeyField(None, extra, bool(rest) or not text.strip(), octaves, semitones)
    match = _KEY.match(rest)
    if match is None:
        if extra and not rest.strip("^_=ABCDEFGabcdefg ").replace("exp", ""):
            return KeyField(None, extra, True, octaves, semitones)
        raise ReadError(
            f"{text.strip()!r} is not a key", accepted="Write it as K:G, K:Em, K:Ador or K:none"
        )
    tonic = PitchClass.parse(match[1] + match[2])
    mode, remark = _mode(match[3])
    try:
        base = Key(tonic, mode)
    except MusicError as error:
        return KeyField(None, extra, True, octaves, semitones, f"{error}; no key was set")
    if re.search(r"\bexp\b", rest):
        explicit = {step: extra.get(step, 0) for step in STEPS}
        extra = {step: alter for step, alter in explicit.items() if base.alter(step) != alter}
    added = tuple(PitchClass(step, alter) for step, alter in extra.items())
    key = Key(tonic, mode, added)
    return KeyField(key, key.signature, True, octaves, semitones, remark)


def _mode(word: str) -> tuple[str, str | None]:
    if word in ("", "exp"):
        return "major", None
    if word == "m":
        return "minor", None
    if word == "M":  # capitals do not count in modes (ABC 2.1, 3.1.14)
        return "minor", "a key written with M is minor, as if written with m"
    name: str | None = _MODE_NAMES.get(word[:3].lower())
    if name is None and word.startswith("m"):
        return "minor", f"the mode {word!r} was read as minor"
    if name is None:
        return "major", f"there is no mode {word!r}: major was taken"
    return name, None


def settings(text: str) -> tuple[int, int, str]:
    """Octaves and semitones that clef settings move the music by, and the text without them.

    ``treble-8`` and ``octave=-1`` sound an octave lower, ``transpose=2`` a tone higher, as
    abc2midi plays them; the clef itself changes nothing.
    """
    octaves = semitones = 0

    def setting(match: re.Match[str]) -> str:
        nonlocal octaves, semitones
        name, value = match[1].lower(), match[2].strip('"')
        if name == "clef":
            return f" {value} "
        if re.fullmatch(r"[+-]?\d{1,2}", value):
            if name == "octave" and abs(int(value)) <= 4:
                octaves += int(value)
            elif name in ("transpose", "t") and abs(int(value)) <= 36:
                semitones += int(value)
        return " "

    rest = _SETTING.sub(setting, text)

    def clef(match: re.Match[str]) -> str:
        nonlocal octaves
        word = match[1]
        if len(word) == 1 or (word.lower() == "none" and not rest[: match.start()].strip()):
            return match[0]  # a key letter or K:none, not a clef
        octaves += {"+8": 1, "-8": -1, None: 0}[match[2]]
        return " "

    without_clef = _CLEF.sub(clef, rest)
    return octaves, semitones, without_clef
