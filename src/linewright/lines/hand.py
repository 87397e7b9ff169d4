"""Where each pitch of a line is played, and how far the hand may go between notes.

Every pitch gets one place and one hand position, the way a player keeps to a shape: its place
in the lick first, else one under the hand where the lick mostly lies, else the place that asks
for the smallest move from there. What is reachable is then a matter of two pitches and the time
between them, and a line can be kept playable note by note.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from linewright.fretboard import Place, hand_positions, places, reach_of
from linewright.score import Instrument, Lick

__all__ = ["HandMap", "hand_map", "most_frets"]

#: Seconds the hand takes to move one fret, and the least move any tempo allows.
_SECONDS_A_FRET: Final = 0.045
_ALWAYS: Final = 1


def most_frets(seconds: float) -> int:
    """Frets the hand may move in the time between two attacks (a working player's limit; ours).

    >>> most_frets(0.25), most_frets(0.1)
    (5, 2)
    """
    return max(_ALWAYS, min(12, int(seconds / _SECONDS_A_FRET + 1e-9)))


@dataclass(frozen=True)
class HandMap:
    """Place and hand position of every pitch (MIDI number) the instrument has."""

    instrument: Instrument
    place: Mapping[int, Place]
    position: Mapping[int, int]

    def apart(self, one: int, two: int) -> int:
        """Frets the hand moves between two pitches."""
        return abs(self.position[one] - self.position[two])


def hand_map(lick: Lick, instrument: Instrument, moved: int = 0) -> HandMap:
    """Places for every pitch, after a lick with places played ``moved`` semitones away."""
    reach = reach_of(instrument)
    positions = hand_positions(lick)
    main = Counter(positions).most_common(1)[0][0] if positions else 1
    own: dict[int, Place] = {}
    opens = any(note.fret == 0 for note in lick.notes) or main <= 2
    if not moved:
        for note in lick.notes:
            if note.string is not None and note.fret is not None and not note.marks:
                own.setdefault(note.midi, Place(note.string, note.fret))
    elif not opens:
        main = main + moved if 1 <= main + moved <= 14 else max(1, main + moved - 12)
    low = min(instrument.open_midi(s) for s in range(1, len(instrument.strings) + 1))
    chosen: dict[int, Place] = {}
    at: dict[int, int] = {}
    for midi in range(low, 128):
        options = places(midi, instrument)
        if not options:
            continue
        best = min(options, key=lambda p: (_away(p.fret, main, reach, opens), p.fret, p.string))
        if midi in own and _away(own[midi].fret, main, reach, True) <= 2:
            best = own[midi]
        chosen[midi] = best
        at[midi] = _nearest(best.fret, main, reach)
    return HandMap(instrument, chosen, at)


def _nearest(fret: int, main: int, reach: int) -> int:
    """The hand position nearest the main one that covers a fret without a stretch."""
    if not fret:
        return main
    return min(max(main, fret - reach + 1), fret)


def _away(fret: int, main: int, reach: int, opens: bool) -> float:
    if not fret:
        return 0.0 if opens and main <= 3 else 1.5 if opens else 4.0
    return abs(_nearest(fret, main, reach) - main)
