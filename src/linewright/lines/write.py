"""From sampled states to a Line: spelled pitches, places on the neck, reasons, shares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from linewright.analysis import Analysis
from linewright.lines.line import Line, LineNote
from linewright.lines.plan import LinePlan
from linewright.lines.slots import Slot
from linewright.lines.slurs import learned_slurs, with_slurs
from linewright.lines.words import figure_why, frame_why, outside_why, pinned_why
from linewright.score import Lick, Note, Tempo
from linewright.theory import Degree, Frame, Pitch, PitchClass, degree_of, spell_midi

if TYPE_CHECKING:
    from linewright.lines.lattice import State
    from linewright.lines.setup import Setup

__all__ = ["write_line"]


def write_line(
    analysis: Analysis, setup: Setup, plan: LinePlan, paths: Sequence[Sequence[int]]
) -> Line:
    """The line of the states sampled for every stretch."""
    chosen: dict[int, State] = {}
    for (first, _), path in zip(setup.stretches, paths, strict=True):
        for offset, number in enumerate(path):
            chosen[first + offset] = setup.lattice.states[number]
    notes: list[Note] = []
    reasons: list[LineNote] = []
    melody: list[tuple[int, bool, bool]] = []
    for t, slot in enumerate(plan.slots):
        kept = plan.kept.get(t)
        if kept is None or len(kept.notes) == 1:
            melody.append((len(notes), slot.on_beat, kept is not None))
        if kept is not None:
            for k, note in enumerate(kept.notes):
                notes.append(replace(note, onset=slot.onset))
                if kept.reasons:
                    reasons.append(replace(kept.reasons[k], pinned=True))
                else:
                    reasons.append(_pinned(note, slot.frame))
            continue
        after = chosen.get(t + 1)
        following = after.midi if after is not None else None
        reason = _reason(analysis, setup, plan, t, chosen[t], following)
        notes.append(_note(plan, slot, chosen[t].midi, reason))
        reasons.append(reason)
    notes = with_slurs(learned_slurs(analysis), notes, reasons, melody, plan.hand.instrument)
    title = f"Line on {analysis.lick.title}"
    lick = Lick(
        tuple(notes), plan.bars, plan.chords, title=title, tempo=_tempo(analysis, plan),
        instrument=plan.hand.instrument, swing=plan.swing, style=analysis.lick.style,
        source=f"made from {analysis.lick.title}, seed {plan.request.seed}",
    )  # fmt: skip
    got = _got(setup, chosen)
    return Line(lick, tuple(reasons), dict(setup.asked), got, plan.request, plan.progression)


def _tempo(analysis: Analysis, plan: LinePlan) -> Tempo | None:
    asked, own = plan.request.tempo, analysis.lick.tempo
    if asked is None:
        return own
    beat = own.beat if own else Fraction(1)
    return Tempo(Fraction(asked).limit_denominator(1000) / beat, beat)


def _got(setup: Setup, chosen: dict[int, State]) -> dict[str, float]:
    """Shares among the notes that were free."""
    got = dict.fromkeys(setup.asked, 0.0)
    for row, name in zip(setup.rows, setup.names, strict=True):
        count = sum(row[setup.lattice.known[state]] for state in chosen.values())
        got[name] = float(count) / max(1, len(chosen))
    return got


def _note(plan: LinePlan, slot: Slot, midi: int, reason: LineNote) -> Note:
    place = plan.hand.place[midi]
    pitch = _spelled(midi, Degree.parse(reason.degree).above(slot.frame.tonic))
    return Note(slot.onset, slot.duration, pitch, place.string, place.fret)


def _spelled(midi: int, name: PitchClass) -> Pitch:
    """The MIDI number spelled with a pitch class that sounds the same."""
    if name.number != midi % 12:
        return spell_midi(midi)
    for octave in (midi // 12 - 2, midi // 12 - 1, midi // 12):
        pitch = name.in_octave(octave)
        if pitch.midi == midi:
            return pitch
    return spell_midi(midi, name.fifths)


def _pinned(note: Note, frame: Frame) -> LineNote:
    own = frame.degree(note.midi % 12)
    degree = str(own or degree_of(note.pitch.pitch_class, frame.tonic))
    return LineNote(
        "frame" if own else "outside",
        pinned_why(degree, outside=own is None),
        degree,
        pinned=True,
    )


def _reason(
    analysis: Analysis,
    setup: Setup,
    plan: LinePlan,
    t: int,
    state: State,
    following: int | None,
) -> LineNote:
    slot, lattice = plan.slots[t], setup.lattice
    number, figure = lattice.use_of(state), lattice.figure_of(state)
    tag = setup.plans[figure[0]].tag if figure else None
    cell = setup.plans[figure[0]].nodes[figure[1]].cell + 1 if figure else None
    if number is not None:
        use = setup.uses[number]
        lick = analysis.lick
        taught = use.taught_by(slot.chord, state.midi)
        bar = lick.bar_at(lick.notes[taught].onset).number
        where = f"bar {bar}" if bar else "the pickup"
        why = outside_why(use, where, analysis.notes[taught].chord, slot, following, tag)
        return LineNote("outside", why, use.degree, tag, cell, use)
    degree = str(slot.frame.degree(state.midi % 12))
    if figure is not None:
        kind = setup.plans[figure[0]]
        why = figure_why(kind, kind.nodes[figure[1]], slot, state.midi, degree)
        return LineNote("figure", why, degree, tag, cell)
    last = t == len(plan.slots) - 1
    return LineNote("frame", frame_why(slot, state.midi, degree, first=t == 0, last=last), degree)
