"""Drills on the frame alone: melodic shapes in one position, in several, and along a string."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from linewright.practice.material import Material, largest_leap
from linewright.practice.model import Drill
from linewright.practice.neck import Spot, Window, along_string, neck_windows
from linewright.theory import Frame

__all__ = ["SHAPES", "neck_drills", "position_drills", "shape", "windows_of"]

#: Shape -> how to play it. Which notes they are is in ``shape``.
SHAPES: Final[dict[str, str]] = {
    "up and down": "From the tonic up to the top of the position, down to the bottom, home again.",
    "threes going up": "Three notes up, then the same from the next note: 1-2-3, 2-3-4, and on.",
    "turns": "Each note with the one above and the one below it, before you go on to the next.",
    "fours coming down": "Four notes down, then the same from the next note below.",
    "skips": "Every other {one}, going up: 1-3, 2-4, 3-5, and on.",
}
_OF_LEVEL: Final = {"beginner": 3, "working": 4, "fluent": 5}


def position_drills(m: Material, bpm: int) -> tuple[Drill, ...]:
    """Shapes in the lick's own position."""
    found = []
    for name in list(SHAPES)[: _OF_LEVEL[m.level.name]]:
        drill = _in_window(m, m.home, name, bpm)
        if drill is not None:
            found.append(drill)
    return tuple(found)


def neck_drills(m: Material, windows: Sequence[Window], bpm: int) -> tuple[Drill, ...]:
    """A shape in each position, another one each time, then the frame along one string."""
    names = [name for name in SHAPES if name != "up and down"]
    found = []
    for number, window in enumerate(windows):
        for turn in range(len(names)):
            drill = _in_window(m, window, names[(number + turn) % len(names)], bpm)
            if drill is not None:
                found.append(drill)
                break
        else:
            drill = _in_window(m, window, "up and down", bpm)
            found.extend([drill] if drill else [])
    row = along_string(m.frame, m.instrument, m.home)
    there_and_back = [*row, *reversed(row[:-1])]
    if len(row) > 2 and largest_leap(there_and_back) <= m.leap:
        found.append(
            Drill(
                f"Along string {row[0].string}",
                f"One string only, from fret {row[0].fret} to fret {row[-1].fret} and back:"
                " the hand moves, so look at where the next note lies before you go.",
                m.steady(f"{m.called.name} along string {row[0].string}", there_and_back, bpm),
            )
        )
    return tuple(found)


def windows_of(m: Material) -> tuple[Window, ...]:
    """The positions of the step across the neck."""
    return neck_windows(m.frame, m.instrument, m.home, m.level.positions)


def _in_window(m: Material, window: Window, name: str, bpm: int) -> Drill | None:
    order = shape(m.frame, window.spots, name)
    if len(order) < 3 or largest_leap(order) > m.leap:
        return None
    where = f"In {window.name}"
    words = SHAPES[name].format(one=m.called.one)
    return Drill(f"{where}, {name}", words, m.steady(f"{m.called.name}: {name}", order, bpm))


def shape(frame: Frame, row: Sequence[Spot], name: str) -> list[Spot]:
    """A shape of :data:`SHAPES` over a row of frame notes."""
    size = len(row)
    if name == "up and down":
        tonic = frame.tonic.number
        start = next((k for k, spot in enumerate(row) if spot.midi % 12 == tonic), 0)
        order = [*range(start, size), *range(size - 2, -1, -1), *range(1, start + 1)]
    elif name == "threes going up":
        order = [k + j for k in range(size - 2) for j in (0, 1, 2)]
    elif name == "turns":
        order = [k + j for k in range(1, size - 1) for j in (0, 1, 0, -1)]
        order.append(size - 2)
    elif name == "fours coming down":
        order = [k - j for k in range(size - 1, 2, -1) for j in (0, 1, 2, 3)]
    else:
        order = [k + j for k in range(size - 2) for j in (0, 2)]
    return [row[k] for k in order if 0 <= k < size]
