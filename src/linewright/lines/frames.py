"""The frame under each chord: kept on the home tonic, or moved with the chord.

Moved, it stands to each chord as the lick's frame stood to the chord it was heard over; a chord
of another quality than the lick ever met takes the near relative of the frame that has the
chord's third (common practice: major and minor pentatonic, mixolydian for a dominant, dorian
for a minor chord).
"""

from __future__ import annotations

from linewright.analysis import Analysis
from linewright.lines.heard import NOTES_HEARD
from linewright.theory import ChordSymbol, Frame, PitchClass, collection

__all__ = ["follows_chords", "frame_over", "heard_thirds"]

_MINOR_OF = {
    "major pentatonic": "minor pentatonic", "major": "dorian", "mixolydian": "dorian",
    "lydian": "dorian", "lydian dominant": "dorian",
    "phrygian dominant": "natural minor", "mixolydian flat 6": "natural minor",
}  # fmt: skip
_MAJOR_OF = {
    "minor pentatonic": "major pentatonic", "dorian": "mixolydian", "natural minor": "major",
    "phrygian": "major", "harmonic minor": "major", "melodic minor": "major",
}  # fmt: skip
#: Played over major and dominant chords alike where the lick says nothing of its chords.
_BLUES = "minor pentatonic"
_ARPEGGIOS = {
    "": "major triad arpeggio", "m": "minor triad arpeggio", "dim": "diminished triad arpeggio",
    "aug": "augmented triad arpeggio", "6": "major sixth arpeggio", "m6": "minor sixth arpeggio",
    "7": "dominant seventh arpeggio", "maj7": "major seventh arpeggio",
    "m7": "minor seventh arpeggio", "m7b5": "half-diminished seventh arpeggio",
    "dim7": "diminished seventh arpeggio", "mMaj7": "minor major seventh arpeggio",
    "aug7": "augmented seventh arpeggio",
}  # fmt: skip


def follows_chords(analysis: Analysis) -> bool:
    """Whether the lick's own frame moves with its chords; the notes heard stay at home."""
    if analysis.frame is not None and analysis.frame.collection.name == NOTES_HEARD:
        return False
    tonics = {span.frame.tonic.number for span in analysis.spans if span.frame is not None}
    return len(tonics) > 1


def heard_thirds(analysis: Analysis) -> frozenset[str]:
    """Thirds (``major``, ``minor``) of the chords on the home tonic in the lick."""
    return frozenset(
        span.symbol.third
        for span in analysis.lick.chords
        if span.symbol is not None and span.symbol.root.number == analysis.tonic.number
    )


def frame_over(
    home: Frame, chord: ChordSymbol | None, thirds: frozenset[str], root: PitchClass | None = None
) -> Frame:
    """The frame moved to a chord's root and fitted to its quality."""
    if chord is None:
        return home
    tonic = root or chord.root
    name = home.collection.name
    if home.collection.is_arpeggio:
        own = _ARPEGGIOS.get(chord.quality) or _ARPEGGIOS.get(_plain(chord))
        return Frame(tonic, collection(own) if own else home.collection)
    if "b5" in {d.name for d in chord.degrees} and chord.third == "minor":
        seventh = chord.quality.startswith("dim")
        return Frame(tonic, collection("whole-half diminished" if seventh else "locrian"))
    if chord.third in thirds or chord.third == "none" or (not thirds and name == _BLUES):
        pass  # the lick itself plays its frame over such a chord
    elif chord.third == "minor" and name in _MINOR_OF:
        name = _MINOR_OF[name]
    elif chord.third == "major" and name in _MAJOR_OF:
        name = _MAJOR_OF[name]
    degrees = {d.name for d in collection(name).degrees}
    if chord.is_dominant and "3" in degrees and "7" in degrees:
        name = "mixolydian"
    elif "7" in {d.name for d in chord.degrees} and {"3", "b7"} <= degrees:
        name = "major"
    return Frame(tonic, collection(name))


def _plain(chord: ChordSymbol) -> str:
    if chord.is_dominant:
        return "7"
    return {"minor": "m7", "major": "", "none": ""}[chord.third]
