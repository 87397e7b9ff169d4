"""Why each note of a line is there, in a sentence."""

from __future__ import annotations

from linewright.lines.figure_plans import FigurePlan, Node
from linewright.lines.slots import Slot
from linewright.lines.usage import OutsideUse
from linewright.theory import ChordSymbol

__all__ = ["figure_why", "frame_why", "outside_why", "pinned_why"]

_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


def _tone(chord: ChordSymbol | None, midi: int) -> str | None:
    """What a pitch is in a chord, as in ``the 3 of C7``; None for no chord tone."""
    if chord is None:
        return None
    above = (midi - chord.root.number) % 12
    for degree in chord.degrees:
        if degree.semitones == above and degree.number <= 7:
            return f"the {degree} of {chord}" if degree.number > 1 else f"the root of {chord}"
    return None


def frame_why(slot: Slot, midi: int, degree: str, *, first: bool, last: bool) -> str:
    """A plain note of the frame: its degree, and what it does at a change, a beat or an end."""
    tone = _tone(slot.chord, midi)
    what = f"frame: the {degree}"
    if last:
        return f"{what} ends the line" + (f" on {tone}" if tone else "")
    if slot.closes:
        return f"{what} ends the phrase" + (f" on {tone}" if tone else "")
    if tone and slot.arrives and not first:
        return f"{what} lands on {tone} as the chord changes"
    if tone and slot.on_beat:
        return f"{what} is {tone}, on the beat"
    return what + (f", {tone}" if tone else "")


def figure_why(plan: FigurePlan, node: Node, slot: Slot, midi: int, degree: str) -> str:
    """A note of a figure: which one, which cell, which note of it."""
    tone = _tone(slot.chord, midi)
    if plan.kind.endswith(" run"):
        where = f"{_ordinal(node.place)} note"
    elif plan.kind == "alternation":
        where = f"turn {node.cell + 1}"
    else:
        where = f"its {_ordinal(node.cell)} cell, {_ordinal(node.place)} note"
    return f"figure {plan.tag} ({plan.kind}), {where}: the {degree}" + (f", {tone}" if tone else "")


def outside_why(
    use: OutsideUse,
    bar: str,
    heard: ChordSymbol | None,
    slot: Slot,
    after: int | None,
    tag: str | None,
) -> str:
    """An outside note: its function, where it comes from and goes, over which chord where that
    matters, and where, over which, it was learned.
    """
    tone = _tone(slot.chord, after) if after is not None else None
    goal = f"to the {use.after}" + (f", {tone}" if tone else "")
    part = "on the beat" if use.on_beat else "between beats"
    there = ""
    if use.over and slot.chord is not None:
        part += f", over {slot.chord}"
        there = f" over {heard}" if heard != slot.chord else ""
    inside = f" inside figure {tag}" if tag else ""
    return (
        f"outside: the {use.degree} ({use.function}){inside} comes from the {use.before} and goes"
        f" {goal}, {part}, as in {bar} of the lick{there}"
    )


def pinned_why(degree: str, *, outside: bool) -> str:
    """A note kept by the request."""
    return f"kept as asked: the {degree}" + (", outside the frame" if outside else "")


def _ordinal(number: int) -> str:
    return _ORDINALS[number] if number < len(_ORDINALS) else f"{number + 1}th"
