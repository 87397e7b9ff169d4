"""The targets of the step on the chords: a change is heard by what is new with it."""

from __future__ import annotations

from itertools import pairwise

import pytest

from demo_plans import NAMES, analysis, plan

pytestmark = pytest.mark.xdist_group("plans")


def bare(name: str):
    return plan(name).step("chords").drills[0].lick


@pytest.mark.parametrize("name", NAMES)
def test_a_target_is_no_tone_of_the_chord_before_where_the_frame_has_another(name: str) -> None:
    drill = bare(name)
    frame = analysis(name).frame.numbers
    said = {span.onset: span.symbol for span in drill.chords}
    for before, after in pairwise(drill.notes):
        old, new = said[before.onset], said[after.onset]
        if old != new and (new.numbers - old.numbers) & frozenset(frame):
            assert after.midi % 12 not in old.numbers, (name, str(old), str(new), after)


def test_cattle_gap_and_late_shift_by_hand() -> None:
    """A to G in A mixolydian: the C sharp of A, the D of G, a half step apart, are the nearest that
    tell them apart. E7 to A7 in E minor pentatonic: B, then A (common practice: guide lines).
    """
    assert [n.pitch.pitch_class.name for n in bare("02").notes][:4] == ["C#", "D", "C#", "D"]
    assert [n.pitch.pitch_class.name for n in bare("03").notes] == ["B", "A", "B"]


def test_targets_lie_in_the_position_of_the_lick() -> None:
    """In the fifth-position box of A minor pentatonic, not at the nut."""
    for drill in plan("07").step("chords").drills:
        assert {(note.string, note.fret) for note in drill.lick.notes} <= {
            (2, 5), (2, 8), (3, 5), (3, 7), (4, 5), (4, 7), (1, 5), (1, 8)
        }  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_the_lick_in_the_middle_stands_over_its_own_chords(name: str) -> None:
    own = analysis(name).lick
    for drill in plan(name).step("together").drills:
        if drill.title != "The lick in the middle":
            continue
        first = next(bar for bar in own.bars if bar.number == 1)
        there = next(bar for bar in drill.lick.bars if bar.number == 3)
        for bar in own.bars:
            if bar.number < 1:
                continue
            for half in (bar.onset, bar.onset + bar.duration / 2):
                moved = half - first.onset + there.onset
                assert drill.lick.chord_at(moved) == own.chord_at(half), (name, bar.number)
        # It comes home as the lick does.
        last = drill.lick.bars[-1]
        assert drill.lick.chord_at(last.onset) == own.chord_at(own.bars[-1].onset)
