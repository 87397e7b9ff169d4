"""Band styles: what the guitar strikes and how the bass moves, bar by bar, in any meter.

The patterns are common practice: bass-and-strum puts the bass on the strong beats and the strum
on the weak ones; a swing rhythm guitar plays short chords on every beat with two and four a
little stronger; a waltz is one bass note and two strums; a ballad spreads its chords in eighths;
a shuffle plays the long and the short of each beat; a jig strums the first and the third of each
group of three.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from linewright.errors import OptionError
from linewright.score import Bar, Meter
from linewright.score.lick import Lick

__all__ = ["STYLES", "BandStyle", "Hit", "find_style", "hits", "usual_style"]


@dataclass(frozen=True)
class BandStyle:
    """A way to accompany.

    Parameters
    ----------
    name : str
        As the command line and the page call it.
    words : str
        What it is, for a list of choices.
    bass : str
        ``root-fifth``, ``walking`` or ``roots``.
    voicing : str
        As in :data:`linewright.sound.band.voicings.KINDS`.
    """

    name: str
    words: str
    bass: str
    voicing: str


#: Styles by name.
STYLES: Final[dict[str, BandStyle]] = {
    style.name: style
    for style in (
        BandStyle("boom-chick", "bass and strum, root and fifth", "root-fifth", "open"),
        BandStyle("swing", "short chords on every beat over a walking bass", "walking", "small"),
        BandStyle("waltz", "one bass note, two strums", "root-fifth", "open"),
        BandStyle("ballad", "spread chords over a slow bass", "root-fifth", "open"),
        BandStyle(
            "shuffle", "the long and the short of each beat, walking bass", "walking", "open"
        ),
        BandStyle("jig", "the first and third of each group of three", "root-fifth", "open"),
        BandStyle("plain", "each chord once a bar, left to ring", "roots", "open"),
    )
}


def find_style(name: str) -> BandStyle:
    """A style by its name; OptionError for one that there is not."""
    try:
        return STYLES[name]
    except KeyError:
        raise OptionError(
            f"no band style is called {name!r:.60}", accepted=f"Use {', '.join(STYLES)}"
        ) from None


def usual_style(lick: Lick) -> BandStyle:
    """The style that suits a lick's meter, swing, tempo and the name of its style."""
    meter, word = lick.meter, (lick.style or "").lower()
    quarter = float(lick.tempo.quarter_bpm) if lick.tempo is not None else 100.0
    beats = len(meter.beats)
    if len(set(meter.beats)) > 1 or beats not in (2, 3, 4, 6):
        return STYLES["plain"]
    if meter.is_compound:
        return STYLES["shuffle" if beats == 4 and "jig" not in word else "jig"]
    if "waltz" in word or (beats == 3 and "ballad" not in word):
        return STYLES["waltz"]
    if lick.swing is not None:
        bluesy = "shuffle" in word or "blues" in word
        return STYLES["shuffle" if bluesy else "swing"]
    if "swing" in word or "jazz" in word or "bebop" in word:
        return STYLES["swing"]
    if "shuffle" in word:
        return STYLES["shuffle"]
    slow = quarter * float(meter.beat) < 84
    if ("ballad" in word or "gospel" in word or "air" in word.split()) and slow:
        return STYLES["ballad"]
    return STYLES["boom-chick"]


@dataclass(frozen=True, slots=True)
class Hit:
    """Something the guitar does.

    Parameters
    ----------
    onset, duration : Fraction
        Quarters from the start of the music, before swing.
    kind : str
        ``bass`` (the lowest string of the shape), ``down``, ``up`` (strums) or ``spread`` (one
        string of the shape, the ``step``-th of the pattern).
    strength : float
    step : int
    """

    onset: Fraction
    duration: Fraction
    kind: str
    strength: float
    step: int = 0


def hits(style: BandStyle, bar: Bar) -> tuple[Hit, ...]:
    """What the guitar does in a bar; nothing in a pickup, where the lead begins alone."""
    if bar.number == 0:
        return ()
    pattern = _PATTERNS[style.name](bar.meter)
    return tuple(
        Hit(
            bar.onset + h.onset, min(h.duration, bar.duration - h.onset), h.kind, h.strength, h.step
        )
        for h in pattern
        if h.onset < bar.duration
    )


def _pulses(meter: Meter) -> list[tuple[Fraction, Fraction]]:
    """Onset and length of what is counted: the beats, or their halves in a simple meter of two."""
    pairs = list(zip(meter.beat_onsets, meter.beats, strict=True))
    if len(pairs) == 2 and not meter.is_compound and len(set(meter.beats)) == 1:
        half = meter.beat / 2
        return [(i * half, half) for i in range(4)]
    return pairs


def _boom_chick(meter: Meter) -> list[Hit]:
    if meter.is_compound:
        return _jig(meter, boom=True)
    pulses = _pulses(meter)
    found: list[Hit] = []
    for i, (at, length) in enumerate(pulses):
        is_boom = i == 0 or (len(pulses) % 2 == 0 and i % 2 == 0)
        if is_boom:
            found.append(Hit(at, length, "bass", 0.55 if i == 0 else 0.5))
        else:
            found.append(Hit(at, length * Fraction(3, 4), "down", 0.55))
    return found


def _swing(meter: Meter) -> list[Hit]:
    return [
        Hit(at, length * Fraction(11, 20), "down", 0.62 if i % 2 else 0.5)
        for i, (at, length) in enumerate(_pulses(meter))
    ]


def _ballad(meter: Meter) -> list[Hit]:
    part = 3 if meter.is_compound else 2
    found: list[Hit] = []
    for at, length in zip(meter.beat_onsets, meter.beats, strict=True):
        for i in range(part):
            onset = at + length * i / part
            found.append(
                Hit(onset, meter.length - onset, "spread", 0.45 if i else 0.52, len(found))
            )
    return found


def _shuffle(meter: Meter) -> list[Hit]:
    found: list[Hit] = []
    pairs = list(zip(meter.beat_onsets, meter.beats, strict=True))
    if not meter.is_compound:
        pairs = _pulses(meter)
    place = Fraction(2, 3) if meter.is_compound else Fraction(1, 2)
    for i, (at, length) in enumerate(pairs):
        found.append(Hit(at, length * place, "down", 0.62 if i % 2 else 0.55))
        found.append(Hit(at + length * place, length * (1 - place) * Fraction(2, 3), "up", 0.4))
    return found


def _jig(meter: Meter, boom: bool = False) -> list[Hit]:
    if not meter.is_compound:
        return _boom_chick(meter)
    found: list[Hit] = []
    for i, (at, length) in enumerate(zip(meter.beat_onsets, meter.beats, strict=True)):
        third = length / 3
        found.append(Hit(at, 2 * third, "bass" if boom else "down", 0.58 if i == 0 else 0.52))
        found.append(Hit(at + 2 * third, third, "down" if boom else "up", 0.42))
    return found


def _plain(meter: Meter) -> list[Hit]:
    return [Hit(Fraction(0), meter.length, "down", 0.5)]


_PATTERNS: Final = {
    "boom-chick": _boom_chick,
    "swing": _swing,
    "waltz": _boom_chick,
    "ballad": _ballad,
    "shuffle": _shuffle,
    "jig": _jig,
    "plain": _plain,
}
