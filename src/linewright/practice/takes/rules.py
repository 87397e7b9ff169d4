"""Each rule of a step held against a take: a value, what is allowed, and where it broke.

Nothing heard in doubt counts against the player: such a note is left out of what can fail and
counted in what can succeed. Where the numbers come from: mean and spread are the step's (see
``timing_source``); a drift of half a slot over the take and the shares of slips are ours, after
common practice.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from linewright.analysis.harmony import relate_to_chords
from linewright.practice.takes.figures import figure_places
from linewright.practice.takes.model import RuleResult, Take, Terms
from linewright.practice.takes.notes import NoteReading
from linewright.practice.takes.say import count_of, listed, places_of, semitones_of

__all__ = ["hold_rules"]

_LEAST_MEASURED: Final = 8
_BREATH: Final = Fraction(1)


def hold_rules(take: Take, terms: Terms, readings: Sequence[NoteReading]) -> tuple[RuleResult, ...]:
    """Every rule of the step, in the order they are said."""
    found: list[RuleResult | None] = [_tempo(take, terms), _flow(take, terms)]
    found += _timing(take, terms)
    found += [_notes(take, terms, readings), *_uses(take, terms, readings)]
    found += [_leaps(take, terms), *_figures(take, terms), *_often(take, terms, readings)]
    found += [_chords(take, terms), *_variety(take, terms)]
    return tuple(result for result in found if result is not None)


# -- time ----------------------------------------------------------------------------------
def _tempo(take: Take, terms: Terms) -> RuleResult:
    asked, played = terms.done.bpm, float(take.bpm)
    passed = played >= asked - 0.5
    words = (
        f"Played at {played:g}, the tempo of the step."
        if passed
        else f"Played at {played:g}; the step is done at {asked}."
    )
    return RuleResult(
        "tempo",
        "Tempo",
        passed,
        played,
        float(asked),
        "beats a minute",
        words,
        severity=0.0 if passed else 0.2,
    )


def _flow(take: Take, terms: Terms) -> RuleResult:
    bar = terms.ground.meter.length
    start, end = take.flow
    bars = (end - start) / bar
    asked = terms.done.bars
    # The last note may be short: what counts is that its beat was reached.
    passed = bars >= asked - terms.ground.meter.beat / bar
    whole = min(asked, round(float(bars), 1)) if passed else round(float(bars), 1)
    if passed:
        words = f"{asked} bars without a stop."
        where: tuple[int, ...] = ()
    else:
        broke = _bar(take, end)
        words = (
            f"The longest stretch without a stop is {whole:g} bars of {asked};"
            f" it breaks off in bar {broke}."
        )
        where = (broke,)
    return RuleResult(
        "flow",
        "Without a stop",
        passed,
        float(whole),
        float(asked),
        "bars",
        words,
        bars=where,
        severity=0.0 if passed else 1 + 2 * (1 - min(1.0, float(bars) / asked)),
    )


def _timing(take: Take, terms: Terms) -> list[RuleResult]:
    timing, done = take.timing, terms.done
    few = timing.count < _LEAST_MEASURED
    found = []
    late = "late" if timing.mean_ms > 0 else "early"
    if not timing.is_placed or few:
        why = (
            "too few notes were heard clearly"
            if few
            else "where the click stands in this recording is not known"
        )
        mean = RuleResult(
            "mean",
            "On the click",
            None,
            None,
            done.mean_ms,
            "ms",
            f"Early or late on average cannot be told: {why}.",
        )
    else:
        passed = abs(timing.mean_ms) <= done.mean_ms
        mean = RuleResult(
            "mean",
            "On the click",
            passed,
            round(timing.mean_ms, 1),
            done.mean_ms,
            "ms",
            f"On average {abs(timing.mean_ms):.0f} ms {late}"
            + (f"; {done.mean_ms:g} ms are allowed." if not passed else "."),
            severity=_past(abs(timing.mean_ms), done.mean_ms),
        )
    found.append(mean)
    if few:
        return found
    passed = timing.spread_ms <= done.spread_ms
    worst = () if passed else _loosest_bar(take)
    where = f" It is loosest in bar {worst[0]}." if worst else ""
    found.append(
        RuleResult(
            "spread",
            "Steady",
            passed,
            round(timing.spread_ms, 1),
            done.spread_ms,
            "ms",
            f"The notes spread by {timing.spread_ms:.0f} ms"
            + (f"; {done.spread_ms:g} ms are allowed.{where}" if not passed else "."),
            bars=worst,
            severity=_past(timing.spread_ms, done.spread_ms),
        )
    )
    limit = 500 * float(terms.ground.unit * 60 / (take.bpm * terms.ground.beat))
    passed = abs(timing.drift_ms) <= max(limit, 2 * done.mean_ms)
    way = "slows down" if timing.drift_ms > 0 else "speeds up"
    found.append(
        RuleResult(
            "drift",
            "Holding the tempo",
            passed,
            round(timing.drift_ms, 1),
            round(max(limit, 2 * done.mean_ms), 1),
            "ms",
            "The tempo holds from beginning to end."
            if passed
            else f"The take {way}: its end is {abs(timing.drift_ms):.0f} ms"
            f" {'behind' if timing.drift_ms > 0 else 'ahead of'} its beginning.",
            severity=_past(abs(timing.drift_ms), max(limit, 2 * done.mean_ms)),
        )
    )
    return found


def _loosest_bar(take: Take) -> tuple[int, ...]:
    """The bar whose notes stray most from the take's own mean."""
    mean = take.timing.mean_ms if take.timing.is_placed else 0.0
    stray: dict[int, list[float]] = {}
    for note in take.notes:
        if note.is_sure and not note.off_grid:
            stray.setdefault(_bar(take, note.onset), []).append((note.late_ms - mean) ** 2)
    full = {bar: sum(v) / len(v) for bar, v in stray.items() if len(v) >= 2}
    return (max(full, key=lambda bar: full[bar]),) if full else ()


