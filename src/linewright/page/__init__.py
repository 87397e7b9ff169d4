"""Engraving, neck diagram, handout: a lick and its Analysis made visible."""

from linewright.page.engraving import Engraving, engrave, engrave_pages
from linewright.page.handout import PAPERS, handout_pdf
from linewright.page.neck import neck_svg

__all__ = ["PAPERS", "Engraving", "engrave", "engrave_pages", "handout_pdf", "neck_svg"]
