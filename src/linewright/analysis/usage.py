"""How a lick uses its outside notes: what comes before and after, where in the beat, what never.

A regularity is only claimed when the phrase gave it a fair chance. For "never" and "always" the
chance is the probability that the phrase, its notes shuffled, would show the same by accident;
above ``FAIR_CHANCE`` nothing is said. The counts go with every claim.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from linewright.analysis.facts import NoteFact
from linewright.analysis.prose import join_words, times
from linewright.analysis.weights import Neighbours
from linewright.score import Lick
from linewright.theory import Degree

__all__ = ["FAIR_CHANCE", "Usage", "read_usage"]

#: A claim stands only when chance alone would show the same less often than this.
FAIR_CHANCE: Final = 0.25


@dataclass(frozen=True, slots=True)
class Usage:
    """How one outside degree is used across a lick.

    Parameters
    ----------
    degree : Degree
    notes : tuple of int
        Indexes of its notes.
    before, after : tuple of (str, int)
        Degrees next to it with counts, most frequent first; ``start`` and ``end`` at a phrase end.
    on_beat, off_beat : int
        How often it falls on a beat and between beats.
    same_string : int or None
        How often it shares its string with both neighbours; None without strings.
    joined : int
        How often it is reached by a hammer-on, pull-off, slide or release.
    facts : tuple of str
        What always or never happens, in sentences with the counts.
    """

    degree: Degree
    notes: tuple[int, ...]
    before: tuple[tuple[str, int], ...]
    after: tuple[tuple[str, int], ...]
    on_beat: int
    off_beat: int
    same_string: int | None
    joined: int
    facts: tuple[str, ...]


def read_usage(
    lick: Lick, facts: Sequence[NoteFact], near: Sequence[Neighbours]
) -> tuple[Usage, ...]:
    """Usage of every outside degree, in order of first appearance."""
    groups: dict[int, list[int]] = {}
    for fact in facts:
        if fact.is_outside:
            groups.setdefault(fact.degree.semitones, []).append(fact.index)
    return tuple(_usage(lick, facts, near, notes) for notes in groups.values())


def _usage(
    lick: Lick, facts: Sequence[NoteFact], near: Sequence[Neighbours], notes: list[int]
) -> Usage:
    def name(index: int | None, edge: str) -> str:
        return edge if index is None else facts[index].degree.name

    before = Counter(name(near[i].before, "start") for i in notes)
    after = Counter(name(near[i].after, "end") for i in notes)
    on_beat = sum(lick.grid.on_beat[i] for i in notes)
    degree = facts[notes[0]].degree
    usage = Usage(
        degree=degree,
        notes=tuple(notes),
        before=tuple(before.most_common()),
        after=tuple(after.most_common()),
        on_beat=on_beat,
        off_beat=len(notes) - on_beat,
        same_string=_same_string(lick, near, notes),
        joined=sum(lick.notes[i].is_joined for i in notes),
        facts=(),
    )
    claims = [
        *_always(usage, lick),
        *_never_beside(usage, lick, facts, near),
        *_never_through(usage, facts, near),
        *_never_on_beat(usage, lick),
    ]
    return replace(usage, facts=tuple(claims))


def _same_string(lick: Lick, near: Sequence[Neighbours], notes: list[int]) -> int | None:
    if any(lick.notes[i].string is None for i in notes):
        return None
    count = 0
    for i in notes:
        sides = [s for s in (near[i].before, near[i].after) if s is not None]
        count += all(lick.notes[s].string == lick.notes[i].string for s in sides)
    return count


def _always(usage: Usage, lick: Lick) -> list[str]:
    """Where it always comes from or goes, when two or more notes agree and chance would not."""
    count = len(usage.notes)
    found = []
    for pairs, verb, edge in (
        (usage.before, "is always reached from", "start"),
        (usage.after, "always goes to", "end"),
    ):
        if count < 2 or len(pairs) != 1 or pairs[0][0] == edge:
            continue
        share = 1 / max(2, len({n.midi % 12 for n in lick.notes}) - 1)
        if share ** (count - 1) <= FAIR_CHANCE:
            found.append(f"the {usage.degree} {verb} the {pairs[0][0]} ({count} of {count})")
    return found


def _never_beside(
    usage: Usage, lick: Lick, facts: Sequence[NoteFact], near: Sequence[Neighbours]
) -> list[str]:
    """Degrees a semitone away that occur and are never its neighbour."""
    found = []
    total = len(lick.melody)
    for step in (-1, 1):
        other = (usage.degree.semitones + step) % 12
        places = [f.index for f in facts if f.degree.semitones == other]
        if len(places) < 2 or total < 4:
            continue
        touching = sum(
            1
            for i in usage.notes
            for side in (near[i].before, near[i].after)
            if side is not None and facts[side].degree.semitones == other
        )
        if touching:
            continue
        # Each of our notes has two sides; a shuffled neighbour is one of the others this often.
        share = len(places) / (total - 1)
        chance = (1 - min(share, 1.0)) ** (2 * len(usage.notes))
        if chance <= FAIR_CHANCE:
            there = facts[places[0]].degree
            found.append(
                f"the {usage.degree} ({times(len(usage.notes))}) and the {there}"
                f" ({times(len(places))}) both occur and are never played one after the other"
            )
    return found


def _never_through(
    usage: Usage, facts: Sequence[NoteFact], near: Sequence[Neighbours]
) -> list[str]:
    """A note between two heard semitone neighbours that is never run straight through."""
    below, above = ((usage.degree.semitones + step) % 12 for step in (-1, 1))
    names = {f.degree.semitones: f.degree.name for f in facts}
    if below not in names or above not in names or len(usage.notes) < 2:
        return []
    through = sum(
        near[i].rise_in == near[i].rise_out and abs(near[i].rise_in) == 1 for i in usage.notes
    )
    touches = [
        i for i in usage.notes if abs(near[i].rise_in) == 1 or abs(near[i].rise_out) == 1
    ]  # reached or left by a semitone: going on the same way was open each time
    if through or 0.5 ** len(touches) > FAIR_CHANCE:
        return []
    return [
        f"never a straight chromatic run {names[below]} {usage.degree} {names[above]}"
        f" (the {usage.degree} is played {times(len(usage.notes))}, touched by a semitone"
        f" {times(len(touches))})"
    ]


def _never_on_beat(usage: Usage, lick: Lick) -> list[str]:
    count = len(usage.notes)
    on = sum(lick.grid.on_beat[i] for i in lick.melody) / len(lick.melody)
    if count >= 2 and usage.on_beat == 0 and (1 - on) ** count <= FAIR_CHANCE:
        return [f"the {usage.degree} never falls on a beat ({count} of {count} between beats)"]
    if count >= 2 and usage.off_beat == 0 and on**count <= FAIR_CHANCE:
        return [f"the {usage.degree} always falls on a beat ({count} of {count})"]
    return []


def usage_words(usage: Usage) -> str:
    """One sentence: how often, from where, to where, and where in the beat."""
    count = len(usage.notes)

    def sides(pairs: tuple[tuple[str, int], ...]) -> str:
        return join_words(
            (f"the {n}" if n not in ("start", "end") else f"the {n} of the phrase")
            + (f" ({times(c)})" if len(pairs) > 1 else "")
            for n, c in pairs
        )

    where = (
        "on the beat" if not usage.off_beat else "between beats" if not usage.on_beat
        else f"on the beat {times(usage.on_beat)}, between beats {times(usage.off_beat)}"
    )  # fmt: skip
    return (
        f"The {usage.degree} is played {times(count)}: from {sides(usage.before)}"
        f" to {sides(usage.after)}, {where}"
    )