# -- notes ---------------------------------------------------------------------------------
def _notes(take: Take, terms: Terms, readings: Sequence[NoteReading]) -> RuleResult:
    sure = [k for k, note in enumerate(take.notes) if note.is_sure]
    wrong = [k for k in sure if readings[k].kind == "wrong"]
    allowed = _slips(terms, len(sure))
    passed = len(wrong) <= allowed
    names = listed(dict.fromkeys(readings[k].degree for k in wrong))
    if not wrong:
        words = "Every note belongs to the step."
    elif passed:
        words = (
            f"One slip ({names}, {places_of(take, wrong)}), which is allowed."
            if len(wrong) == 1
            else f"{count_of(len(wrong), 'slip')} ({names}), which are allowed."
        )
    else:
        words = (
            f"{count_of(len(wrong), 'note')} outside the step: the {names},"
            f" {places_of(take, wrong)}."
        )
    return RuleResult(
        "notes",
        "The right notes",
        passed,
        float(len(wrong)),
        float(allowed),
        "notes",
        words,
        tuple(wrong),
        _bars(take, wrong),
        _past(len(wrong), allowed),
    )


def _uses(take: Take, terms: Terms, readings: Sequence[NoteReading]) -> list[RuleResult]:
    """Outside notes of the step, used in another way than the lick does."""
    found = []
    for degree in dict.fromkeys(use.degree for use in terms.done.uses):
        places = [
            k
            for k, reading in enumerate(readings)
            if reading.degree == degree and reading.kind in ("used", "misused")
        ]
        broken = [k for k in places if readings[k].kind == "misused" and take.notes[k].is_sure]
        broken = [k for k in broken if _neighbours_sure(take, k)]
        allowed = _slips(terms, len(places))
        passed = len(broken) <= allowed
        ways = listed(
            dict.fromkeys(
                f"{u.before}-{u.degree}-{u.after}" for u in terms.done.uses if u.degree == degree
            )
        )
        if passed:
            words = (
                f"The {degree} comes only as the lick uses it."
                if places
                else (f"The {degree} was not played, so it was not misused.")
            )
        else:
            words = (
                f"The {degree} is used in another way than the lick's ({ways})"
                f" {places_of(take, broken)}."
            )
        found.append(
            RuleResult(
                f"use {degree}",
                f"The {degree} as the lick uses it",
                passed,
                float(len(broken)),
                float(allowed),
                "notes",
                words,
                tuple(broken),
                _bars(take, broken),
                _past(len(broken), allowed),
            )
        )
    return found


