"""MIDI files in and out: quantised on the way in, with the grid and what it cost reported."""

from linewright.formats.midi.performance import write_performance
from linewright.formats.midi.read import read_midi
from linewright.formats.midi.write import write_midi

__all__ = ["read_midi", "write_midi", "write_performance"]
