"""Two licks side by side: each in short, what they share, where they differ."""

from __future__ import annotations

from dataclasses import dataclass

from linewright.analysis import Analysis
from linewright.analysis.compare import Comparison, compare
from linewright.services.bring import made_of
from linewright.services.lesson import Score, facts_line, make_score
from linewright.services.shelf import Kept

__all__ = ["Comparison", "Pair", "Side", "compare_kept", "side_by_side"]

#: Size of the music where two licks stand on one page.
_SMALL = 0.34


@dataclass(frozen=True)
class Side:
    """One of the two licks: ``name`` is its title, told apart from an equal one."""

    id: int
    name: str
    frame: str
    facts: tuple[tuple[str, str], ...]
    score: Score


@dataclass(frozen=True)
class Pair:
    """Both licks and everything compared between them."""

    one: Side
    two: Side
    comparison: Comparison


def compare_kept(one: Kept, two: Kept) -> Comparison:
    """What two licks of the library share and where they differ."""
    return compare(*(made_of(kept.lick, kept.given_tonic) for kept in (one, two)))


def side_by_side(one: Kept, two: Kept) -> Pair:
    """Two licks of the library, engraved small and compared."""
    first, second = (made_of(kept.lick, kept.given_tonic) for kept in (one, two))
    found = compare(first, second)
    return Pair(_side(one, first, found.first), _side(two, second, found.second), found)


def _side(kept: Kept, analysis: Analysis, name: str) -> Side:
    facts = facts_line(analysis.lick)
    return Side(kept.id, name, analysis.frame_name, facts, make_score(analysis, scale=_SMALL))
