"""Engraving, rhythm strip, neck diagram, handout: a lick and its Analysis made visible."""

from linewright.page.engraving import Engraving, Labels, engrave, engrave_pages
from linewright.page.handout import PAPERS, handout_pdf
from linewright.page.neck import neck_svg
from linewright.page.strip import rhythm_strip_svg

__all__ = [
    "PAPERS",
    "Engraving",
    "Labels",
    "engrave",
    "engrave_pages",
    "handout_pdf",
    "neck_svg",
    "rhythm_strip_svg",
]
