"""Lines under many wishes, judged by a checker that shares no code with the line maker."""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from checker import broken
from line_licks import demo, demo_names

from linewright.errors import InputError, OptionError
from linewright.lines import Line, LineRequest
from linewright.score import Note
from linewright.theory import Pitch, degree_of

PROGRESSIONS = (
    None, "12-bar blues", "ii-V-I in F", "1 4 5 6m", "rhythm changes in Bb", "A7 | D7 | E7 | %",
)  # fmt: skip


@pytest.mark.parametrize("name", demo_names())
def test_no_guarantee_is_broken(name: str) -> None:
    analysis, model = demo(name)
    rng = Random(name)
    made = 0
    for _ in range(5):
        bars = rng.randint(2, 10)
        full = sum(1 for b in analysis.lick.bars if b.number and b.is_full)
        pins = {1 + rng.randrange(bars - full): analysis.lick} if bars > full else {}
        wished = LineRequest(
            bars=bars,
            progression=rng.choice(PROGRESSIONS),
            mix=rng.choice([None, {}]),
            pins=rng.choice([{}, pins]),
            grid=rng.choice(["eighths", "eighths", "cells"]),
            leap=rng.choice([5, 7, 12]),
            quote=rng.choice([4, 5, 6]),
            phrase=rng.choice([0, 2, 4]),
            held=rng.random() < 0.7,
            tempo=rng.choice([None, 60, 200]),
            follow="home",
            seed=rng.randrange(10**6),
        )
        try:
            line = model.sample(wished)
        except OptionError:
            continue
        made += 1
        degrees = set() if wished.mix == {} else None
        assert broken(analysis, line, degrees=degrees) == []
        again = model.resample(line, [1, bars])
        assert broken(analysis, again, degrees=degrees) == []
        for bar in (1, bars):
            assert unslurred(again.bar(bar).notes) == unslurred(line.bar(bar).notes)
    assert made >= 3


def unslurred(notes: tuple[Note, ...]) -> tuple[Note, ...]:
    """Notes whose first is not slurred from a note before, which may be another now."""
    free = tuple(mark for mark in notes[0].marks if not mark.kind.joins)
    return (replace(notes[0], marks=free), *notes[1:])


def test_the_checker_sees_every_kind_of_break() -> None:
    """A source played back to the checker as if it were a line breaks the quotation rule, and
    others when their limits are drawn in.
    """
    analysis, model = demo("late-shift")
    line = model.sample(LineRequest(bars=4, mix={"b5": 0.1}))
    assert broken(analysis, line) == []
    tight = replace(line, request=line.request.with_(leap=2))
    assert any("leap" in b for b in broken(analysis, tight))
    assert any(
        "quote" in b for b in broken(analysis, replace(line, request=line.request.with_(quote=2)))
    )
    assert any("range" in b for b in broken(analysis, line, low=60, high=61))
    assert any("asked" in b for b in broken(analysis, line, degrees=set()))
    notes = list(line.lick.notes)
    notes[5] = replace(notes[5], pitch=Pitch.parse("G#3"), string=3, fret=1)
    wrong = replace(line, lick=line.lick.with_(notes=tuple(notes)))
    assert any("labelled" in b for b in broken(analysis, wrong))
    far = list(line.lick.notes)
    where, *other = next(
        (n, s, f)
        for n in range(1, len(far))
        for s in range(1, 7)
        for f in range(12, 23)
        if line.lick.instrument.midi_at(s, f) == far[n].midi
    )
    far[where] = replace(far[where], string=other[0], fret=other[1])
    reached = replace(
        line,
        lick=line.lick.with_(notes=tuple(far)),
        request=line.request.with_(tempo=400),
    )
    assert any("reach" in b for b in broken(analysis, reached))


def test_range_start_and_landing_are_kept() -> None:
    analysis, model = demo("lantern")
    wished = LineRequest(
        bars=6, range=(Pitch.parse("D4"), Pitch.parse("D5")), start="5", landing="3"
    )
    for seed in range(12):
        line = model.sample(wished.with_(seed=seed))
        assert broken(analysis, line, low=62, high=74) == []
        first, last = line.lick.notes[0], line.lick.notes[-1]
        assert degree_of(first.pitch.pitch_class, analysis.tonic).name == "5"
        assert degree_of(last.pitch.pitch_class, analysis.tonic).name == "3"


