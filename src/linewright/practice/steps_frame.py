"""The steps on the frame alone: in one position, across the neck, and improvised on."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from linewright.analysis.prose import capital
from linewright.lines import Line, LineRequest
from linewright.practice.frame_drills import neck_drills, position_drills, windows_of
from linewright.practice.material import EXAMPLES, Material
from linewright.practice.model import Drill, Step
from linewright.practice.neck import Window, in_window
from linewright.practice.rules import done_for
from linewright.score import Tempo

__all__ = ["SLOWER", "frame_step", "line_drill", "neck_step", "stream_step"]

SLOWER: Final = "Go back one tempo, and stay there until two takes in a row are clean."


def _in_windows(m: Material, key: str, windows: Sequence[Window]) -> tuple[LineRequest, list[Line]]:
    """Lines on the bare frame, each in one of the positions."""
    lines: list[Line] = []
    request = m.wishes(mix={}, follow="home")
    for turn in range(EXAMPLES):
        window = windows[turn % len(windows)]
        spots = window.spots
        ends = (spots[0].pitch, spots[-1].pitch)
        asked = m.wider(m.wishes(mix={}, follow="home", range=ends))
        asked += [asked[-1].with_(quote=8), asked[-1].with_(quote=16)]
        made = m.lines(f"{key} {turn}", asked, count=1)
        if made is None:
            continue
        request = request.with_(leap=max(request.leap, made[0].leap))
        lines.append(in_window(made[1][0], window))
    return request, lines


def frame_step(m: Material) -> Step:
    """Know the frame in the position the lick lies in."""
    ladder = m.ladder()
    request, lines = _in_windows(m, "frame", [m.home])
    return Step(
        0,
        "frame",
        f"Know {m.called.the}{'' if m.is_heard else f': {m.frame.name}'} in {m.home.name}",
        f"To have {m.called.all} under the hand where the lick lies, in melodic shapes and not only up"
        " and down.",
        position_drills(m, ladder[0]),
        tuple(lines),
        ladder,
        done_for(m, request, ladder),
        (
            SLOWER,
            "Take the shape that breaks down on two strings only, then add a string at a time.",
            "Say each degree aloud as you play it, without tempo, before you go on.",
        ),
    )


def neck_step(m: Material) -> Step | None:
    """The same frame in other positions; None on a neck with room for one."""
    windows = windows_of(m)
    if len(windows) < 2:
        return None
    ladder = m.ladder()
    # Three of them: the ends and the middle.
    shown = [windows[0], windows[len(windows) // 2], windows[-1]]
    request, lines = _in_windows(m, "neck", list(dict.fromkeys(shown)))
    names = ", ".join(window.name for window in windows)
    return Step(
        0,
        "neck",
        f"{capital(m.called.the)} across the neck",
        f"To find {m.called.name} wherever the hand is: {names}.",
        neck_drills(m, windows, ladder[0]),
        tuple(lines),
        ladder,
        done_for(m, request, ladder),
        (
            SLOWER,
            "Find the tonic in each position first and play only the notes next to it.",
            "Leave out the position that breaks down, and come back to it tomorrow.",
        ),
    )


def stream_step(m: Material) -> Step | None:
    """Improvise on the frame alone."""
    ladder = m.ladder()
    plain = m.wishes(mix={}, follow="home")
    made = m.lines("stream", m.wider(plain))
    if made is None:
        return None
    request, lines = made
    bpm = ladder[0]
    near = [k for k, s in enumerate(m.home.spots) if s.midi % 12 == m.frame.tonic.number]
    drills: list[Drill] = []
    if near:
        spots = m.home.spots[max(0, near[0] - 2) : near[0] + 4]
        few = m.wishes(mix={}, follow="home", range=(spots[0].pitch, spots[-1].pitch))
        asked = [few.with_(quote=quote) for quote in (few.quote, 8, 16)]
        drills += line_drill(
            m, "stream few", asked, bpm, f"Only {len(spots)} notes",
            f"Keep going on nothing but {spots[0].pitch} to {spots[-1].pitch}; here is one way.",
        )  # fmt: skip
    steps = [plain.with_(leap=m.widest_step, quote=quote) for quote in (plain.quote, 8, 16)]
    drills += line_drill(
        m, "stream steps", steps, bpm, "Neighbours only",
        f"Every move goes to the next {m.called.one}, up or down; you choose when to turn.",
    )  # fmt: skip
    degrees = m.frame.collection.degrees
    middle = degrees[len(degrees) // 2].name
    drills += line_drill(
        m, "stream home", [request.with_(start=middle, landing="1", held=True)], bpm,
        f"From {middle} home to 1",
        f"Begin on {middle} and be on the tonic when the last bar comes to rest.",
    )  # fmt: skip
    return Step(
        0,
        "stream",
        f"Improvise on {m.called.the} alone",
        f"To make lines in a steady stream from {m.called.own} only, choosing the next note while"
        " this one sounds.",
        tuple(drills),
        lines,
        ladder,
        done_for(m, request, ladder),
        (
            SLOWER,
            "Use three notes only; add a fourth when the stream no longer stops.",
            "Sing a bar, then play it.",
        ),
    )


def line_drill(
    m: Material, key: str, asked: Sequence[LineRequest], bpm: int, title: str, words: str
) -> list[Drill]:
    """A drill that is a made line, under a title of its own; none when no request can be met."""
    made = m.lines(key, asked, count=1)
    if made is None:
        return []
    lick = made[1][0].lick.with_(title=title, tempo=Tempo(Fraction(bpm), m.beat))
    return [Drill(title, words, lick)]
