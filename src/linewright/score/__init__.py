"""Note, Lick, Bar, ChordSpan, marks; meter arithmetic; validation; printable rhythm."""

from linewright.score.check import Problem
from linewright.score.instrument import Instrument
from linewright.score.lick import Lick, problems
from linewright.score.marks import MARKS, Mark, MarkKind
from linewright.score.meter import Bar, Meter, Tempo, bars_for, bars_from_lengths
from linewright.score.notation import Measure, Symbol, Tuplet, notate
from linewright.score.note import BREATH, ChordSpan, Grace, Note, bent
from linewright.score.outline import note_outline, outline
from linewright.score.performance import ATTACKS, VOICES, Part, Performance, PlayedNote, Stroke
from linewright.score.swing import swing_place, swung

__all__ = [
    "ATTACKS",
    "BREATH",
    "MARKS",
    "VOICES",
    "Bar",
    "ChordSpan",
    "Grace",
    "Instrument",
    "Lick",
    "Mark",
    "MarkKind",
    "Measure",
    "Meter",
    "Note",
    "Part",
    "Performance",
    "PlayedNote",
    "Problem",
    "Stroke",
    "Symbol",
    "Tempo",
    "Tuplet",
    "bars_for",
    "bars_from_lengths",
    "bent",
    "notate",
    "note_outline",
    "outline",
    "problems",
    "swing_place",
    "swung",
]
