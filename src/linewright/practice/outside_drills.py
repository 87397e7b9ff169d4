"""Drills of one outside note: each of its usages bare, then inside a walk from the tonic and back."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from linewright.lines.usage import OutsideUse
from linewright.practice.material import Material
from linewright.practice.model import Drill
from linewright.practice.neck import frame_row, spell
from linewright.theory import ChordSymbol, Degree, Pitch

__all__ = ["chord_of", "outside_drills", "where"]

#: Notes a walk may be put off by, to bring the outside note to its part of the beat.
_LATEST = 12


def outside_drills(m: Material, uses: Sequence[OutsideUse], bpm: int) -> tuple[Drill, ...]:
    """Two drills for each usage, as far as it has a place on the neck."""
    drills: list[Drill] = []
    for use in uses:
        cells = _cells(m, use)
        if not cells:
            continue
        chord = chord_of(m, use)
        if chord is None and use.over:  # heard where it belongs
            chord = m.lick.chord_at(m.lick.notes[use.notes[0]].onset)
        bare = [(m.at_home(cell), _bare_offset(m, use), chord) for cell in cells]
        said = f"{use.before}-{use.degree}-{use.after}"
        over = f" over {chord}" if chord else ""
        drills.append(
            Drill(
                f"The {use.degree} bare: {said}",
                f"Three notes: {said}{over}, the {use.degree} {where(use)}; hold the last one and"
                " hear the outside note lead into it.",
                m.lay(f"{said}, bare", bare, bpm),
            )
        )
        walk = _walk(m, use, cells[0])
        if walk is not None:
            drills.append(
                Drill(
                    f"The {use.degree} on the way: {said}",
                    f"Walk {m.called.the} into {said}{over} and back to the tonic, so that the"
                    f" {use.degree} falls {where(use)}.",
                    m.lay(f"{said}, on the way", [(m.at_home(walk[0]), walk[1], chord)], bpm),
                )
            )
    return tuple(drills)


def where(use: OutsideUse) -> str:
    """The part of the beat a usage asks for, in words."""
    return "on the beat" if use.on_beat else "between beats"


def chord_of(m: Material, use: OutsideUse) -> ChordSymbol | None:
    """The chord a borrowed chord tone belongs to."""
    return m.lick.chord_at(m.lick.notes[use.notes[0]].onset) if use.in_chord else None


def _cells(m: Material, use: OutsideUse) -> list[tuple[Pitch, Pitch, Pitch]]:
    """Before, outside, after in every octave within the lick's reach, the lick's own first."""
    heights = [m.lick.notes[i].midi for i in m.lick.melody]
    low, high = min(heights) - 5, max(heights) + 5
    home = m.lick.notes[use.notes[0]].midi
    name = Degree.parse(use.degree).above(m.frame.tonic)
    found = []
    for midi in sorted(m.playable, key=lambda n: (abs(n - home), n)):
        before, after = midi - use.rise_in, midi + use.rise_out
        ends = [m.frame.degree(n % 12) for n in (before, after)]
        if (midi - m.frame.tonic.number - use.above) % 12 or not {before, after} <= m.playable:
            continue
        if not (low <= min(before, midi, after) and max(before, midi, after) <= high):
            continue
        first, last = ends
        if first is None or last is None:  # next to another outside note: not alone
            continue
        found.append(
            (
                spell(before, first.above(m.frame.tonic)),
                spell(midi, name),
                spell(after, last.above(m.frame.tonic)),
            )
        )
    return found


def _bare_offset(m: Material, use: OutsideUse) -> Fraction:
    """When the note before begins, so that the outside note falls on its part of the beat."""
    return next((at for at in _moments(m) if _falls(m, at + m.unit, use)), Fraction(0))


def _walk(
    m: Material, use: OutsideUse, cell: tuple[Pitch, Pitch, Pitch]
) -> tuple[list[Pitch], Fraction] | None:
    before, outside, after = cell
    tonic = m.frame.tonic.number
    row = [p for p in frame_row(m.frame, min(m.playable), max(m.playable)) if p.midi in m.playable]
    homes = [k for k, p in enumerate(row) if p.midi % 12 == tonic]
    if before not in row or after not in row or not homes:
        return None
    start, end = row.index(before), row.index(after)
    # From the nearest tonic that is not already there, so that there is a way to walk.
    first = min((k for k in homes if k != start), key=lambda k: abs(k - start), default=None)
    last = min(homes, key=lambda k: abs(k - end))
    if first is None:
        return None
    way_in, way_out = _steps(first, start), _steps(end, last)
    notes = [*(row[k] for k in way_in), outside, *(row[k] for k in way_out)]
    for at in _moments(m):
        if _falls(m, at + len(way_in) * m.unit, use):
            return notes, at
    return None


def _steps(one: int, two: int) -> list[int]:
    return list(range(one, two + 1)) if one <= two else list(range(one, two - 1, -1))


def _moments(m: Material) -> list[Fraction]:
    return [m.unit * k for k in range(_LATEST) if m.unit * k < m.lick.meter.length]


def _falls(m: Material, onset: Fraction, use: OutsideUse) -> bool:
    return (onset % m.lick.meter.length in m.lick.meter.beat_onsets) == use.on_beat
