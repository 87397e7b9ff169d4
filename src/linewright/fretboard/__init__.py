"""Instruments and tunings, where a pitch lies on the neck, and the search for a fingering."""

from linewright.fretboard.instruments import (
    INSTRUMENTS,
    InstrumentKind,
    from_labels,
    instrument,
    parse_instrument,
)
from linewright.fretboard.places import Place, places

__all__ = [
    "INSTRUMENTS",
    "InstrumentKind",
    "Place",
    "from_labels",
    "instrument",
    "parse_instrument",
    "places",
]