def test_a_pinned_lick_stands_note_for_note_and_is_led_into() -> None:
    analysis, model = demo("left-at")
    line = model.sample(LineRequest(bars=10, pins={7: analysis.lick}))
    assert broken(analysis, line) == []
    kept = [r for r in line.notes if r.pinned]
    assert len(kept) == sum(1 for n in analysis.lick.notes if analysis.lick.bar_at(n.onset).number)


@pytest.mark.parametrize("grid", ["eighths", "triplets", "sixteenths", "quarters", "cells"])
def test_every_grid_fills_its_bars(grid: str) -> None:
    analysis, model = demo("late-shift" if grid == "eighths" else "feed-store")
    line = model.sample(LineRequest(bars=8, grid=grid, mix={}))
    assert broken(analysis, line) == []


def test_the_frame_can_move_with_the_chords() -> None:
    """G minor pentatonic over dominant chords: each chord's own minor pentatonic (by hand)."""
    analysis, model = demo("feed-store")
    roots = {"G7": 7, "C7": 0, "D7": 2}
    shape = (0, 3, 5, 7, 10)

    def frame_at(chord):
        root = roots[chord.text]
        return root, frozenset((root + s) % 12 for s in shape)

    line = model.sample(LineRequest(bars=12, progression="12-bar blues", follow="chords"))
    assert broken(analysis, line, frame_at=frame_at) == []
    assert {n.midi % 12 for n in line.lick.notes} - {7, 10, 0, 2, 5}  # not the home frame alone


def test_the_home_moves_with_the_key() -> None:
    analysis, model = demo("left-at")
    line = model.sample(LineRequest(bars=4, progression="ii-V-I in Eb", mix={}))
    assert broken(analysis, line) == []
    assert {n.midi % 12 for n in line.lick.notes} <= {3, 5, 7, 8, 10, 0, 2}
    assert line.lick.key is not None
    assert line.lick.key.tonic.name == "Eb"


def test_the_same_seed_makes_the_same_line() -> None:
    _, model = demo("feed-store")
    wished = LineRequest(bars=6, seed=8)
    one = model.sample(wished)
    model.sample(wished.with_(leap=5, bars=3))
    model.most(wished)
    from linewright.lines import line_model

    other = line_model(demo("feed-store")[0])
    assert other.sample(wished).to_dict() == one.to_dict()
    assert other.sample(wished.with_(seed=9)).lick.notes != one.lick.notes


