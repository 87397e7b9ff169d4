"""Frame, outside notes, figures, rhythm, chords: a lick in, one Analysis out."""

from linewright.analysis.model import Analysis, NoteFact, OutsideNote, Reading
from linewright.analysis.reader import analyze

__all__ = ["Analysis", "NoteFact", "OutsideNote", "Reading", "analyze"]
