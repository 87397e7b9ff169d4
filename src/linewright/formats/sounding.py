"""How a lick that was read sounds: on another instrument, with a capo, an octave lower."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Final

from linewright.errors import MusicError, OptionError, ReadError
from linewright.score import Instrument, Lick, Note, bent
from linewright.theory import Interval, Pitch, spell_midi

__all__ = ["octave_lower", "on_instrument"]

#: Half steps -> letters between two notes of the usual interval of that size.
_LETTERS: Final = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)


def octave_lower(lick: Lick, name: str, label: str) -> Lick:
    """A lick written an octave above its sound, as it sounds.

    Parameters
    ----------
    lick : Lick
    name, label : str
        Of the format it was read from.

    Raises
    ------
    OptionError
        When the format, or the file, says how the notes sound.
    """
    if name not in ("abc", "musicxml", "mxl"):
        raise OptionError(
            f"{label} says how its notes sound, so none is written an octave higher",
            accepted="Leave the octave out; it is for ABC and MusicXML",
        )
    if any(note.string is not None for note in lick.notes):
        raise OptionError(
            "this file names strings and frets, so it is known how its notes sound",
            accepted="Leave the octave out",
        )
    remark = "read as guitar music in the treble clef: sounds an octave lower than written"
    return replace(lick.transpose(Interval(-7, -12)), remarks=(*lick.remarks, remark))


def on_instrument(lick: Lick, instrument: Instrument, *, keeps_places: bool) -> Lick:
    """The lick on another instrument: a tab keeps its places and takes the pitches they have
    there, any other format keeps its pitches.

    Key and chords of a lick are those that sound. Where every string of a tab sounds as much higher
    or lower (a capo, a tuning down a half step), what the file calls key and chords are the shapes
    under the hand, and they move along.

    Parameters
    ----------
    lick : Lick
    instrument : Instrument
    keeps_places : bool
        Whether strings and frets are what was written, as in a tab.

    Raises
    ------
    ReadError
        When the places do not fit the instrument.
    """
    notes = lick.notes
    try:
        semitones = _all_strings_by(lick.instrument, instrument) if keeps_places else 0
        if semitones:
            return _sounding_by(lick, instrument, semitones)
        if keeps_places and lick.instrument != instrument:
            notes = tuple(_sounding_on(note, instrument) for note in notes)
        return replace(lick, instrument=instrument, notes=notes)
    except MusicError as error:
        raise ReadError(
            f"the strings and frets in the file do not fit the instrument asked for: {error}",
            accepted="Leave the instrument out to use the file's own",
        ) from error


def _all_strings_by(own: Instrument | None, other: Instrument) -> int:
    """Half steps by which every open string is higher than it was; 0 when they differ."""
    if own is None or len(own.strings) != len(other.strings):
        return 0
    strings = range(1, len(own.strings) + 1)
    apart = {other.open_midi(n) - own.open_midi(n) for n in strings}
    return apart.pop() if len(apart) == 1 else 0


def _sounding_by(lick: Lick, instrument: Instrument, semitones: int) -> Lick:
    """The same places, shapes and fingering, everything sounding so much higher."""
    octaves, rest = divmod(semitones, 12)
    moved = lick.transpose(Interval(7 * octaves + _LETTERS[rest], semitones))
    notes = tuple(
        replace(
            note,
            string=old.string,
            fret=old.fret,
            grace=tuple(
                replace(grace, string=before.string, fret=before.fret)
                for grace, before in zip(note.grace, old.grace, strict=True)
            ),
        )
        for note, old in zip(moved.notes, lick.notes, strict=True)
    )
    remarks = lick.remarks
    if lick.key is not None and moved.key is not None and rest:
        remark = f"sounds in {moved.key.name}, played with the shapes of {lick.key.name}"
        remarks = (*remarks, remark)
    return replace(moved, instrument=instrument, notes=notes, remarks=remarks)


def _sounding_on(note: Note, instrument: Instrument) -> Note:
    def pitch(string: int, fret: int, bend: Fraction = Fraction(0)) -> Pitch:
        return spell_midi(bent(instrument.midi_at(string, fret), bend))

    if note.string is None or note.fret is None:
        return note
    return replace(
        note,
        pitch=pitch(note.string, note.fret, note.bend),
        grace=tuple(
            grace
            if grace.string is None or grace.fret is None
            else replace(grace, pitch=pitch(grace.string, grace.fret))
            for grace in note.grace
        ),
    )
