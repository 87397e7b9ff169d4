"""What a listener reports about a recording."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from linewright.score.performance import PlayedNote

__all__ = ["Heard"]


@dataclass(frozen=True)
class Heard:
    """The notes of a recording, and what else was noticed while listening.

    Parameters
    ----------
    notes : tuple of PlayedNote
        In order of onset; seconds from the start of the recording.
    duration_s : float
        Length of the recording.
    tuning_cents : float
        How far the instrument stands from A = 440 Hz, -50 to 50; already taken out of the notes'
        ``cents``. 0 where nothing was heard.
    noise_db : float
        Level of the background below the loudest playing, in decibels (negative); -120 or so for
        a silent background.
    echo_s : float or None
        How much later than given the known clicks or band were found in the recording, or None
        where none were given or none were found in it.
    warnings : tuple of str
        Plain sentences about the recording: silent, clipped, several notes at once, noisy.
    """

    notes: tuple[PlayedNote, ...]
    duration_s: float
    tuning_cents: float = 0.0
    noise_db: float = -120.0
    echo_s: float | None = None
    warnings: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """The report in plain values, as ``linewright hear --json`` prints it."""
        return {
            "duration_s": round(self.duration_s, 3),
            "tuning_cents": round(self.tuning_cents, 1),
            "noise_db": round(self.noise_db, 1),
            "echo_s": None if self.echo_s is None else round(self.echo_s, 4),
            "warnings": list(self.warnings),
            "notes": [
                {
                    "onset_s": round(note.onset_s, 4),
                    "offset_s": round(note.offset_s, 4),
                    "midi": note.midi,
                    "cents": round(note.cents, 1),
                    "strength": round(note.strength, 3),
                    "attack": note.attack,
                    "confidence": round(note.confidence, 3),
                }
                for note in self.notes
            ],
        }
