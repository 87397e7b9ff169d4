"""Where a pitch lies on the neck."""

from __future__ import annotations

from typing import Final, NamedTuple

from linewright.score import Instrument

__all__ = ["OPEN_TO", "PARTIALS", "Place", "harmonic_places", "places", "position_name"]

#: Semitones above the open string of the natural harmonic at a fret (partials 2 to 6 of the
#: string, rounded to equal temperament).
PARTIALS: Final[dict[int, int]] = {
    12: 12, 7: 19, 19: 19, 5: 24, 24: 24, 4: 28, 9: 28, 16: 28, 3: 31,
}  # fmt: skip

#: With open strings the hand is in open position up to here: in D it has nothing at fret 1.
OPEN_TO: Final = 2
_ORDINALS: Final = (
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth",
    "tenth", "eleventh", "twelfth",
)  # fmt: skip


class Place(NamedTuple):
    """A string (1 nearest the floor) and a fret counted from the capo."""

    string: int
    fret: int


def places(pitch_midi: int, instrument: Instrument) -> tuple[Place, ...]:
    """Every place where a pitch can be played, string 1 first; empty when it is out of range.

    >>> from linewright.fretboard import instrument
    >>> places(64, instrument("guitar"))[:3]  # the E above middle C
    (Place(string=1, fret=0), Place(string=2, fret=5), Place(string=3, fret=9))
    """
    found: list[Place] = []
    highest = instrument.frets - instrument.capo
    short = dict(instrument.short)
    for string, pitch in enumerate(instrument.strings, start=1):
        start = short.get(string, 0)
        open_midi = instrument.open_midi(string)
        if pitch_midi == open_midi:
            found.append(Place(string, 0))
            continue
        fret = pitch_midi - open_midi
        if start:  # frets count from the nut (or capo), the string from where it begins
            fret = pitch_midi - pitch.midi - instrument.capo + start
            if fret <= start - instrument.capo:
                continue
        if 0 < fret <= highest:
            found.append(Place(string, fret))
    return tuple(found)


def harmonic_places(pitch_midi: int, instrument: Instrument) -> tuple[Place, ...]:
    """Every place where touching a string sounds a pitch as a natural harmonic."""
    return tuple(
        Place(string, fret)
        for string in range(1, len(instrument.strings) + 1)
        for fret, partial in PARTIALS.items()
        if instrument.open_midi(string) + partial == pitch_midi
        and fret <= instrument.frets - instrument.capo
    )


def position_name(position: int, has_open: bool) -> str:
    """A position in a player's words: by the fret under the index finger, and open position for
    one with open strings no further up than :data:`OPEN_TO`.

    >>> position_name(1, True), position_name(5, False), position_name(5, True)
    ('open position', 'fifth position', 'fifth position')
    """
    if has_open and position <= OPEN_TO:
        return "open position"
    if position <= len(_ORDINALS):
        return f"{_ORDINALS[position - 1]} position"
    return f"fret {position}"
