"""From notes in ticks to notes on a grid: groups struck together, onsets, ends, and the report."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from linewright.errors import OptionError, ReadError
from linewright.formats.midi.events import MidiFacts, MidiNote
from linewright.formats.midi.grid import GRIDS, Beat, Fit, fit_beats
from linewright.score import Bar

__all__ = ["Group", "Quantised", "group_notes", "quantise"]

_TOGETHER_MS: Final = 30.0  # struck together: within what a strum of a double stop takes
_GAP_MS: Final = 60.0  # a shorter silence is articulation, not a rest
_GAP_SHARE: Final = 0.25
_FIRST_SIGMA_MS: Final = 20.0
_SIGMA_RANGE_MS: Final = (4.0, 25.0)
#: Recognised swing ratios get their plain number (common practice).
_PLAIN_SWING: Final = (Fraction(3, 2), Fraction(2), Fraction(3))


@dataclass
class Group:
    """Notes struck together; times in quarters as played, then as written."""

    start: float
    end: float
    notes: list[MidiNote]
    onset: Fraction = Fraction(0)
    stop: Fraction = Fraction(0)


@dataclass
class Quantised:
    """Groups on the grid, the swing ratio if there is one, and remarks for the user."""

    groups: list[Group]
    swing: Fraction | None = None
    remarks: list[str] = field(default_factory=list)


def group_notes(facts: MidiFacts, notes: Sequence[MidiNote], origin: Fraction) -> list[Group]:
    """Notes in order, those that start together in one group.

    Raises ReadError when notes go on under several later ones: that is no single line.
    """
    ordered = sorted(notes, key=lambda n: (n.start, -n.key))
    groups: list[Group] = []
    for note in ordered:
        start = note.start / facts.ticks - float(origin)
        end = note.end / facts.ticks - float(origin)
        near = _quarters(facts, note.start, _TOGETHER_MS)
        if groups:
            last = groups[-1]
            overlap = min(last.end, end) - start
            if start - last.start <= min(near, 1 / 12) and overlap > (end - start) / 2:
                if all((o.key, o.channel) != (note.key, note.channel) for o in last.notes):
                    last.notes.append(note)
                last.end = max(last.end, end)
                continue
        groups.append(Group(start, end, [note]))
    held = [
        group
        for group, second in zip(groups, groups[2:], strict=False)
        if group.end > second.start + _quarters(facts, 0, _GAP_MS)
    ]
    if len(held) > max(1, len(groups) // 5):
        raise ReadError(
            f"notes sound over each other: {len(held)} of {len(groups)} go on under two or more"
            " later ones",
            accepted="Give the melody a track of its own, or save the passage one line at a time",
        )
    return groups


def _quarters(facts: MidiFacts, tick: float, milliseconds: float) -> float:
    return milliseconds * 1000 / facts.microseconds_at(tick)


def quantise(
    facts: MidiFacts, groups: list[Group], bars: Sequence[Bar], origin: Fraction, wanted: str | None
) -> Quantised:
    """Put groups on the grid that describes them most shortly; sets their onset and stop."""
    if wanted is not None and wanted not in GRIDS:
        raise OptionError(f"no grid is called {wanted!r:.40}", accepted=f"Use {', '.join(GRIDS)}")
    work = _Work(facts, groups, bars, origin)
    return work.run(wanted)


class _Work:
    def __init__(
        self, facts: MidiFacts, groups: list[Group], bars: Sequence[Bar], origin: Fraction
    ) -> None:
        self._facts = facts
        self._groups = groups
        self._origin = origin
        self._end = bars[-1].end
        self._beats = list(_beats(bars))
        self._onsets = [beat.onset for beat in self._beats]

    def run(self, wanted: str | None) -> Quantised:
        tick = 1 / self._facts.ticks
        ends = [g.end for g in self._groups]
        exact = self._fit([tick * 0.4] * len(self._beats), ends, wanted)
        if self._largest(exact, ends) <= 0.51 * tick + 1e-9:
            self._place(exact)
            self._stop_exactly(exact)
            return self._report(exact, exact_file=True)
        first = self._fit(self._sigmas(_FIRST_SIGMA_MS), (), wanted)
        error = self._typical(first)
        fit = self._fit(self._sigmas(error), (), wanted)
        self._place(fit)
        self._stop_as_played(fit)
        return self._report(fit, exact_file=False)

    # -- fitting -------------------------------------------------------------------------
    def _sigmas(self, milliseconds: float) -> list[float]:
        return [
            _quarters(
                self._facts, float(beat.onset + self._origin) * self._facts.ticks, milliseconds
            )
            for beat in self._beats
        ]

    def _fit(self, sigma: list[float], ends: Sequence[float], wanted: str | None) -> Fit:
        inside: list[set[float]] = [set() for _ in self._beats]
        for time in [*(g.start for g in self._groups), *ends]:
            inside[self._beat_index(time)].add(time)
        tick = 1.01 / self._facts.ticks
        times = [_distinct(sorted(found), tick if ends else 0.0) for found in inside]
        return fit_beats(self._beats, times, sigma, wanted=wanted, exact=bool(ends))

    def _beat_index(self, time: float) -> int:
        return max(0, bisect_right(self._onsets, time) - 1)

    def _sounding(self, fit: Fit, written: Fraction) -> float:
        """Where a written moment sounds, swing applied."""
        index = self._beat_index(float(written))
        beat = self._beats[index]
        if (
            fit.swing is not None
            and fit.grids[index].swung
            and written - beat.onset == beat.length / 2
        ):
            return float(beat.onset) + fit.swing * float(beat.length)
        return float(written)

    def _error(self, fit: Fit, time: float) -> float:
        written = fit.snap(self._beats, self._onsets, time)
        return abs(time - self._sounding(fit, written))

    def _largest(self, fit: Fit, ends: Sequence[float]) -> float:
        return max(self._error(fit, time) for time in [*(g.start for g in self._groups), *ends])

    def _typical(self, fit: Fit) -> float:
        """Root mean square error in milliseconds, kept to what hands and keys can do."""
        squares = [
            (self._error(fit, g.start) * self._facts.microseconds_at(g.notes[0].start) / 1000) ** 2
            for g in self._groups
        ]
        low, high = _SIGMA_RANGE_MS
        return min(max(math.sqrt(sum(squares) / len(squares)), low), high)

    # -- placing -------------------------------------------------------------------------
    def _place(self, fit: Fit) -> None:
        before = Fraction(-1)
        for group in self._groups:
            onset = max(Fraction(0), fit.snap(self._beats, self._onsets, group.start))
            if onset <= before:  # two attacks on one point: the later moves on, finely
                beat = self._beats[self._beat_index(float(before))]
                onset = before + beat.length / 16
            group.onset = before = onset

    def _next_onsets(self) -> list[tuple[Fraction, float]]:
        """For each group the next one's onset as written and as played."""
        pairs = [(g.onset, g.start) for g in self._groups[1:]]
        return [*pairs, (self._end, float("inf"))]

    def _stop_exactly(self, fit: Fit) -> None:
        for group, (limit, _played) in zip(self._groups, self._next_onsets(), strict=True):
            stop = fit.snap(self._beats, self._onsets, group.end)
            group.stop = min(stop, limit) if stop > group.onset else limit

    def _stop_as_played(self, fit: Fit) -> None:
        for group, (limit, played) in zip(self._groups, self._next_onsets(), strict=True):
            gap = played - group.end
            short = max(
                _quarters(self._facts, group.notes[0].start, _GAP_MS),
                _GAP_SHARE * (min(played, group.end + 4) - group.start),
            )
            if gap <= short:
                group.stop = limit
                continue
            stop = fit.snap(self._beats, self._onsets, group.end)
            if stop <= group.onset:
                index = self._beat_index(float(group.onset))
                stop = group.onset + self._beats[index].length / max(2, fit.grids[index].parts)
            group.stop = min(stop, limit)

    # -- saying so -----------------------------------------------------------------------
    def _report(self, fit: Fit, *, exact_file: bool) -> Quantised:
        swing = None if fit.swing is None else _ratio(fit.swing)
        used = Counter(fit.grids[self._beat_index(float(g.onset))].name for g in self._groups)
        if swing is not None and not any(grid.swung for grid in fit.grids):
            swing = None
        remarks = [f"quantised to {', '.join(name for name, _ in used.most_common())}"]
        worst = max(self._groups, key=lambda g: abs(g.start - self._sounding(fit, g.onset)))
        error = abs(worst.start - self._sounding(fit, worst.onset))
        milliseconds = error * self._facts.microseconds_at(worst.notes[0].start) / 1000
        beat = self._beats[self._beat_index(float(worst.onset))].length
        remarks[0] += (
            f"; largest deviation {milliseconds:.0f} ms ({error / float(beat):.0%} of a beat)"
            if not exact_file
            else "; every note lies on it to the tick"
        )
        if swing is not None and fit.swing is not None:
            shown = fit.swing / (1 - fit.swing)
            remarks.append(
                f"swing recognised, long to short {shown:.2f} to 1; written as even eighths"
            )
        overlaps = sum(
            1
            for before, group in zip(self._groups, self._groups[1:], strict=False)
            if before.end > group.start + 0.01
        )
        if overlaps:
            remarks.append(f"{overlaps} notes held into the next were cut where it begins")
        return Quantised(self._groups, swing, remarks)


def _beats(bars: Sequence[Bar]) -> list[Beat]:
    """The beats of all bars; in a short bar those that are left, the last one cut."""
    found = []
    for bar in bars:
        skipped = bar.offset(bar.onset)
        for onset, length in zip(bar.meter.beat_onsets, bar.meter.beats, strict=True):
            begin = max(onset - skipped, Fraction(0))
            end = min(onset + length - skipped, bar.duration)
            if end > begin:
                swings = not bar.meter.is_compound and set(bar.meter.beats) == {Fraction(1)}
                thirds = (length / 3).denominator <= 8 and length.numerator % 3 == 0
                found.append(
                    Beat(bar.onset + begin, end - begin, thirds, swings and end - begin == 1)
                )
    return found


def _distinct(times: list[float], near: float) -> list[float]:
    """Times without those within a tick of the one before: an end and the next start."""
    kept: list[float] = []
    for time in times:
        if not kept or time - kept[-1] > near:
            kept.append(time)
    return kept


def _ratio(place: float) -> Fraction:
    ratio = place / (1 - place)
    for plain in _PLAIN_SWING:
        if abs(ratio - float(plain)) <= 0.06 * float(plain):
            return plain
    return Fraction(ratio).limit_denominator(10)
