"""The small drawings of a take's time."""

import itertools
import re
from xml.etree import ElementTree

import pytest

from linewright.page.timing_chart import HistoryPoint, TimingNote, history_chart, timing_chart

SVG = "{http://www.w3.org/2000/svg}"
BARS = [(1, 0.0), (2, 4.0)]


def drawn(notes, **more):
    return ElementTree.fromstring(timing_chart(notes, BARS, 8.0, allowed_ms=50, **more))


def test_early_is_over_late_and_each_state_has_a_shape_of_its_own():
    notes = [
        TimingNote(0, 0.0, -30.0, True, "early"),
        TimingNote(1, 2.0, 30.0, True, "late"),
        TimingNote(2, 4.0, 90.0, True, "far out"),
        TimingNote(3, 6.0, 90.0, False, "doubtful <&>"),
    ]
    marks = {g.get("data-note"): list(g) for g in drawn(notes).iter(f"{SVG}g")}
    assert set(marks) == {"0", "1", "2", "3"}
    early, late = (float(marks[k][1].get("cy")) for k in "01")
    assert early < late
    lefts = [float(marks[k][1].get("cx")) for k in "01"]
    assert lefts == sorted(lefts)
    assert marks["2"][1].tag == f"{SVG}path"  # a cross
    ring = marks["3"][1]
    assert (ring.tag, ring.get("fill")) == (f"{SVG}circle", "#ffffff")
    assert marks["3"][0].text == "doubtful <&>"


@pytest.mark.parametrize("ms", [0.0, 49.0, 10_000.0, -10_000.0])
def test_every_mark_lies_inside_the_drawing(ms):
    svg = drawn([TimingNote(0, 8.0, ms, False, "")], width=340)
    wide, high = (float(v) for v in svg.get("viewBox").split()[2:])
    mark = next(svg.iter(f"{SVG}circle"))
    assert 0 <= float(mark.get("cx")) <= wide
    assert 0 <= float(mark.get("cy")) <= high


def test_no_two_bar_numbers_overlap():
    bars = [(n, 4.0 * (n - 1)) for n in range(1, 65)]
    svg = timing_chart([], bars, 256.0, allowed_ms=50, width=340)
    lefts = [float(x) for x in re.findall(r'<text x="([\d.]+)" y="142"', svg)]
    assert all(b - a >= 18 for a, b in itertools.pairwise(lefts))
    assert len(lefts) > 4


def test_takes_over_time_show_what_the_step_asks_and_how_each_went():
    points = [
        HistoryPoint("slow", 60, 40.0, False),
        HistoryPoint("clean", 70, 20.0, False, clean=True),
        HistoryPoint("done", 80, 15.0, True),
        HistoryPoint("open", 80, None, None),
    ]
    svg = ElementTree.fromstring(history_chart(points, goal_bpm=80, spread_ms=25))
    titles = [t.text for t in svg.iter(f"{SVG}title")]
    assert titles == ["slow", "clean", "done", "open", "slow", "clean", "done"]
    shapes = {g[0].text: (g[1].tag, g[1].get("d", "")[-1:]) for g in svg.iter(f"{SVG}g")}
    assert len(set(shapes.values())) >= 3  # cross, diamond, dots
    goals = [t.text for t in svg.iter(f"{SVG}text")]
    assert {"80", "25"} <= set(goals)
