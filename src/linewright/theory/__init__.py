"""Pitch, spelling, intervals, degrees, scales, keys and chords: pure values."""

from linewright.theory.chords import QUALITIES, ChordSymbol
from linewright.theory.degrees import Degree, degree_of
from linewright.theory.keys import MODES, Key
from linewright.theory.pitch import STEPS, Interval, Pitch, PitchClass, spell_midi
from linewright.theory.scales import COLLECTIONS, COLOURS, Collection, Colour, Frame, collection

__all__ = [
    "COLLECTIONS",
    "COLOURS",
    "MODES",
    "QUALITIES",
    "STEPS",
    "ChordSymbol",
    "Collection",
    "Colour",
    "Degree",
    "Frame",
    "Interval",
    "Key",
    "Pitch",
    "PitchClass",
    "collection",
    "degree_of",
    "spell_midi",
]
