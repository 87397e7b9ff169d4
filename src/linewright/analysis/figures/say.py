"""The two sentences of a figure: exactly what is there, and the idea to keep."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate

from linewright.analysis.figures.words import contour_words, moved_words
from linewright.analysis.prose import count, counted, join_words, times

__all__ = ["Said", "loose_words", "tight_words"]

#: A longer cell is told by its first notes only.
_MOST_TOLD, _FIRST_TOLD = 12, 6
_UNITS = {"frame steps": "frame step", "letters": "scale step", "semitones": "semitone"}
_NOTES = {"frame steps": "frame note", "letters": "scale note", "semitones": "semitone"}
#: Steps that are a little way.
_NEAR = 2
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


@dataclass(frozen=True, slots=True)
class Said:
    """What the sentences are made from; see :class:`~.model.Figure` for the terms.

    ``restart`` is the distance in half steps from the end of the first occurrence to the start
    of the second; ``cut`` is how many notes the last one has where it breaks off, else 0.
    """

    kind: str
    unit: str
    notes: tuple[str, ...]
    moves: tuple[float, ...]
    shifts: tuple[float, ...]
    edits: tuple[tuple[tuple[int, int], ...], ...]
    rhythms: tuple[bool, ...]
    times: int
    apart: bool
    restart: int
    way: int
    slot: int
    chord: str | None
    cut: int = 0


def tight_words(said: Said) -> tuple[tuple[str, ...], str]:
    """What changes in each later occurrence, and the sentence."""
    changes = tuple(
        _change(said, edits, same) for edits, same in zip(said.edits, said.rhythms, strict=True)
    )
    cell = " ".join(said.notes)
    if len(said.notes) > _MOST_TOLD and not said.kind.endswith(" run"):
        cell = " ".join(said.notes[:_FIRST_TOLD]) + " and on"
    if said.kind.endswith(" run"):
        way = "up" if said.way > 0 else "down"
        if said.kind == "arpeggio run" and said.chord is not None:
            tones = counted(len(said.notes), "chord tone")
            return (), f"{tones} of {said.chord} in a row {way}: {cell}"
        between = _between(said)
        if between:
            passing = f"{join_words(between)} in passing"
            return (), f"{counted(len(said.notes), 'note')} in a row {way}, {passing}: {cell}"
        notes = "note" if said.kind == "chromatic run" else _NOTES[said.unit]
        steps = " by semitones" if said.kind == "chromatic run" else ""
        return (), f"{counted(len(said.notes), notes)} in a row {way}{steps}: {cell}"
    if said.kind == "alternation":
        return changes, f"{said.notes[0]} and {said.notes[1]} by turns, {times(said.times)}"
    if said.kind == "pedal":
        note = said.notes[said.slot]
        return changes, f"{note} comes back {times(said.times)} between moving notes"
    if said.kind == "repetition" and len(said.notes) == 1:
        return changes, f"{cell} struck {times(said.times)}"
    notes = counted(len(said.notes), "note")
    sentence = f"{notes} ({cell}), then " + _moved(said)
    told = [f"the {_ordinal(k + 2)} time {change}" for k, change in enumerate(changes) if change]
    if said.cut:
        told.append(f"the last time only the first {count(said.cut)}")
    return changes, sentence + (f"; {join_words(told)}" if told else "")


def _between(said: Said) -> list[str]:
    """The notes of a scale run that lie between two frame notes."""
    if said.kind != "scale run":
        return []
    heights = accumulate(said.moves)
    return [note for note, height in zip(said.notes[1:], heights, strict=True) if height % 1]


def _moved(said: Said) -> str:
    unit = _UNITS[said.unit]
    again = "again" if said.times == 2 else f"{times(said.times - 1)} more"
    later = " after other notes" if said.apart else ""
    if said.kind == "repetition":
        return f"{again} at the same pitch{later}"
    each = " each time" if said.times > 2 else ""
    if len(set(said.shifts)) == 1:
        return f"{again} {moved_words(said.shifts[0], unit)}{each}{later}"
    return f"{again}{later}: " + join_words([moved_words(shift, unit) for shift in said.shifts])


def _change(said: Said, edits: tuple[tuple[int, int], ...], same_rhythm: bool) -> str:
    parts = []
    if len(edits) > 2:
        parts.append(f"{counted(len(edits), 'note')} are different")
        edits = ()
    for place, size in edits:
        last = place == len(said.notes) - 1
        which = "last" if last else _ordinal(place + 1)
        parts.append(f"the {which} note is {moved_words(size / 2, _UNITS[said.unit])}")
    if not same_rhythm:
        parts.append("the rhythm is different")
    return join_words(parts)


def _ordinal(number: int) -> str:
    return _ORDINALS[number - 1] if number <= len(_ORDINALS) else f"{number}th"


def loose_words(said: Said) -> str:
    """The idea a player would keep."""
    way = "climbs" if said.way > 0 else "falls"
    if said.kind == "scale run":
        through = "frame" if said.unit == "frame steps" else "scale"
        if _between(said):
            between = counted(len(_between(said)), "note")
            between = "a note" if between == "one note" else between
            return f"{way} through the {through}, taking {between} between on the way"
        return f"{way} straight through the {through}"
    if said.kind == "arpeggio run":
        return f"{way} straight through the notes of a chord"
    if said.kind == "chromatic run":
        return f"{way} fret by fret"
    if said.kind == "alternation":
        return "swings back and forth between two notes"
    if said.kind == "pedal":
        return "keeps coming back to one note while the notes between it move"
    does, again = contour_words(said.moves, _NOTES[said.unit])
    if said.kind == "repetition":
        if len(said.notes) == 1:
            return "stays on one note"
        free = {place for edits in said.edits for place, _ in edits}
        if free == {len(said.notes) - 1}:
            return f"{does}, then says it again with a new ending"
        if free:
            return f"{does}, then says it again with {counted(len(free), 'note')} changed"
        if not all(said.rhythms):
            return f"{does}, then says the same notes again in another rhythm"
        return f"{does}, then says it again"
    if said.apart:
        return f"{does}, and comes back later on other notes"
    if any(a * b < 0 for a in said.moves for b in said.moves) and said.shifts[0]:
        # From the end of a winding cell the ear does not measure: from its beginning it does.
        far = "a little " if abs(said.shifts[0]) <= _NEAR else ""
        start = f"starts again {far}{'higher' if said.shifts[0] > 0 else 'lower'}"
    else:
        far = "a little " if abs(said.restart) <= 2 * _NEAR else ""
        where = "higher" if said.restart > 0 else "lower"
        start = f"restarts {far}{where}" if said.restart else "restarts on the same note"
    more = "" if said.times == 2 else f", {count(said.times)} times in all"
    return f"{does}, {start}, {again}{more}"
