"""Instruments and tunings, where a pitch lies on the neck, and the search for a fingering."""

from linewright.fretboard.cost import FingeringCost, reach_of
from linewright.fretboard.instruments import (
    INSTRUMENTS,
    InstrumentKind,
    from_labels,
    instrument,
    parse_instrument,
)
from linewright.fretboard.places import (
    OPEN_TO,
    PARTIALS,
    Place,
    harmonic_places,
    places,
    position_name,
)
from linewright.fretboard.search import finger, fingering_cost, hand_positions

__all__ = [
    "INSTRUMENTS",
    "OPEN_TO",
    "PARTIALS",
    "FingeringCost",
    "InstrumentKind",
    "Place",
    "finger",
    "fingering_cost",
    "from_labels",
    "hand_positions",
    "harmonic_places",
    "instrument",
    "parse_instrument",
    "places",
    "position_name",
    "reach_of",
]
