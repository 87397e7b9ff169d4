"""Fair takes for benchmarks/takes.py: lines whose labels meet a step's rules, and their playing."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from random import Random

from linewright.errors import LinewrightError
from linewright.lines import Line, LineModel
from linewright.practice import Step
from linewright.practice.chord_drills import landing_share
from linewright.practice.takes import Terms
from linewright.score import PlayedNote

START = 2.0
SCATTER_MS = 6.0


@dataclass
class Made:
    """A fair take before it is played: notes as (slot, length, midi) and what they must not touch."""

    step: Step
    terms: Terms
    line: Line
    notes: list[tuple[Fraction, Fraction, int]]
    model: LineModel
    bound: set[int]  # notes in figures, beside outside notes, at chord changes

    @property
    def quarter_s(self) -> float:
        return float(60 / (self.terms.done.bpm * self.terms.ground.beat))


def fair(step: Step, terms: Terms, model: LineModel, rng: Random) -> Made | None:
    """A line long enough for the step whose labels meet its rules."""
    done = step.done
    for _ in range(6):
        request = step.examples[0].request.with_(
            bars=done.bars, seed=rng.getrandbits(30), pins={}, strict=False
        )
        try:
            line = model.sample(request)
        except LinewrightError:
            return None
        if labels_meet(line, step):
            tune = line.lick.melody
            notes = [(n.onset, n.duration, n.midi) for n in (line.lick.notes[k] for k in tune)]
            return Made(step, terms, line, notes, model, bound_notes(line, terms))
    return None


def labels_meet(line: Line, step: Step) -> bool:
    done = step.done
    for rule in done.figures:
        starts = sum(
            1
            for before, note in zip((None, *line.notes), line.notes, strict=False)
            if note.figure == rule.tag
            and note.cell == 1
            and (before is None or before.figure != rule.tag or before.cell != 1)
        )
        if starts < max(1, round(rule.times * done.bars / rule.bars)):
            return False
    for use in done.uses:
        if not use.times:
            continue
        count = sum(
            n.use is not None
            and n.use.degree == use.degree
            and n.use.rise_in == use.rise_in
            and n.use.rise_out == use.rise_out
            and n.use.on_beat == use.on_beat
            for n in line.notes
        )
        if count < max(1, round(use.times * done.bars / use.bars)):
            return False
    if done.chord_tones is not None and landing_share(line) < done.chord_tones:
        return False
    bars = Counter(
        tuple((n.onset - b.onset, n.midi) for n in line.lick.notes if b.onset <= n.onset < b.end)
        for b in line.lick.bars
    )
    return bars.most_common(1)[0][1] <= max(2, done.alike * len(line.lick.bars))


def bound_notes(line: Line, terms: Terms) -> set[int]:
    bound: set[int] = set()
    notes = [line.lick.notes[k] for k in line.lick.melody]
    for k, label in enumerate(line.notes):
        if label.figure or label.role == "outside":
            bound |= {k - 1, k, k + 1}
    changes = {span.onset for span in line.lick.chords}
    for k, note in enumerate(notes):
        if any(at - 1 <= note.onset <= at + 1 for at in changes) and terms.done.chord_tones:
            bound.add(k)
    return bound | {0, len(notes) - 1}


def play(
    made: Made,
    rng: Random,
    *,
    mean_ms: float = 0.0,
    spread_ms: float = SCATTER_MS,
    drift_ms: float = 0.0,
    swing: float | None = None,
    drawn: list[float] | None = None,
) -> list[PlayedNote]:
    """Heard notes of a take."""
    quarter = made.quarter_s
    last = float(made.notes[-1][0]) or 1.0
    ratio = swing if swing is not None else made.terms.ground.swing
    heard = []
    before = 0.0
    for onset, length, midi in made.notes:
        at = float(onset)
        if ratio and onset % 1 == Fraction(1, 2) and made.terms.ground.meter.beat == 1:
            at = float(onset - Fraction(1, 2)) + float(ratio) / (float(ratio) + 1)
        scatter = rng.gauss(0, spread_ms / 1000)
        if drawn is not None:
            drawn.append(1000 * scatter)
        time = START + at * quarter + scatter + mean_ms / 1000
        time += drift_ms / 1000 * (float(onset) / last - 0.5)
        time = max(time, before + 0.02)
        before = time
        heard.append(PlayedNote(time, time + 0.9 * float(length) * quarter, midi, confidence=0.95))
    return heard
