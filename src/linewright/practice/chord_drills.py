"""Drills on the chords: their notes in the frame as targets, bare, then walked into."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from linewright.analysis.harmony import relate_to_chords
from linewright.lines import Line, LineRequest
from linewright.practice.material import Material, largest_leap
from linewright.practice.model import Drill
from linewright.practice.neck import frame_row
from linewright.score import Note
from linewright.theory import ChordSymbol, Frame, Pitch

__all__ = ["chord_drills", "landing_share"]


@dataclass(frozen=True, slots=True)
class _Target:
    """Where a chord begins, the frame over it, and the note to land on (None: the frame has
    none of its tones).
    """

    onset: Fraction
    end: Fraction
    chord: ChordSymbol | None
    frame: Frame
    pitch: Pitch | None


def landing_share(line: Line) -> float:
    """Share of a line's chord changes that a chord tone meets; 1 when there are none."""
    changes = relate_to_chords(line.lick).changes
    if not changes:
        return 1.0
    return sum(change.role != "tension" for change in changes) / len(changes)


def chord_drills(m: Material, request: LineRequest, bpm: int) -> tuple[Drill, ...]:
    """Targets bare, then two frame notes into each of them."""
    plan = m.model.plan(request)
    targets = _targets(m, request)
    sounding = [t for t in targets if t.pitch is not None]
    if len(sounding) < 2:
        return ()
    end = m.lick.meter.length * request.bars
    bare = [m.at(t.pitch, t.onset, t.end - t.onset) for t in targets if t.pitch is not None]
    said = ", ".join(f"{t.pitch.pitch_class} on {t.chord}" for t in sounding[:4] if t.pitch)
    more = " and on" if len(sounding) > 4 else ""
    drills = [
        Drill(
            "The targets bare",
            f"One long note for each chord: of its tones in {m.called.the}, the nearest that the"
            f" chord before has not, or else the nearest of all: {said}{more}."
            " Say its number in the chord as you play it.",
            m.written("Targets", bare, end, bpm, plan.chords),
        )
    ]
    walked = _walked(m, sounding)
    if walked and largest_leap(note.pitch for note in walked) <= request.leap:
        drills.append(
            Drill(
                "Into the targets",
                f"The same long notes; on the last beat of each, two {m.called.some} lead into the next"
                " one, which comes exactly with its chord.",
                m.written("Into the targets", walked, end, bpm, plan.chords),
            )
        )
    return tuple(drills)


def _targets(m: Material, request: LineRequest) -> list[_Target]:
    plan = m.model.plan(request)
    heights = [m.lick.notes[i].midi for i in m.lick.melody]
    low, high = min(heights) - 5, max(heights) + 5
    before = sorted(heights)[len(heights) // 2]
    found: list[_Target] = []
    last: ChordSymbol | None = None
    for span in plan.chords:
        slot = next((s for s in plan.slots if s.onset >= span.onset), None)
        if slot is None:
            continue
        pitch = _nearest(m, span.symbol, last, slot.frame, before, low, high)
        before = pitch.midi if pitch else before
        last = span.symbol or last
        found.append(_Target(span.onset, span.end, span.symbol, slot.frame, pitch))
    return found


def _nearest(
    m: Material,
    chord: ChordSymbol | None,
    last: ChordSymbol | None,
    frame: Frame,
    before: int,
    low: int,
    high: int,
) -> Pitch | None:
    """The chord tone nearest the note before, one that the last chord has not where there is one,
    since a tone of both does not tell the change; of two equally near a third or seventh, the
    lower.
    """
    if chord is None:
        return None
    shared = last.numbers if last is not None and last != chord else frozenset()
    guides = {(chord.root.number + d.semitones) % 12 for d in chord.degrees if d.number in (3, 7)}
    row = [
        p for p in frame_row(frame, low, high)
        if p.midi in m.playable and p.midi % 12 in chord.numbers
    ]  # fmt: skip
    return min(
        row,
        key=lambda p: (
            p.midi % 12 in shared, abs(p.midi - before), p.midi % 12 not in guides, p.midi
        ),
        default=None,
    )  # fmt: skip


def _walked(m: Material, targets: Sequence[_Target]) -> list[Note]:
    notes: list[Note] = []
    for number, here in enumerate(targets):
        if here.pitch is None:
            continue
        after = targets[number + 1] if number + 1 < len(targets) else None
        lead = _lead(m, here, after) if after else []
        start = here.end - m.unit * len(lead)
        if lead and start <= here.onset:
            lead, start = [], here.end
        notes.append(m.at(here.pitch, here.onset, start - here.onset))
        notes.extend(m.at(pitch, start + m.unit * k, m.unit) for k, pitch in enumerate(lead))
    return notes


def _lead(m: Material, here: _Target, after: _Target) -> list[Pitch]:
    """Two frame notes next to the coming target, on the side the hand comes from."""
    if here.pitch is None or after.pitch is None:
        return []
    there = after.pitch.midi
    row = [p for p in frame_row(here.frame, there - 12, there + 12) if p.midi in m.playable]
    below = [p for p in row if p.midi < there]
    above = [p for p in row if p.midi > there]
    side = below[-2:] if here.pitch.midi < there else above[1::-1]
    return side if len(side) == 2 else []
