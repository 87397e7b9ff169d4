"""Engraving, neck diagram, handout: a lick and its Analysis made visible."""

from linewright.page.engraving import Engraving, engrave, engrave_pages
from linewright.page.neck import neck_svg

__all__ = ["Engraving", "engrave", "engrave_pages", "neck_svg"]
