"""Rules of content: figures and usages often enough, the chords met, variety."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from linewright.analysis.harmony import relate_to_chords
from linewright.analysis.prose import join_words, times
from linewright.practice.takes.figures import figure_places
from linewright.practice.takes.limits import bar_of, bars_of, past
from linewright.practice.takes.model import RuleResult, Take, Terms
from linewright.practice.takes.notes import NoteReading
from linewright.practice.takes.say import count_of, places_of

__all__ = ["hold_chords", "hold_figures", "hold_often", "hold_variety"]


def hold_figures(take: Take, terms: Terms) -> list[RuleResult]:
    """Each figure of the step, in its loose form, often enough."""
    found = []
    midi = [note.heard.midi for note in take.notes]
    sure = [note.is_sure for note in take.notes]
    for rule in terms.done.figures:
        # A note in doubt may be a wrong pitch, or no note at all: whichever favours the player.
        clear = [k for k, is_clear in enumerate(sure) if is_clear]
        places = figure_places(terms.analysis, rule.tag, midi, sure)
        without = figure_places(
            terms.analysis, rule.tag, [midi[k] for k in clear], [True] * len(clear)
        )
        if len(without) > len(places):
            places = tuple((clear[first], clear[last]) for first, last in without)
        title = f"The {rule.kind} ({rule.tag})"
        found.append(_came(take, terms, f"figure {rule.tag}", title, rule.times, rule.bars, places))
    return found


def hold_often(take: Take, terms: Terms, readings: Sequence[NoteReading]) -> list[RuleResult]:
    """Each usage of an outside note the step asks for, often enough."""
    found = []
    for number, use in enumerate(terms.done.uses):
        if not use.times:
            continue
        places = [(k, k) for k, reading in enumerate(readings) if reading.use == number]
        # a note in doubt beside the right neighbours may have been it
        said = f"{use.before}-{use.degree}-{use.after}"
        key = f"often {said}" if _shared(terms, use.degree) else f"often {use.degree}"
        found.append(_came(take, terms, key, said, use.times, use.bars, places))
    return found


def _shared(terms: Terms, degree: str) -> bool:
    return sum(1 for use in terms.done.uses if use.degree == degree and use.times) > 1


def _came(
    take: Take,
    terms: Terms,
    key: str,
    title: str,
    often: int,
    bars: int,
    places: Sequence[tuple[int, int]],
) -> RuleResult:
    """Whether something came often enough in what was played."""
    length = float((take.flow[1] - take.flow[0]) / terms.ground.meter.length)
    asked = max(1, round(often * length / bars)) if length >= bars else often
    count = len(places)
    passed: bool | None = count >= asked
    doubtful = sum(not note.is_sure for note in take.notes)
    if not passed and doubtful > max(2, len(take.notes) // 10):
        passed = None
    words = f"{title} comes {times(count)}"
    words += "." if passed else f"; at least {times(asked)} is asked in {length:.0f} bars."
    if passed is None:
        words += f" {count_of(doubtful, 'note')} could not be heard clearly, so this is left open."
    notes = tuple(k for first, last in places for k in range(first, last + 1))
    return RuleResult(
        key,
        title,
        passed,
        float(count),
        float(asked),
        "times",
        words,
        notes if passed else (),
        (),
        0.0 if passed or passed is None else 1 + (asked - count) / asked,
    )


def hold_chords(take: Take, terms: Terms) -> RuleResult | None:
    """Chord changes met by a tone of the new chord, as the analysis relates notes to chords."""
    asked = terms.done.chord_tones
    if asked is None:
        return None
    unsure = {k for k, note in enumerate(take.notes) if not note.is_sure}
    changes = relate_to_chords(take.lick).changes
    counted = [change for change in changes if change.first not in unsure]
    if not counted:
        return RuleResult(
            "chords",
            "Landing on the chords",
            None,
            None,
            asked,
            "share",
            "No chord change was heard clearly."
            if changes
            else "No note comes within half a beat of a chord change.",
        )
    missed = [change for change in counted if change.role == "tension"]
    share = 1 - len(missed) / len(counted)
    passed = share >= asked - 1e-9
    words = f"{len(counted) - len(missed)} of {len(counted)} chord changes meet a chord tone"
    notes = [change.first for change in missed]
    words += (
        "."
        if passed
        else (f"; {round(100 * asked)} percent are asked. Missed {places_of(take, notes)}.")
    )
    return RuleResult(
        "chords",
        "Landing on the chords",
        passed,
        round(share, 3),
        asked,
        "share",
        words,
        tuple(notes),
        bars_of(take, notes),
        0.0 if passed else 1 + (asked - share),
    )


def hold_variety(take: Take, terms: Terms) -> list[RuleResult]:
    """Not one bar over and over, and not the lick itself."""
    found = []
    bars: dict[int, list[int]] = {}
    for k, note in enumerate(take.notes):
        bars.setdefault(bar_of(take, note.onset), []).append(k)
    shapes = {bar: _shape(take, notes) for bar, notes in bars.items() if len(notes) >= 3}
    if len(shapes) >= 4:
        shape, count = Counter(shapes.values()).most_common(1)[0]
        share = count / len(shapes)
        passed = share <= terms.done.alike + 1e-9 or count < 3
        alike = [bar for bar, own in shapes.items() if own == shape]
        found.append(
            RuleResult(
                "variety",
                "Variety",
                passed,
                round(share, 3),
                terms.done.alike,
                "share of bars",
                "No one bar is played over and over."
                if passed
                else f"The same bar comes {times(count)} in {len(shapes)} bars"
                f" (bars {join_words([str(bar) for bar in alike])}).",
                bars=() if passed else tuple(alike),
                severity=0.0 if passed else 1 + share - terms.done.alike,
            )
        )
    first, count = _quotation(take, terms)
    passed = count <= terms.done.quoted
    notes = tuple(range(first, first + count)) if not passed else ()
    found.append(
        RuleResult(
            "quote",
            "Your own notes",
            passed,
            float(count),
            float(terms.done.quoted),
            "notes",
            "It is not the lick itself."
            if passed
            else f"{count} notes running are the lick's own, from {places_of(take, notes[:1])[3:]}.",
            notes,
            bars_of(take, notes[:1]),
            past(count, terms.done.quoted),
        )
    )
    return found


def _shape(take: Take, notes: Sequence[int]) -> tuple[tuple[Fraction, int], ...]:
    """Where in the bar and which note: the same bar again."""
    bar = take.lick.bar_at(take.notes[notes[0]].onset)
    return tuple((take.notes[k].onset - bar.onset, take.notes[k].heard.midi) for k in notes)


def _quotation(take: Take, terms: Terms) -> tuple[int, int]:
    """First note and length of the longest run that is the lick's melody, in any key."""
    lick = terms.analysis.lick
    source = _intervals([lick.notes[k].midi for k in lick.melody])
    own = _intervals([note.heard.midi for note in take.notes])
    best = (0, 0)
    before = [0] * (len(source) + 1)
    for k, interval in enumerate(own):
        row = [0] * (len(source) + 1)
        clear = take.notes[k].is_sure and take.notes[k + 1].is_sure
        for j, other in enumerate(source):
            if clear and interval == other:
                row[j + 1] = before[j] + 1
                if row[j + 1] + 1 > best[1]:
                    best = (k + 1 - row[j + 1], row[j + 1] + 1)
        before = row
    return best


def _intervals(midi: Sequence[int]) -> list[int]:
    return [b - a for a, b in itertools.pairwise(midi)]
