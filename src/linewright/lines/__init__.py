"""Lines: as many as wanted, playable, in the character of a lick and mixed as asked.

:func:`line_model` learns from an analysis; :meth:`LineModel.sample` makes a :class:`Line` to a
:class:`LineRequest` over a :class:`Progression`. What a line must never do is stated in
docs/lines.md and held by construction; the sampling is exact (:mod:`.chain`).
"""

from linewright.lines.line import Line, LineNote
from linewright.lines.model import LineModel, line_model
from linewright.lines.moved import Moved, moved
from linewright.lines.progression import FORMS, Progression, parse_progression
from linewright.lines.request import GRIDS, LineRequest

__all__ = [
    "FORMS",
    "GRIDS",
    "Line",
    "LineModel",
    "LineNote",
    "LineRequest",
    "Moved",
    "Progression",
    "line_model",
    "moved",
    "parse_progression",
]
