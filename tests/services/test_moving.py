"""Moving a lick: wishes as written, what changes in words, keeping."""

from fractions import Fraction

import pytest

from linewright.errors import LinewrightError, OptionError
from linewright.services.bring import bring_in
from linewright.services.moving import (
    MoveWishes,
    changes_of,
    keep_moved,
    move_lick,
    moved_dict,
)
from linewright.store import Query
from samples import PORCH

MAJOR = 'X:1\nT:Gate\nM:4/4\nL:1/8\nK:C\n"C"CEGc BGE2|"F"FAcA "C"G2C2|\n'


@pytest.fixture(scope="module")
def gate():
    return bring_in(MAJOR.encode()).analysis


def test_a_key_moves_every_note_alike_and_the_chords_with_it(gate):
    done = move_lick(gate, MoveWishes(key="D"))
    steps = {b.midi - a.midi for a, b in zip(gate.lick.notes, done.lick.notes, strict=True)}
    assert steps == {2}  # C to D is a whole step (common practice)
    assert [str(c.symbol) for c in done.lick.chords] == ["D", "G", "D"]
    assert done.lick.key.name == "D major"
    assert done.tonic.name == "D"


def test_over_a_minor_chord_each_changed_note_is_named_with_why(gate):
    done = move_lick(gate, MoveWishes(quality="minor"))
    changes = changes_of(gate, done)
    assert [(c.place, c.before, c.after) for c in changes] == [
        ("bar 1, the and of 1", "3 (E)", "b3 (Eb)"),
        ("bar 1, beat 3", "7 (B)", "b7 (Bb)"),
        ("bar 1, beat 4", "3 (E)", "b3 (Eb)"),
        ("bar 2, the and of 1", "6 (A)", "b6 (Ab)"),
        ("bar 2, the and of 2", "6 (A)", "b6 (Ab)"),
    ]  # the notes of C minor 7, then of F minor (common practice)
    assert all("minor" in c.why for c in changes)
    assert done.lick.key.name == "C minor"
    assert str(done.lick.chords[0].symbol) == "Cm"
    body = moved_dict(done)
    assert body["key"] == "C minor"
    assert body["tonic"] == "C"
    assert body["changes"][0]["after"] == "b3"
    assert [n["midi"] for n in body["notes"]] == [n.midi for n in done.lick.notes]


@pytest.mark.parametrize(
    ("text", "later"), [("1", 1), ("-1", -1), ("1/2", Fraction(1, 2)), ("+0.5", Fraction(1, 2))]
)
def test_displaced_by_beats(gate, text, later):
    done = move_lick(gate, MoveWishes(by_beats=text))
    first = done.lick.notes[0].onset
    assert (first - gate.lick.notes[0].onset - later) % 4 == 0
    assert [n.midi for n in done.lick.notes] == [n.midi for n in gate.lick.notes]


def test_a_beat_of_six_eight_is_a_dotted_quarter():
    jig = bring_in(b"X:1\nM:6/8\nL:1/8\nK:D\nDFA AFD|D6|\n").analysis
    done = move_lick(jig, MoveWishes(by_beats="1"))
    assert done.lick.notes[0].onset == Fraction(3, 2)


def test_open_strings_wherever_there_is_one_or_none():
    porch = bring_in(b"X:1\nM:4/4\nL:1/8\nK:G\n"
                     b"GABd edBG|E2G2 A2B2|\n").analysis  # fmt: skip
    opened = move_lick(porch, MoveWishes(open_strings=True)).lick
    stopped = move_lick(porch, MoveWishes(open_strings=False)).lick
    # G3 and B3 and e.g. E4 are open strings of a guitar (common practice); here an octave up:
    # only E4 and B4's neighbours; what counts is that no stopped note can be played open.
    strings = {note.midi for note in opened.notes if note.fret == 0}
    assert strings == {note.midi for note in opened.notes} & {40, 45, 50, 55, 59, 64}
    assert strings
    assert all(note.fret for note in stopped.notes)
    assert [n.midi for n in stopped.notes] == [n.midi for n in opened.notes]


def test_another_tuning_keeps_the_lick_s_own_instrument():
    lick = bring_in(PORCH.encode()).analysis
    done = move_lick(lick, MoveWishes(tuning="DADGAD"))
    assert done.lick.instrument.tuning == "DADGAD"
    assert [n.midi for n in done.lick.notes] == [n.midi for n in lick.lick.notes]
    neck = done.lick.instrument
    assert all(neck.midi_at(n.string, n.fret) == n.midi for n in done.lick.notes)


@pytest.mark.parametrize(
    "wishes",
    [
        {}, {"key": "H"}, {"quality": "blue"}, {"position": 99}, {"instrument": "kazoo"},
        {"tuning": "x y z"}, {"by_beats": "soon"}, {"by_beats": "1/0"}, {"by_beats": "500"},
        {"capo": 40},
    ],
)  # fmt: skip
def test_what_cannot_be_is_said(gate, wishes):
    with pytest.raises(LinewrightError) as told:
        move_lick(gate, MoveWishes(**wishes))
    assert told.value.message
    assert told.value.accepted


def test_wishes_too_long_are_refused():
    with pytest.raises(OptionError, match="too long"):
        MoveWishes(key="C" * 100)


def test_a_moved_lick_is_kept_on_its_new_home(library):
    lick = bring_in(PORCH.encode()).analysis
    kept = keep_moved(library, lick, MoveWishes(key="D"))
    assert kept.lick.title == "Porch step, in D, down a fourth"
    assert kept.entry.facts.tonic == "D"
    assert library.search(Query(tag="moved")).total == 1
    assert "slow" in kept.lick.tags
