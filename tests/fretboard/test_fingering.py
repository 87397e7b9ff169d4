"""The fingering search against brute force, and against what players do."""

import itertools
from dataclasses import replace
from fractions import Fraction as F

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.errors import MusicError
from linewright.fretboard import (
    FingeringCost,
    finger,
    fingering_cost,
    hand_positions,
    instrument,
    places,
)
from linewright.score import Grace, Lick, Mark, Meter, Note, Tempo, bars_for
from linewright.theory import Pitch, spell_midi


def line(pitches, *, length=F(1, 2), marks=None, tempo=None, neck=None):
    marks = marks or {}
    notes = tuple(
        Note(i * length, length, Pitch.parse(p), marks=marks.get(i, ()))
        for i, p in enumerate(pitches.split())
    )
    return Lick(notes, bars_for(Meter(4, 4), len(notes) * length), tempo=tempo, instrument=neck)


def frets(lick):
    return " ".join(f"{n.string}:{n.fret}" for n in lick.notes)


# -- an evaluation of the cost written from the documentation of FingeringCost alone ---------
def documented_cost(attacks, ways, hands, reach, seconds):
    c = FingeringCost()
    total = 0.0
    for i, (notes, way, hand) in enumerate(zip(attacks, ways, hands, strict=True)):
        for note, (string, fret) in zip(notes, way, strict=True):
            if fret == 0:
                total += c.open_high if hand > 2 else 0
                total += c.still if note.has("vibrato") else 0
            else:
                total += c.fretted
                if fret < hand:
                    total += c.stretch * (hand - fret)
                if fret > hand + reach - 1:
                    total += c.stretch * (fret - (hand + reach - 1))
            if note.has("bend"):
                total += (c.bend_low if fret < 5 else 0) + (c.bend_thick if string > 3 else 0)
        if any(fret for _, fret in way):
            total += c.height * (hand - 1)
        used = {string for string, _ in way}
        total += c.skip * sum(s not in used for s in range(min(used), max(used)))
        if i == 0:
            continue
        before, old, old_hand = attacks[i - 1], ways[i - 1], hands[i - 1]
        total += c.cross * abs(way[0][0] - old[0][0])
        if len(way) == len(old) == 1 and way[0][1] == old[0][1] != 0 and way[0][0] != old[0][0]:
            total += c.roll
        for note, (string, fret) in zip(notes, way, strict=True):
            onto = [f for s, f in old if s == string]
            for mark in note.marks:
                if mark.name not in ("hammer-on", "pull-off", "slide", "release"):
                    continue
                wrong = {
                    "hammer-on": onto and fret <= onto[0],
                    "pull-off": onto and fret >= onto[0],
                }
                if not onto or wrong.get(mark.name):
                    total += c.slur
        if hand != old_hand:
            rest = notes[0].onset - before[0].end
            share = c.lift if any(fret for _, fret in old) else 1
            time = float(rest + before[0].duration * F(share)) * seconds
            haste = min(max(c.ease / time, c.calm), c.hurry)
            slides = any(n.has("slide") for n in notes)
            total += (
                haste * (c.slide_shift if slides else 1)
                * (c.shift + c.shift_fret * abs(hand - old_hand))
            )  # fmt: skip
    return total


def brute_force(lick, neck, reach):
    """The least cost over every way to play each attack and every walk of the hand."""
    attacks = [tuple(g) for _, g in itertools.groupby(lick.notes, key=lambda n: n.onset)]
    seconds = lick.tempo.seconds_per_quarter
    states = []
    for notes in attacks:
        options = [
            [p for p in places(int(n.midi - n.bend), neck) if p.fret or not n.bend] for n in notes
        ]
        here = []
        for way in itertools.product(*options):
            if len({p.string for p in way}) < len(way):
                continue
            pressed = [p.fret for p in way if p.fret]
            here += [
                (way, hand)
                for hand in range(1, neck.frets + 2)
                if all(hand - 1 <= fret <= hand + reach for fret in pressed)
            ]
        states.append(here)
    if not all(states):
        return None
    return min(
        documented_cost(attacks, [s[0] for s in walk], [s[1] for s in walk], reach, seconds)
        for walk in itertools.product(*states)
    )


SMALL = replace(instrument("guitar"), frets=7)


@st.composite
def short_licks(draw):
    at, notes = F(0), []
    for _ in range(draw(st.integers(1, 3))):
        length = draw(st.sampled_from((F(1, 2), F(1), F(1, 4))))
        size = draw(st.sampled_from((1, 1, 1, 2)))
        base = draw(st.integers(40, 70))
        group = {base, *(base - draw(st.integers(3, 9)) for _ in range(size - 1))}
        for midi in sorted((m for m in group if m >= 40), reverse=True):
            marks = draw(
                st.sampled_from(
                    ((),) * 3 + tuple((Mark(m),) for m in ("hammer-on", "pull-off", "slide", "vibrato"))
                    + ((Mark("bend", F(2)),),)
                )
            )  # fmt: skip
            notes.append(Note(at, length, spell_midi(midi), marks=marks))
        at += length + draw(st.sampled_from((F(0), F(0), F(1))))
    tempo = Tempo(F(draw(st.sampled_from((60, 120, 200)))))
    return Lick(tuple(notes), bars_for(Meter(4, 4), at), tempo=tempo)


@settings(max_examples=60, deadline=None)
@given(short_licks())
def test_cheapest_of_all_fingerings(lick):
    least = brute_force(lick, SMALL, reach=4)
    if least is None:
        with pytest.raises(MusicError):
            finger(lick, SMALL)
        return
    done = finger(lick, SMALL)
    assert fingering_cost(done) == pytest.approx(least)


