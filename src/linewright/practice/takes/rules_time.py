"""Rules of time: the tempo, without a stop, on the click, steady, holding."""

from __future__ import annotations

import itertools
from typing import Final

from linewright.practice.takes.limits import bar_of, bars_of, past
from linewright.practice.takes.model import RuleResult, Take, Terms
from linewright.practice.takes.say import places_of
from linewright.practice.takes.written import MOST_GAP

__all__ = ["hold_flow", "hold_tempo", "hold_timing"]

_LEAST_MEASURED: Final = 8


def hold_tempo(take: Take, terms: Terms) -> RuleResult:
    """The click's tempo against the step's."""
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


def hold_flow(take: Take, terms: Terms) -> RuleResult:
    """Bars without a stop."""
    bar = terms.ground.meter.length
    start, end = take.flow
    bars = (end - start) / bar
    asked = terms.done.bars
    # The last note may be short: what counts is that its beat was reached.
    passed = bars >= asked - terms.ground.meter.beat / bar
    whole = min(asked, round(float(bars), 1)) if passed else round(float(bars), 1)
    stops = [] if passed else _stops(take)
    if passed:
        words = f"{asked} bars without a stop."
    elif stops:
        words = (
            f"The longest stretch without a stop is {whole:g} bars of {asked};"
            f" it stops {places_of(take, stops)}."
        )
    else:
        words = f"The take is {whole:g} bars long; {asked} are asked."
    return RuleResult(
        "flow",
        "Without a stop",
        passed,
        float(whole),
        float(asked),
        "bars",
        words,
        tuple(stops),
        bars_of(take, stops),
        0.0 if passed else 1 + 2 * (1 - min(1.0, float(bars) / asked)),
    )


def _stops(take: Take) -> list[int]:
    """The notes after which a player stopped; none when the take is only too short."""
    return [
        k for k, (a, b) in enumerate(itertools.pairwise(take.notes)) if b.onset - a.onset > MOST_GAP
    ]


def hold_timing(take: Take, terms: Terms) -> list[RuleResult]:
    """Mean, spread and drift; too few clear notes leave them open."""
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
            severity=past(abs(timing.mean_ms), done.mean_ms),
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
            severity=past(timing.spread_ms, done.spread_ms),
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
            severity=past(abs(timing.drift_ms), max(limit, 2 * done.mean_ms)),
        )
    )
    return found


def _loosest_bar(take: Take) -> tuple[int, ...]:
    """The bar whose notes stray most from the take's own mean."""
    mean = take.timing.mean_ms if take.timing.is_placed else 0.0
    stray: dict[int, list[float]] = {}
    for note in take.notes:
        if note.is_sure and not note.off_grid:
            stray.setdefault(bar_of(take, note.onset), []).append((note.late_ms - mean) ** 2)
    full = {bar: sum(v) / len(v) for bar, v in stray.items() if len(v) >= 2}
    return (max(full, key=lambda bar: full[bar]),) if full else ()
