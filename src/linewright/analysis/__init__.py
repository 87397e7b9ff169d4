"""Frame, outside notes, figures, rhythm, chords: a lick in, one Analysis out."""

from linewright.analysis.reader import analyze
from linewright.analysis.model import Analysis, NoteFact, OutsideNote, Reading

__all__ = ["Analysis", "NoteFact", "OutsideNote", "Reading", "analyze"]