def test_a_line_does_not_depend_on_hash_order() -> None:
    """Two processes with other hash seeds make the same line."""
    program = (
        f"import sys; sys.path.insert(0, {str(Path(__file__).parent)!r})\n"
        "from line_licks import demo\n"
        "from linewright.lines import LineRequest\n"
        "line = demo('left-at')[1].sample(LineRequest(bars=8, follow='chords', seed=4))\n"
        "print([(n.midi, n.string) for n in line.lick.notes], line.mix)"
    )
    made = {
        subprocess.run(
            [sys.executable, "-c", program],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
            text=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(made) == 1


def test_streams_join_without_a_seam() -> None:
    analysis, model = demo("feed-store")
    bars = []
    for line in model.stream(LineRequest(bars=4, progression="12-bar blues", phrase=0)):
        bars.append(line)
        if len(bars) == 40:
            break
    notes = [note for line in bars for note in line.lick.notes]
    leaps = [abs(b.midi - a.midi) for a, b in itertools.pairwise(notes)]
    assert max(leaps) <= 7
    source = [n.midi for n in analysis.lick.notes]
    words = {
        tuple(b - a for a, b in zip(source[i : i + 5], source[i + 1 : i + 6], strict=True))
        for i in range(len(source) - 5)
    }
    played = [b.midi - a.midi for a, b in itertools.pairwise(notes)]
    assert not any(tuple(played[i : i + 5]) in words for i in range(len(played) - 4))
    for line in bars:
        whole = [b for b in broken(analysis, line, is_part=True) if "used as" not in b]
        assert whole == []
    assert [line.lick.chords[0].symbol.text for line in bars[12:24]] == [
        line.lick.chords[0].symbol.text for line in bars[:12]
    ]


def test_wishes_that_clash_are_named() -> None:
    _, model = demo("feed-store")
    with pytest.raises(OptionError, match="no leap over a half step"):
        model.sample(LineRequest(leap=1, mix={}, start="1", landing="5"))
    with pytest.raises(OptionError, match="range") as caught:
        model.sample(LineRequest(range=(Pitch.parse("G3"), Pitch.parse("Bb3")), landing="C5"))
    assert "the last note C5" in str(caught.value)
    assert "leap" not in str(caught.value)
    with pytest.raises(OptionError, match="at most"):
        model.sample(LineRequest(mix={"3": 0.9}))
    with pytest.raises(OptionError, match="does not teach 'f9'"):
        model.sample(LineRequest(mix={"f9": 0.2}))


def test_simpler_and_harder_change_one_thing_at_a_time() -> None:
    """Down to the simplest and up again: leaps, then outside notes, then rhythm."""
    _, model = demo("feed-store")
    line = model.sample(LineRequest(bars=4))
    outside = {e.name for e in model.elements if e.uses and not e.plans}

    def kinds(a: Line, b: Line) -> list[str]:
        changed = []
        if a.request.leap != b.request.leap:
            changed.append("leap")
        if any(abs(a.asked.get(n, 0.0) - b.asked.get(n, 0.0)) > 1e-9 for n in outside):
            changed.append("outside")
        if a.request.grid != b.request.grid:
            changed.append("rhythm")
        return changed

    done: list[str] = []
    for _ in range(40):
        try:
            easier = model.simpler(line)
        except OptionError:
            break
        assert easier.request.leap <= line.request.leap
        assert all(easier.asked.get(n, 0.0) <= line.asked.get(n, 0.0) for n in outside)
        (change,) = kinds(line, easier)
        done.append(change)
        line = easier
    else:
        pytest.fail("there is always something simpler")
    assert done.index("leap") < done.index("outside") < done.index("rhythm")
    assert not any(r.role == "outside" for r in line.notes)
    (first,) = kinds(line, model.harder(line))
    assert first == "rhythm"


def test_every_note_says_why_it_is_there() -> None:
    _, model = demo("left-at")
    line = model.sample(LineRequest(bars=8))
    for note, reason in zip(line.lick.notes, line.notes, strict=True):
        assert reason.why
        if reason.role == "outside":
            assert reason.use is not None
            assert reason.use.function in reason.why
        if reason.role == "figure":
            assert reason.figure in reason.why
        assert note.string is not None


def test_a_mix_that_grows_stands_beside_a_pinned_lick() -> None:
    """The notes before the pin have fewer of the line's sections than the line has."""
    analysis, model = demo("late-shift")
    wished = LineRequest(
        bars=12, mix={"b5": 0.08}, intensity=(0.4, 1.6), pins={7: analysis.lick}, follow="home"
    )
    assert broken(analysis, model.sample(wished)) == []


def test_intensity_grows_through_the_line() -> None:
    _, model = demo("late-shift")
    wished = LineRequest(bars=12, mix={"b5": 0.1}, intensity=(0.2, 1.8))
    early = late = 0
    for seed in range(30):
        line = model.sample(wished.with_(seed=seed))
        for note, reason in zip(line.lick.notes, line.notes, strict=True):
            early += reason.role == "outside" and note.onset < line.length / 2
            late += reason.role == "outside" and note.onset >= line.length / 2
    assert late > 2 * early


@pytest.mark.parametrize(
    "wishes",
    [
        {"bars": 0}, {"bars": 10**6}, {"leap": 0}, {"quote": 1}, {"grid": "waltz"},
        {"follow": "nobody"}, {"mix": {"b5": 1.5}}, {"tempo": 5}, {"intensity": (0, 0)},
        {"range": (Pitch.parse("C5"), Pitch.parse("C4"))}, {"bars": 2.5},
    ],
)  # fmt: skip
def test_impossible_wishes_are_refused_at_once(wishes: dict[str, object]) -> None:
    with pytest.raises(OptionError):
        LineRequest(**wishes)


def test_wishes_the_lick_cannot_meet_say_so() -> None:
    analysis, model = demo("late-shift")
    for wished in (
        LineRequest(start="H9"),
        LineRequest(progression="foo bar"),
        LineRequest(grid="triplets"),
        LineRequest(bars=2, pins={2: analysis.lick}),
        LineRequest(bars=4, pins={1: demo("cattle")[0].lick}),
        LineRequest(range=(Pitch.parse("C1"), Pitch.parse("D1"))),
    ):
        with pytest.raises(InputError):
            model.sample(wished)
