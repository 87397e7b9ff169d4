"""What is in force in a voice, and how fields in the body change it."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Final

from linewright.errors import LinewrightError, ReadError, TooLarge
from linewright.formats.abc.accidentals import Pitches
from linewright.formats.abc.events import Change, Event, Part, Remarks, Sound
from linewright.formats.abc.header import (
    KeyField,
    read_key,
    read_meter,
    read_tempo,
    read_unit,
    settings,
)
from linewright.formats.abc.scanner import length_of
from linewright.formats.abc.vocabulary import SHORT, user_sign
from linewright.score import Meter, Tempo
from linewright.theory import Key

__all__ = ["FREE_METER", "VoiceState"]

#: What bars are counted in where there is no meter.
FREE_METER: Final = Meter(4, 4)
#: Events one voice may have.
_MAX_EVENTS: Final = 60_000


class VoiceState:
    """Meter, unit note length, key and decorations in force, and the events found so far.

    Parameters
    ----------
    meter : Meter or None
        In force at the start; None for free meter.
    unit : Fraction
        Unit note length in quarters.
    key : KeyField
    propagate : str
        How far an accidental holds: ``pitch``, ``octave`` or ``not``.
    user : dict
        Decoration names of single letters set by U: fields.
    remarks : Remarks
    """

    def __init__(
        self,
        meter: Meter | None,
        unit: Fraction,
        key: KeyField,
        *,
        propagate: str,
        user: dict[str, str],
        remarks: Remarks,
    ) -> None:
        self.events: list[Event] = []
        self.tempo: Tempo | None = None
        self.semitones = key.semitones
        self._meter = meter
        self._unit = unit
        self._durations: dict[str, Fraction] = {}  # length sign -> quarters, for this unit
        self._key: Key | None = key.key
        self._pitches = Pitches(key.alters, key.octaves, propagate)
        self._decorations = {**SHORT, **user}
        self._remarks = remarks
        self._line = 0
        self._before = 0

    def field(self, letter: str, value: str) -> None:
        """Apply a field in the body: K:, M:, L:, Q:, V:, U: change the music, others pass."""
        try:
            if letter == "L":
                self._unit, self._durations = read_unit(value), {}
            elif letter == "M":
                self._meter = read_meter(value)
                self._append(Change(self._meter or FREE_METER, self._key))
            elif letter == "K":
                self._set_key(read_key(value))
            elif letter == "Q":
                tempo, remark = read_tempo(value, self._unit)
                if not any(isinstance(e, Sound) for e in self.events[:50]):
                    self.tempo = tempo or self.tempo
                elif tempo is not None and tempo != self.tempo:
                    remark = "a change of tempo was left out"
                if remark:
                    self._remark(remark)
            elif letter == "V":
                octaves, semitones, _ = settings(value)
                self._pitches.octaves = octaves or self._pitches.octaves
                self.semitones = semitones or self.semitones
            elif letter == "P":
                self._append(Part(value))
            elif letter == "U":
                self._decorations.update(user_sign(value))
        except LinewrightError as error:
            if error.line is not None:
                raise
            raise ReadError(error.message, line=self._line, accepted=error.accepted) from error

    def _duration(self, sign: str) -> Fraction:
        """Quarters that a length sign means; raises MusicError."""
        found = self._durations.get(sign)
        if found is None:
            found = self._durations[sign] = self._unit * length_of(sign)
        return found

    def _set_key(self, found: KeyField) -> None:
        if found.remark:
            self._remark(found.remark)
        self._pitches.octaves = found.octaves or self._pitches.octaves
        if not found.has_key:
            return
        self._pitches.octaves = found.octaves
        self._key, self._pitches.alters = found.key, found.alters
        self._pitches.new_bar()
        self._append(Change(self._meter or FREE_METER, self._key))

    def _error(self, message: str, match: re.Match[str], accepted: str | None = None) -> ReadError:
        return ReadError(
            message, line=self._line, column=self._before + match.start() + 1, accepted=accepted
        )

    def _remark(self, message: str, match: re.Match[str] | None = None) -> None:
        column = self._before + match.start() + 1 if match is not None else 0
        self._remarks.add(message, self._line, column)

    def _append(self, event: Event) -> None:
        if len(self.events) >= _MAX_EVENTS:
            raise TooLarge(
                f"the tune has more than {_MAX_EVENTS:,} notes and signs",
                accepted="Bring in the wanted bars alone",
                line=self._line,
            )
        self.events.append(event)
