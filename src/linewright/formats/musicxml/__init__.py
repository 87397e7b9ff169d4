"""MusicXML 4.0, plain and compressed, in and out.

Read with music21 for time and with the elements themselves for everything else (strings, frets,
bends, tunings, chord kinds); written element by element, since music21's own writer drops
``staff-details``, bends and the strings of a double stop's lower notes.
"""

from linewright.formats.musicxml.read import read_musicxml
from linewright.formats.musicxml.write import write_musicxml, write_mxl

__all__ = ["read_musicxml", "write_musicxml", "write_mxl"]