def _neighbours_sure(take: Take, index: int) -> bool:
    beside = [k for k in (index - 1, index + 1) if 0 <= k < len(take.notes)]
    return all(take.notes[k].is_sure for k in beside)


def _leaps(take: Take, terms: Terms) -> RuleResult:
    limit = terms.done.leap
    over = []
    largest = 0
    moves = 0
    for k, (a, b) in enumerate(itertools.pairwise(take.notes), 1):
        if not (a.is_sure and b.is_sure):
            continue
        if b.onset - take.lick.notes[k - 1].end >= _BREATH:
            continue  # a new phrase may begin anywhere
        moves += 1
        size = abs(b.heard.midi - a.heard.midi)
        largest = max(largest, size)
        if size > limit:
            over.append(k)
    allowed = _slips(terms, moves)
    passed = len(over) <= allowed
    words = f"No leap larger than {semitones_of(limit)}."
    if over:
        words = (
            f"{count_of(len(over), 'leap')} larger than {semitones_of(limit)}"
            f" (the largest is {semitones_of(largest)}), {places_of(take, over)}."
        )
    return RuleResult(
        "leap",
        "Leaps",
        passed,
        float(len(over)),
        float(allowed),
        "leaps",
        words,
        tuple(over),
        _bars(take, over),
        _past(len(over), allowed),
    )


# -- what has to come ----------------------------------------------------------------------
def _figures(take: Take, terms: Terms) -> list[RuleResult]:
    found = []
    midi = [note.heard.midi for note in take.notes]
    sure = [note.is_sure for note in take.notes]
    for rule in terms.done.figures:
        places = figure_places(terms.analysis, rule.tag, midi, sure)
        title = f"The {rule.kind} ({rule.tag})"
        found.append(_came(take, terms, f"figure {rule.tag}", title, rule.times, rule.bars, places))
    return found


def _often(take: Take, terms: Terms, readings: Sequence[NoteReading]) -> list[RuleResult]:
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
    times: int,
    bars: int,
    places: Sequence[tuple[int, int]],
) -> RuleResult:
    """Whether something came often enough in what was played."""
    length = float((take.flow[1] - take.flow[0]) / terms.ground.meter.length)
    asked = max(1, round(times * length / bars)) if length >= bars else times
    count = len(places)
    passed: bool | None = count >= asked
    doubtful = sum(not note.is_sure for note in take.notes)
    if not passed and doubtful > max(2, len(take.notes) // 10):
        passed = None
    words = f"{title} comes {_times(count)}"
    words += "." if passed else f"; at least {_times(asked)} is asked in {length:.0f} bars."
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


def _chords(take: Take, terms: Terms) -> RuleResult | None:
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
            "No chord change was heard clearly.",
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
        _bars(take, notes),
        0.0 if passed else 1 + (asked - share),
    )


# -- variety -------------------------------------------------------------------------------
def _variety(take: Take, terms: Terms) -> list[RuleResult]:
    found = []
    bars: dict[int, list[int]] = {}
    for k, note in enumerate(take.notes):
        bars.setdefault(_bar(take, note.onset), []).append(k)
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
                else f"The same bar comes {_times(count)} in {len(shapes)} bars"
                f" (bars {listed([str(bar) for bar in alike])}).",
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
            _bars(take, notes[:1]),
            _past(count, terms.done.quoted),
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


# -- shared --------------------------------------------------------------------------------
def _slips(terms: Terms, count: int) -> int:
    """How many of so many notes may go wrong."""
    return int(terms.done.slips * count)


def _past(value: float, limit: float) -> float:
    """How far past its limit a value lies; 0 inside it."""
    return 0.0 if value <= limit else 1 + (value - limit) / max(1.0, limit)


def _bar(take: Take, onset: Fraction) -> int:
    return take.lick.bar_at(onset).number


def _bars(take: Take, notes: Sequence[int]) -> tuple[int, ...]:
    return tuple(dict.fromkeys(_bar(take, take.notes[k].onset) for k in notes))


def _times(count: int) -> str:
    return {0: "never", 1: "once", 2: "twice"}.get(count, f"{count} times")
