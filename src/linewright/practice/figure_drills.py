"""Drills of one figure: its cell on every degree of the frame, then joined into a stream."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from linewright.analysis.prose import join_words
from linewright.lines.figure_plans import FigurePlan
from linewright.lines.usage import OutsideUse
from linewright.practice.material import Material, largest_leap
from linewright.practice.model import Drill
from linewright.practice.neck import frame_row, spell
from linewright.practice.outside_drills import chord_of
from linewright.score import Lick
from linewright.theory import ChordSymbol, Degree, Pitch

__all__ = ["Cells", "cells_of", "figure_drills", "figure_pins"]

_WIDEST = 12
_MOST_BARS = 24


@dataclass(frozen=True)
class Cells:
    """A figure's cell from each degree of the frame, lowest first.

    ``chords`` has the chord each cell needs (for a borrowed chord tone), else None; ``missing`` are
    the degrees it cannot start on with the notes at hand; ``outside`` the outside degrees it goes
    through; ``leap`` is its own largest move.
    """

    plan: FigurePlan
    cells: tuple[tuple[Pitch, ...], ...]
    chords: tuple[ChordSymbol | None, ...]
    missing: tuple[str, ...]
    outside: tuple[str, ...]
    leap: int


def cells_of(m: Material, plan: FigurePlan) -> Cells:
    """Move a figure's cell through the frame, keeping to learned usages outside it."""
    moves = _moves(plan)
    middle = m.lick.notes[m.lick.melody[len(m.lick.melody) // 2]].midi
    low, high = min(m.playable), max(m.playable)
    row = frame_row(m.frame, max(0, low - 12), min(127, high + 12))
    found: dict[int, tuple[Pitch, ...]] = {}
    for pitch in row:
        cell = _realised(m, plan, moves, row, pitch)
        if cell is None:
            continue
        known = found.get(pitch.midi % 12)
        if known is None or _away(m, cell, middle) < _away(m, known, middle):
            found[pitch.midi % 12] = cell
    cells = tuple(sorted(found.values(), key=lambda cell: cell[0].midi))
    missing = tuple(
        degree.name
        for degree in m.frame.collection.degrees
        if (m.frame.tonic.number + degree.semitones) % 12 not in found
    )
    used = [_uses_in(m, plan, cell) or () for cell in cells]
    chords = [next((chord_of(m, use) for use in uses if use.in_chord), None) for uses in used]
    outside = tuple(dict.fromkeys(use.degree for uses in used for use in uses))
    leap = max(map(largest_leap, cells), default=0)
    return Cells(plan, cells, tuple(chords), missing, outside, leap)


def figure_drills(m: Material, cells: Cells, leap: int, bpm: int) -> tuple[Drill, ...]:
    """The figure one bar at a time on every degree, and without a stop where it stays inside."""
    if not cells.cells:
        return ()
    plan = cells.plan
    kind = plan.kind
    starts = m.called.each
    if cells.missing:
        known = [_degree(m, cell[0]) for cell in cells.cells]
        starts = f"{join_words(known)}, where the lick's outside notes allow it"
    long = -(-(len(cells.cells[0]) * m.unit) // m.lick.meter.length)
    chosen = cells.cells[: max(1, _MOST_BARS // max(1, int(long)))]
    offset = _offset(m, plan)
    drills = [
        Drill(
            f"{plan.tag} from {'some degrees' if cells.missing else 'every degree'}",
            f"The {kind} from {starts}, each start higher than the last;"
            " hold its last note, breathe, and hear the next start before you play it.",
            m.lay(
                f"{kind} from degree to degree",
                [
                    (m.at_home(cell), offset, chord)
                    for cell, chord in zip(chosen, cells.chords, strict=False)
                ],
                bpm,
            ),
        )
    ]
    if not cells.outside and len(cells.cells) > 1:
        drills.append(
            Drill(
                f"{plan.tag} without a stop",
                f"The {kind} from each degree, each start lower than the last, joined by"
                f" {m.called.notes} where the next start is too far to reach.",
                m.steady(
                    f"{kind} without a stop",
                    m.at_home(_joined(m, cells.cells[::-1], leap)),
                    bpm,
                ),
            )
        )
    between = _with_between(m, plan)
    if between:
        names = list(dict.fromkeys(_outside_names(m, between)))
        drills.append(
            Drill(
                f"{plan.tag} with the note between",
                f"The {kind} as the lick has it, with the {join_words(names)} between on the way,"
                " in each octave that lies in the lick's position; hold its last note.",
                m.lay(
                    f"{kind} with the note between",
                    [(m.at_home(cell), offset, None) for cell in between],
                    bpm,
                ),
            )
        )
    return tuple(drills)


def _with_between(m: Material, plan: FigurePlan) -> list[tuple[Pitch, ...]]:
    """A scale run with the outside notes the lick takes on its way, at each octave that lies in the
    lick's position; empty when it takes none, or not so in a steady stream.
    """
    if plan.kind != "scale run":
        return []
    found: dict[tuple[int, ...], tuple[Pitch, ...]] = {}
    for first, last in m.analysis.figures[int(plan.tag[1:]) - 1].occurrences:
        run = [m.lick.notes[i].pitch for i in m.lick.melody if first <= i <= last]
        if all(pitch.pitch_class in m.frame for pitch in run):
            continue
        for octave in (0, -1, 1):
            cell = tuple(replace(pitch, octave=pitch.octave + octave) for pitch in run)
            reached = all(p.midi in m.playable for p in cell) and (
                octave == 0 or not _away(m, cell, cell[0].midi)[0]
            )
            uses = _uses_in(m, plan, cell) if reached else None
            if uses and not any(use.in_chord for use in uses):
                found[tuple(p.midi for p in cell)] = cell
    return sorted(found.values(), key=lambda cell: cell[0].midi)


def _outside_names(m: Material, cells: Iterable[Sequence[Pitch]]) -> Iterator[str]:
    for pitch in (pitch for cell in cells for pitch in cell):
        if pitch.pitch_class not in m.frame:
            above = (pitch.midi - m.frame.tonic.number) % 12
            yield next(use.degree for use in m.model.uses if use.above == above)


def figure_pins(m: Material, cells: Cells, turn: int) -> dict[int, Lick]:
    """A cell to stand in the first and another in the third bar of a line; empty when a cell needs a
    chord or more than a bar.
    """
    found: dict[int, Lick] = {}
    for bar in (1, 3):
        number = (turn + (bar > 1)) % len(cells.cells)
        cell, chord = cells.cells[number], cells.chords[number]
        made = m.lay("pin", [(m.at_home(cell), _offset(m, cells.plan), None)], 60)
        if chord is not None or len(made.bars) > 1:
            return {}
        found[bar] = made
    return found


def _moves(plan: FigurePlan) -> list[int]:
    """The moves of one cell; of two where a cell is one note or an alternation."""
    nodes, at = plan.nodes, 0
    cells = 2 if plan.kind == "alternation" else 1
    moves: list[int] = []
    while nodes[at].after:
        move, after, _ = nodes[at].after[0]
        if nodes[after].cell >= max(cells, 1 if moves else 2):
            break
        if plan.kind.endswith(" run") and nodes[at].ends:
            break
        moves.append(move)
        at = after
    return moves


def _realised(
    m: Material, plan: FigurePlan, moves: Sequence[int], row: Sequence[Pitch], start: Pitch
) -> tuple[Pitch, ...] | None:
    """The cell from one frame note, or None when a note is out of reach or not to be used so."""
    height = 2 * row.index(start)
    midi = start.midi
    cell = [start]
    for move in moves:
        if plan.in_semitones:
            midi += move
        else:
            height += move
            if not 0 <= height // 2 < len(row) - 1:
                return None
            below, above = row[height // 2].midi, row[height // 2 + 1].midi
            inner = below if height % 2 == 0 else _between(m, below, above)
            if inner is None:
                return None
            midi = inner
        pitch = _named(m, midi)
        if pitch is None:
            return None
        cell.append(pitch)
    if any(p.midi not in m.playable for p in cell) or largest_leap(cell) > _WIDEST:
        return None
    return tuple(cell) if _uses_in(m, plan, cell) is not None else None


def _between(m: Material, below: int, above: int) -> int | None:
    """The note outside the frame that the lick uses between two neighbours of it."""
    inner = [
        midi
        for midi in range(below + 1, above)
        if any((midi - m.frame.tonic.number - use.above) % 12 == 0 for use in m.model.uses)
    ]
    return inner[0] if len(inner) == 1 else None


def _named(m: Material, midi: int) -> Pitch | None:
    if not 0 <= midi <= 127:
        return None
    degree = m.frame.degree(midi % 12)
    if degree is None:
        above = (midi - m.frame.tonic.number) % 12
        use = next((u for u in m.model.uses if u.above == above), None)
        if use is None:
            return None
        degree = Degree.parse(use.degree)
    return spell(midi, degree.above(m.frame.tonic))


def _uses_in(m: Material, plan: FigurePlan, cell: Sequence[Pitch]) -> tuple[OutsideUse, ...] | None:
    """The usages the outside notes of a cell stand in; None when one stands in none of the lick's,
    or two of them need different chords.
    """
    offset, meter = _offset(m, plan), m.lick.meter
    found: list[OutsideUse] = []
    for place, pitch in enumerate(cell):
        if pitch.pitch_class in m.frame:
            continue
        if not 0 < place < len(cell) - 1:
            return None
        onset = (offset + place * m.unit) % meter.length
        key = (
            (pitch.midi - m.frame.tonic.number) % 12,
            pitch.midi - cell[place - 1].midi,
            cell[place + 1].midi - pitch.midi,
            onset in meter.beat_onsets,
        )
        same = [u for u in m.model.uses if key == (u.above, u.rise_in, u.rise_out, u.on_beat)]
        if not same:
            return None
        found.append(min(same, key=lambda use: use.in_chord))
    chords = {chord_of(m, use) for use in found if use.in_chord}
    return tuple(found) if len(chords) <= 1 else None


def _offset(m: Material, plan: FigurePlan) -> Fraction:
    """Where in the first beat the figure begins, as in the lick."""
    offset = min(plan.phases, default=Fraction(0)) * m.lick.meter.beat
    return offset if offset % m.unit == 0 else Fraction(0)


def _away(m: Material, cell: Sequence[Pitch], middle: int) -> tuple[bool, float]:
    """In the lick's position first, then near the middle of the lick."""
    off = any(p.pitch_class in m.frame and m.home.place(p.midi) is None for p in cell)
    return off, abs(sum(p.midi for p in cell) / len(cell) - middle)


def _joined(m: Material, cells: Sequence[Sequence[Pitch]], leap: int) -> list[Pitch]:
    """Cells one after the other, with frame notes between where the way is too far."""
    order: list[Pitch] = []
    for cell in cells:
        while order and abs(order[-1].midi - cell[0].midi) > leap:
            order.append(_toward(m, order[-1], cell[0], leap))
        order.extend(cell)
    return order


def _toward(m: Material, here: Pitch, there: Pitch, leap: int) -> Pitch:
    """The frame note furthest on the way that one move reaches."""
    if there.midi > here.midi:
        return frame_row(m.frame, here.midi + 1, min(here.midi + leap, there.midi))[-1]
    return frame_row(m.frame, max(here.midi - leap, there.midi), here.midi - 1)[0]


def _degree(m: Material, pitch: Pitch) -> str:
    found = m.frame.degree(pitch.midi % 12)
    return found.name if found else pitch.name
