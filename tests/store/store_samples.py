from datetime import UTC, datetime, timedelta
from fractions import Fraction

from linewright.score import Instrument, Lick, Meter, Note, bars_for
from linewright.store import Dash, Facts
from linewright.theory import Key, Pitch

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
GUITAR = Instrument("guitar", tuple(Pitch.parse(p) for p in ("E4", "B3", "G3", "D3", "A2", "E2")))
MANDOLIN = Instrument(
    "mandolin", tuple(Pitch.parse(p) for p in ("E5", "A4", "D4", "G3")), courses=2
)


def minutes(n: float) -> datetime:
    return NOON + timedelta(minutes=n)


def make_lick(title="Porch step", pitches="G3 Bb3 C4 Db4", **fields) -> Lick:
    names = pitches.split()
    meter = fields.pop("meter", Meter(4, 4))
    key = fields.pop("key", Key.parse("G minor"))
    notes = tuple(Note(Fraction(i), Fraction(1), Pitch.parse(name)) for i, name in enumerate(names))
    fields.setdefault("instrument", GUITAR)
    return Lick(notes, bars_for(meter, Fraction(len(names)), key=key), title=title, **fields)


BLUES = Facts(
    "G",
    "minor pentatonic",
    "G minor pentatonic + b5 (blues)",
    ("b5",),
    ("blue note",),
    (Dash(0.0, 1.0, 55, 0), Dash(3.0, 1.0, 61, 1)),
)
DORIAN = Facts("A", "dorian", "A dorian")
NOTHING = Facts("G", "none fits", "no plain scale or arpeggio", ("b2", "#4"), ("passing",))
