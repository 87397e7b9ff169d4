"""Figures: what recurs in a lick, by the cheapest explanation.

A melody can be told in two ways: note by note (the plain code, :mod:`.plain`), or by naming
figures and then only what they leave open. The figures reported are those of the telling that
takes the fewest bits in all: a two-part code (Rissanen 1978), in which a figure first pays
for its model and then for what it leaves open. Repeated patterns as compression go back to
Meredith's COSIATEC (2013) on the point sets of Meredith, Lemström and Wiggins (2002); parallel
viewpoints to Conklin and Anagnostopoulou (2001); segments under transposition with small
changes to Nieto and Farbood (2014). What differs here: every note belongs to one figure or to
none, frame steps come before semitones, copies may be varied, and the choice is made for the
whole melody at once by dynamic programming instead of pattern by pattern.

The code, in bits:

- *Plain*: each note's move from the note before (size, then whether it keeps the direction),
  its length and its join (plucked, hammered, pulled, slid), with probabilities fitted to the
  lick itself for nothing.
- *Place* of a figure: where it could begin as well (:mod:`.places`); a bar line or a beat is
  cheaper, and so is the place in the bar at which a returning cell stood before.
- *Head*: kind, viewpoint, cell length, number of occurrences (:mod:`.prices`).
- *Cell*: its moves plainly, or as a run, or as a run that turns once.
- *Copies*: how far each is moved (once, when the shift is steady), which notes differ and by
  how much, whether rhythm and joins are kept. Everything else in a copy is free.
- *Runs*, alternation, repeated note and pedal: direction, length, the second note, the moving
  line. A run that turns is one idea, told as one and reported as the runs it is made of.
- What covers the whole lick need not say how long it is kept up.

A figure is kept only when it saves more than it costs. A code that must name what it claims
cannot save many bits on chance: the probability that any code saves ``k`` bits on notes that
really come from the plain model is at most 2 to the minus ``k`` (no hypercompression,
Grünwald 2007, 3.3), and the price of the place is what accounts for having looked everywhere.
One constant is calibrated rather than derived, and says so: :data:`.prices.RETURN_REFUND`. The
share of random phrases with any figure is measured in ``benchmarks/planted_figures.py``.
"""

from linewright.analysis.figures.find import find_figures
from linewright.analysis.figures.model import Figure, Loose, Tight
from linewright.analysis.figures.motion import Motion, motion

__all__ = ["Figure", "Loose", "Motion", "Tight", "find_figures", "motion"]
