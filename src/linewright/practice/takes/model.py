"""The values a judged take is made of.

Times in seconds are from the start of the recording; times in quarters from the first beat of
bar 1. Note indexes refer to ``Take.lick.notes``, bars are numbered from 1.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final

from linewright.analysis import Analysis
from linewright.practice.model import Done
from linewright.score import ChordSpan, Lick, Meter, PlayedNote

__all__ = ["SURE", "Ground", "PlacedNote", "RuleResult", "Take", "Terms", "Timing", "Verdict"]

#: Confidence from which a note may count against a player. Of notes heard at 0.9 or more, 993 to
#: 999 in 1000 were right in every condition measured but loud clicks (docs/hearing.md).
SURE: Final = 0.85


@dataclass(frozen=True)
class Ground:
    """What a take is played over.

    Parameters
    ----------
    meter : Meter
    unit : Fraction
        Quarters of one slot of the step's steady stream.
    chords : tuple of ChordSpan
        Of one round; it goes round and round.
    length : Fraction
        Quarters of one round.
    beat : Fraction
        What tempos count, in quarters.
    swing : Fraction or None
        Long : short the step is written with.
    """

    meter: Meter
    unit: Fraction
    chords: tuple[ChordSpan, ...]
    length: Fraction
    beat: Fraction
    swing: Fraction | None = None

    @classmethod
    def of(cls, line: Lick, unit: Fraction) -> Ground:
        """The ground of a step: meter, chords and swing of one of its lines."""
        beat = line.tempo.beat if line.tempo else line.meter.beat
        return cls(line.meter, unit, line.chords, line.length, beat, line.swing)


@dataclass(frozen=True)
class Terms:
    """What a take is judged by: the rules, what it is played over, and the lick behind it all;
    ``places`` are pitches (MIDI numbers) with the only string and fret at which the step, or else
    the lick, has them.
    """

    done: Done
    ground: Ground
    analysis: Analysis
    places: tuple[tuple[int, int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class PlacedNote:
    """A heard note on the grid.

    Parameters
    ----------
    heard : PlayedNote
    onset : Fraction
        The slot, in quarters.
    late_ms : float
        How late against the grid as the player keeps it (negative: early), the recording's delay
        taken off where it is known.
    off_grid : bool
        Whether it came between the slots of the step's stream (an ornament, a quicker note).
    """

    heard: PlayedNote
    onset: Fraction
    late_ms: float
    off_grid: bool

    @property
    def is_sure(self) -> bool:
        """Whether the note was heard well enough to count against a player."""
        return self.heard.confidence >= SURE


@dataclass(frozen=True, slots=True)
class Timing:
    """How a take stands to its click.

    Parameters
    ----------
    mean_ms : float
        Average distance from the click, late above zero.
    spread_ms : float
        Standard deviation about the player's own mean, drift and swing.
    drift_ms : float
        How much later (or earlier) the end is than the beginning.
    swing : float or None
        Long : short of the eighths as played, None where there are too few.
    bpm : float
        The tempo actually kept, in the step's beat.
    is_placed : bool
        Whether the click's place in the recording is known, so that the mean says something
        about the player.
    count : int
        Notes measured.
    """

    mean_ms: float
    spread_ms: float
    drift_ms: float
    swing: float | None
    bpm: float
    is_placed: bool
    count: int


@dataclass(frozen=True)
class Take:
    """A take written down: heard notes on the grid, and the lick they make.

    ``lick`` has one note for each of ``notes``; ``flow`` is the longest stretch without a stop,
    in quarters from and to.
    """

    notes: tuple[PlacedNote, ...]
    lick: Lick
    timing: Timing
    flow: tuple[Fraction, Fraction]
    bpm: Fraction


@dataclass(frozen=True, slots=True)
class RuleResult:
    """One rule of a step, held against a take.

    Parameters
    ----------
    key : str
        ``tempo``, ``flow``, ``mean``, ``spread``, ``drift``, ``notes``, ``use b5``, ``figure f1``,
        ``often b5``, ``leap``, ``chords``, ``variety`` or ``quote``.
    title : str
    passed : bool or None
        None when the take cannot tell.
    value, limit : float or None
        Measured and allowed, in ``unit``.
    unit : str
    words : str
        One sentence.
    notes : tuple of int
        Where it broke.
    bars : tuple of int
    severity : float
        How far past its limit, 1 at the limit; orders what to work on.
    """

    key: str
    title: str
    passed: bool | None
    value: float | None
    limit: float | None
    unit: str
    words: str
    notes: tuple[int, ...] = ()
    bars: tuple[int, ...] = ()
    severity: float = 0.0

    def to_dict(self) -> dict[str, Any]:
        """As JSON values."""
        return {
            "key": self.key,
            "title": self.title,
            "passed": self.passed,
            "value": self.value,
            "limit": self.limit,
            "unit": self.unit,
            "words": self.words,
            "notes": list(self.notes),
            "bars": list(self.bars),
        }


@dataclass(frozen=True)
class Verdict:
    """What a take amounts to.

    Parameters
    ----------
    passed : bool or None
        None when too little was heard to say.
    take : Take
    rules : tuple of RuleResult
    words : str
        The verdict, to be read out.
    work_on : str
        The one thing to work on next, '' when the take is done.
    suggestion : str
        A slower tempo or an easier drill, '' when none is called for.
    doubtful : tuple of int
        Notes not heard clearly; none of them counts against the player.
    """

    passed: bool | None
    take: Take
    rules: tuple[RuleResult, ...]
    words: str
    work_on: str
    suggestion: str
    doubtful: tuple[int, ...]

    def rule(self, key: str) -> RuleResult | None:
        """The result of one rule."""
        return next((rule for rule in self.rules if rule.key == key), None)

    @property
    def wrong(self) -> tuple[int, ...]:
        """Notes that some failed rule points at."""
        return tuple(sorted({i for rule in self.rules if rule.passed is False for i in rule.notes}))
