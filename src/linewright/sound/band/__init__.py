"""The band behind a lick: guitar, bass and click, made from its chords and its meter."""

from linewright.sound.band.changes import Changes
from linewright.sound.band.click import CLICKS, ClickPlan
from linewright.sound.band.parts import band_parts
from linewright.sound.band.perform import performance_of
from linewright.sound.band.styles import STYLES, BandStyle, usual_style

__all__ = [
    "CLICKS", "STYLES", "BandStyle", "Changes", "ClickPlan", "band_parts", "performance_of",
    "usual_style",
]  # fmt: skip
