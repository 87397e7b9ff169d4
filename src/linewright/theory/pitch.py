"""Spelled pitch, pitch class and interval.

Conventions: scientific pitch notation (middle C is C4, MIDI 60); a spelled pitch
class is a letter and an alteration in semitones; MIDI numbers are derived, never
stored. An :class:`Interval` keeps letter steps and semitones apart, so a minor
third and an augmented second stay different (they sound alike and mean different
things to a player).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from linewright.errors import MusicError

__all__ = ["Interval", "Pitch", "PitchClass", "STEPS", "spell_midi"]

STEPS: Final = "CDEFGAB"
_NATURAL: Final = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
#: Place of each natural letter on the line of fifths, C at 0 (Temperley 2001, ch. 5).
_FIFTHS: Final = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}
_BY_FIFTHS: Final = "FCGDAEB"
_ACCIDENTAL: Final = {-3: "bbb", -2: "bb", -1: "b", 0: "", 1: "#", 2: "##", 3: "###"}
_ALTER: Final = {
    "": 0, "#": 1, "♯": 1, "##": 2, "x": 2, "𝄪": 2, "###": 3,
    "b": -1, "♭": -1, "bb": -2, "𝄫": -2, "bbb": -3, "♮": 0,
}  # fmt: skip
_ACC_RE: Final = r"(?:###|##|#|x|♯|𝄪|bbb|bb|b|♭|𝄫|♮)?"
_CLASS_RE: Final = re.compile(rf"([A-Ga-g])({_ACC_RE})")
_PITCH_RE: Final = re.compile(rf"([A-Ga-g])({_ACC_RE})(-?\d{{1,2}})")


@dataclass(frozen=True, slots=True)
class Interval:
    """A directed interval: letter ``steps`` and ``semitones``, negative when it falls.

    >>> Interval(2, 3) + Interval(2, 4) == Interval(4, 7)
    True
    """

    steps: int
    semitones: int

    def __add__(self, other: Interval) -> Interval:
        return Interval(self.steps + other.steps, self.semitones + other.semitones)

    def __neg__(self) -> Interval:
        return Interval(-self.steps, -self.semitones)


@dataclass(frozen=True, slots=True)
class PitchClass:
    """A spelled pitch class: letter ``step`` (C to B) and ``alter`` in semitones (-3 to 3).

    >>> PitchClass.parse("Bb").number
    10
    """

    step: str
    alter: int = 0

    def __post_init__(self) -> None:
        if self.step not in _NATURAL:
            raise MusicError(f"no note letter {self.step!r}", accepted="Use a letter from A to G")
        if not -3 <= self.alter <= 3:
            raise MusicError(
                f"{self.step} altered by {self.alter} semitones is past a triple sharp or flat",
                accepted="Use an alteration from -3 to 3",
            )

    @classmethod
    def parse(cls, text: str) -> PitchClass:
        """Read a name such as ``G``, ``Bb``, ``F#`` or ``c♯``; raises MusicError."""
        match = _CLASS_RE.fullmatch(text.strip())
        if match is None:
            raise MusicError(
                f"{text!r} is not a note name",
                accepted="Write a letter A to G with # or b, as in Bb",
            )
        return cls(match[1].upper(), _ALTER[match[2]])

    @classmethod
    def from_fifths(cls, fifths: int) -> PitchClass:
        """The pitch class ``fifths`` steps up the line of fifths from C (C 0, G 1, F -1)."""
        letter = _BY_FIFTHS[(fifths + 1) % 7]
        return cls(letter, (fifths + 1) // 7)

    @property
    def number(self) -> int:
        """Pitch-class number, 0 (C) to 11."""
        return (_NATURAL[self.step] + self.alter) % 12

    @property
    def fifths(self) -> int:
        """Place on the line of fifths, C at 0."""
        return _FIFTHS[self.step] + 7 * self.alter

    @property
    def name(self) -> str:
        """Plain name, as in ``Bb``."""
        return self.step + _ACCIDENTAL[self.alter]

    def __str__(self) -> str:
        return self.name

    def transpose(self, interval: Interval) -> PitchClass:
        """This pitch class moved by ``interval``, respelled if it passes a triple accidental."""
        return Pitch(self.step, self.alter, 4).transpose(interval).pitch_class

    def in_octave(self, octave: int) -> Pitch:
        """The spelled pitch of this class in a scientific octave."""
        return Pitch(self.step, self.alter, octave)


@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled pitch: ``step``, ``alter`` in semitones and scientific ``octave``.

    >>> Pitch.parse("Db4").midi, str(Pitch("C", 1, 4))
    (61, 'C#4')
    """

    step: str
    alter: int
    octave: int

    def __post_init__(self) -> None:
        PitchClass(self.step, self.alter)  # one place checks the spelling
        if not -2 <= self.octave <= 11:
            raise MusicError(
                f"octave {self.octave} is out of range", accepted="Use octaves -1 to 9"
            )

    @classmethod
    def parse(cls, text: str) -> Pitch:
        """Read scientific pitch notation such as ``Bb3``; raises MusicError."""
        match = _PITCH_RE.fullmatch(text.strip())
        if match is None:
            raise MusicError(
                f"{text!r} is not a pitch",
                accepted="Write a note name and an octave, as in Bb3 or F#4",
            )
        return cls(match[1].upper(), _ALTER[match[2]], int(match[3]))

    @property
    def pitch_class(self) -> PitchClass:
        """The spelled pitch class."""
        return PitchClass(self.step, self.alter)

    @property
    def midi(self) -> int:
        """MIDI note number (C4 is 60)."""
        return 12 * (self.octave + 1) + _NATURAL[self.step] + self.alter

    @property
    def frequency(self) -> float:
        """Frequency in hertz, equal temperament at A4 = 440 Hz (ISO 16)."""
        return float(440.0 * 2.0 ** ((self.midi - 69) / 12))

    @property
    def staff_position(self) -> int:
        """Letter steps above C0: the height on a staff."""
        return 7 * self.octave + STEPS.index(self.step)

    @property
    def name(self) -> str:
        """Scientific name, as in ``Bb3``."""
        return f"{self.step}{_ACCIDENTAL[self.alter]}{self.octave}"

    def __str__(self) -> str:
        return self.name

    def transpose(self, interval: Interval) -> Pitch:
        """This pitch moved by ``interval``; past a triple accidental the nearest plain spelling."""
        position = self.staff_position + interval.steps
        octave, index = divmod(position, 7)
        step = STEPS[index]
        alter = self.midi + interval.semitones - (12 * (octave + 1) + _NATURAL[step])
        if -3 <= alter <= 3:
            return Pitch(step, alter, octave)
        return spell_midi(self.midi + interval.semitones, PitchClass(step, 0).fifths)

    def interval_to(self, other: Pitch) -> Interval:
        """The directed interval from this pitch to ``other``."""
        return Interval(other.staff_position - self.staff_position, other.midi - self.midi)


def spell_midi(midi: int, center: int = 2) -> Pitch:
    """Spell a MIDI number by the name nearest a point on the line of fifths.

    Parameters
    ----------
    midi : int
        MIDI note number, 0 to 127.
    center : int
        Line-of-fifths place the spelling should stay close to. The default 2 (D) gives
        Eb Bb F C G D A E B F# C# G#, the usual neutral spelling (Temperley 2001, ch. 5).

    Notes
    -----
    A tie (six fifths either side) goes to the flat name.
    """
    if not 0 <= midi <= 127:
        raise MusicError(f"{midi} is not a MIDI note number", accepted="Use 0 to 127")
    wanted = midi % 12
    # Places on the line of fifths that sound as this pitch class are 12 apart.
    base = (wanted * 7) % 12
    fifths = min(
        (base + 12 * k for k in range(-3, 4)), key=lambda place: (abs(place - center), place)
    )
    cls = PitchClass.from_fifths(fifths)
    octave = (midi - _NATURAL[cls.step] - cls.alter) // 12 - 1
    return Pitch(cls.step, cls.alter, octave)