def test_longer_line_against_every_choice_of_places():
    lick, neck = line("G3 A3 Bb3 C4 D4", tempo=Tempo(F(120))), instrument("guitar")
    options = [places(n.midi, neck) for n in lick.notes]
    costs = []
    for way in itertools.product(*options):
        notes = tuple(
            replace(n, string=p.string, fret=p.fret) for n, p in zip(lick.notes, way, strict=True)
        )
        costs.append(fingering_cost(replace(lick, notes=notes, instrument=neck)))
    assert len(costs) > 200
    assert fingering_cost(finger(lick, neck)) == pytest.approx(min(costs))


# -- as a player would (common practice) ----------------------------------------------------
def test_g_major_pentatonic_lies_in_open_position():
    run = "G2 A2 B2 D3 E3 G3 A3 B3 D4 E4 G4"
    up = "6:3 5:0 5:2 4:0 4:2 3:0 3:2 2:0 2:3 1:0 1:3"
    assert frets(finger(line(run))) == up
    down = " ".join(reversed(run.split()))
    assert frets(finger(line(down))) == " ".join(reversed(up.split()))


def test_blues_lick_lies_in_the_box_at_the_third_fret():
    done = finger(line("G4 Bb4 G4 F4 D4 F4 D4 Db4 C4 Bb3 G3 F3 G3"))
    assert frets(done) == "1:3 1:6 1:3 2:6 2:3 2:6 2:3 3:6 3:5 3:3 4:5 4:3 4:5"
    assert set(hand_positions(done)) == {3}


def test_blues_lick_lies_in_the_box_at_the_eighth_fret():
    done = finger(line("C5 Eb5 C5 Bb4 G4 Bb4 G4 Gb4 F4 Eb4 C4 Bb3 C4"))
    assert frets(done) == "1:8 1:11 1:8 2:11 2:8 2:11 2:8 3:11 3:10 3:8 4:10 4:8 4:10"


def test_a_bend_pulls_the_line_to_a_string_that_bends():
    lick = line("A4 C5 A4 G4 E4 D4 C4 A3", marks={1: (Mark("bend", F(1)),)})
    done = finger(lick)
    assert done.notes[1].fret >= 5
    assert done.notes[1].string <= 3
    assert set(hand_positions(done)) == {5}


def test_fiddle_tune_lies_in_first_position_on_the_mandolin():
    tune = "A4 B4 C#5 D5 E5 F#5 G#5 A5 B5 A5 F#5 E5 D5 C#5 B4 A4"
    done = finger(line(tune), instrument("mandolin"))
    assert frets(done) == ("2:0 2:2 2:4 2:5 1:0 1:2 1:4 1:5 1:7 1:5 1:2 1:0 2:5 2:4 2:2 2:0")


def test_slurs_stay_on_one_string():
    lick = line("G3 A3 B3 A3 G3", marks={2: (Mark("hammer-on"),), 3: (Mark("pull-off"),)})
    done = finger(lick)
    assert done.notes[1].string == done.notes[2].string == done.notes[3].string


def test_sixths_are_double_stops_within_one_hand():
    notes = []
    for k, pair in enumerate((("B3", "D3"), ("C4", "E3"), ("D4", "F#3"))):
        notes += [Note(F(k), F(1), Pitch.parse(p)) for p in pair]
    done = finger(Lick(tuple(notes), bars_for(Meter(4, 4), F(3))))
    for high, low in zip(done.notes[::2], done.notes[1::2], strict=True):
        assert high.string != low.string
        if high.fret and low.fret:
            assert abs(high.fret - low.fret) <= 5


# -- given places, graces, errors --------------------------------------------------------
def test_given_places_are_kept():
    lick = line("G3 A3 B3", neck=instrument("guitar"))
    fixed = replace(lick.notes[1], string=5, fret=12)
    done = finger(replace(lick, notes=(lick.notes[0], fixed, lick.notes[2])))
    assert (done.notes[1].string, done.notes[1].fret) == (5, 12)
    assert done.notes[0].fret >= 5  # the neighbours come up to meet it


def test_a_given_place_that_does_not_sound_the_note_is_refused():
    note = Note(F(0), F(1), Pitch.parse("G3"), string=1, fret=3)
    with pytest.raises(MusicError, match="does not lie at string 1, fret 3"):
        finger(Lick((note,), bars_for(Meter(4, 4), F(1))), instrument("guitar"))


def test_grace_notes_take_the_string_of_their_note():
    note = Note(F(0), F(1), Pitch.parse("B3"), grace=(Grace(Pitch.parse("A3")),))
    done = finger(Lick((note,), bars_for(Meter(4, 4), F(1))))
    assert done.notes[0].grace[0].string is not None


@pytest.mark.parametrize(("pitch", "hint"), [("C2", "up an octave"), ("B6", "down an octave")])
def test_out_of_range_names_note_and_bar_and_moves_nothing(pitch, hint):
    with pytest.raises(MusicError) as caught:
        finger(line(f"E3 G3 {pitch}"))
    assert pitch in str(caught.value)
    assert "bar 1, beat 2" in str(caught.value)
    assert hint in str(caught.value)


def test_notes_that_need_one_string_are_refused():
    notes = tuple(Note(F(0), F(1), Pitch.parse(p)) for p in ("F2", "E2"))
    with pytest.raises(MusicError, match="F2 and E2 cannot be played together"):
        finger(Lick(notes, bars_for(Meter(4, 4), F(1))))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(40, 80), min_size=1, max_size=24))
def test_every_note_gets_a_place_that_sounds_it(midis):
    notes = tuple(Note(F(i), F(1), spell_midi(m)) for i, m in enumerate(midis))
    done = finger(Lick(notes, bars_for(Meter(4, 4), F(len(midis)))))
    neck = done.instrument
    assert [neck.midi_at(n.string, n.fret) for n in done.notes] == midis
