"""Engraving, neck diagram, handout: a lick and its Analysis made visible."""

from linewright.page.engraving import Engraving, engrave, engrave_pages

__all__ = ["Engraving", "engrave", "engrave_pages"]
