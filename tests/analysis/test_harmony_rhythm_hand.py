"""Chords, rhythm, spans, usage and the hand; answers by hand (common practice) unless a source is named."""

from __future__ import annotations

from fractions import Fraction as F
from itertools import pairwise

import pytest
from hypothesis import given, settings
from phrases import phrase

from linewright.analysis import analyze
from linewright.analysis.harmony import relate_to_chords
from linewright.analysis.rhythm import read_rhythm, syncopation
from linewright.analysis.usage import FAIR_CHANCE
from linewright.analysis.words.playing import hand_words
from linewright.errors import MusicError
from linewright.fretboard import finger
from linewright.score import Lick, Mark, Note, bars_for
from linewright.score.meter import Meter
from linewright.theory import Pitch
from strategies import GUITAR, licks


# -- chords ------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("note", "chord", "role", "name"),
    [
        ("B4", "G7", "guide tone", "3"),
        ("F4", "G7", "guide tone", "b7"),
        ("G4", "G7", "chord tone", "1"),
        ("D4", "G7", "chord tone", "5"),
        ("Ab4", "G7", "tension", "b9"),
        ("A4", "G7", "tension", "9"),
        ("Bb4", "G7", "tension", "#9"),
        ("C4", "G7", "tension", "11"),
        ("C#4", "G7", "tension", "#11"),
        ("Eb4", "G7", "tension", "b13"),
        ("E4", "G7", "tension", "13"),
        ("Bb4", "Gm7", "guide tone", "b3"),
        ("A4", "C6", "guide tone", "6"),
        ("A4", "G9", "tension", "9"),
        ("F#4", "Gmaj7", "guide tone", "7"),
    ],
)
def test_what_a_note_is_to_its_chord(note: str, chord: str, role: str, name: str) -> None:
    relation = relate_to_chords(phrase(note, chords=chord)).relations[0]
    assert (relation.role, relation.name) == (role, name)


def test_guide_tones_across_a_two_five_one() -> None:
    """F over Dm7 falls to... C over Dm7 (b7) to B over G7 (3); F over G7 (b7) to E over C (3)."""
    lick = phrase("D4 F4 A4 C5 C5:2 B4 D5 F5 D5 F5:2 E5:4", chords="Dm7 G7 Cmaj7")
    changes = relate_to_chords(lick).changes
    assert [(c.lands, c.role, c.semitones) for c in changes] == [
        ("3", "guide tone", -1),
        ("3", "guide tone", -1),
    ]


def test_share_of_chord_tones() -> None:
    harmony = relate_to_chords(phrase("G4 A4 B4 C5 D5 E5 D5 C5", chords="G"))
    assert harmony.chord_tones == pytest.approx(4 / 8)
    assert harmony.strong_chord_tones == 1.0  # G on one, D on three
    assert relate_to_chords(phrase("G4 A4")).chord_tones is None


# -- rhythm ------------------------------------------------------------------------------
def test_syncopation_of_a_tie_over_the_bar_middle() -> None:
    """4/4, a quarter begun on the and of 2 (weight -3) held over beat 3 (weight -1): 2.

    The rule of Longuet-Higgins and Lee (1984): weight of the tied-over point minus weight of the
    note, where that is positive.
    """
    lick = phrase("C4 D4 E4 F4:1 G4 A4 B4")
    assert syncopation(lick) == {3: 2}


def test_an_off_beat_note_before_a_rest_on_the_beat() -> None:
    """The and of 4 (weight -3) followed by silence over the next bar line (weight 0): 3."""
    lick = phrase("C4:1 D4:1 E4:1 r F4 r:1 G4:1 A4:1 B4:1")
    assert syncopation(lick)[3] == 3


@pytest.mark.parametrize(
    ("durations", "meter", "unit", "wanted"),
    [
        # Longuet-Higgins and Lee (1984), figure 9, as listed with Honing's implementation of the
        # rule (2002), which counts one more for each syncopation and is given here without it.
        ((1, 3), "2/4", "1/2", [1]),
        ((2, 1, 3, 2), "4/4", "1/2", [2]),
        ((3, 1), "2/4", "1/2", []),
        ((2, 1), "3/4", "1", []),
        # His further examples of the same rule.
        ((1, 2, 1), "2/4", "1/2", [1]),
        ((1, 2, 1, 1, 3), "4/4", "1/2", [1, 1]),
        ((1, 4, 3), "4/4", "1/2", [2, 1]),
        ((1, 2, 2, 2, 1), "4/4", "1/2", [1, 2, 1]),
        ((3, 1, 2), "6/8", "1/2", []),
    ],
)
def test_syncopation_on_published_values(
    durations: tuple[int, ...], meter: str, unit: str, wanted: list[int]
) -> None:
    text = " ".join(f"C4:{n * F(unit)}" for n in (*durations, 8))
    assert list(syncopation(phrase(text, meter=meter)).values()) == wanted


def test_syncopation_of_a_bar_of_sixteenths() -> None:
    """x..x.xx. in 2/4 comes to 2 in the toolkit of Song, Pearce and Harte (2015), its example."""
    lick = phrase("C4:3/4 C4:1/2 C4:1/4 C4:1/2 C4:2", meter="2/4")
    assert sum(syncopation(lick).values()) == 2


def test_a_note_on_a_beat_that_ends_early_is_not_heard_as_syncopated() -> None:
    """Beat 2 of 4/4 and a rest on beat 3: one by the measure of 1984, none to a player (common
    practice); an eighth held over beat 3 is.
    """
    lick = phrase("C4:1 D4:1 r:1 E4:1 F4:1.5 G4:1 r:1/2 A4:1")
    assert read_rhythm(lick).syncopated == (1, 4)
    assert read_rhythm(lick).heard == (4,)


def test_triplets_are_not_syncopated_against_half_a_beat() -> None:
    """A beat in three has no point at its half (the tree of the rule divides it in three)."""
    assert syncopation(phrase("C4:1/3 D4:1/3 E4:1/3 F4:2/3 G4:1/3 A4:2")) == {}


def test_a_rhythm_of_a_beat_that_recurs() -> None:
    """One bar of eighth and two sixteenths on every beat."""
    cells = read_rhythm(phrase(" ".join(["C4:1/2 D4:1/4 E4:1/4"] * 3) + " C4:1")).cells
    assert [(cell.span, cell.lengths) for cell in cells] == [(F(1), (F(1, 2), F(1, 4), F(1, 4)))]
    assert cells[0].onsets == (0, 1, 2)


def test_notes_on_beats_are_never_syncopated() -> None:
    assert syncopation(phrase("C4:1 D4:1 E4:1 F4:1 G4:2 A4:2")) == {}


def test_streams_and_mixtures() -> None:
    stream = read_rhythm(phrase("C4 D4 E4 F4 G4 A4 B4 C5:1"))
    assert stream.is_stream
    assert (stream.subdivision, stream.common, stream.steadiness) == (2, F(1, 2), 1.0)
    mixed = read_rhythm(phrase("C4:1 D4 E4 F4:1/3 G4:1/3 A4:1/3 r:1 C5:1"))
    assert not mixed.is_stream
    assert mixed.rests == 1
    assert mixed.subdivision == 6


def test_a_bar_rhythm_that_recurs_and_one_displaced() -> None:
    again = read_rhythm(phrase("C4:1 D4 E4 F4:2 E4:1 F4 G4 A4:2"))
    assert [c.onsets for c in again.cells] == [(F(0), F(4))]
    assert again.cells[0].lengths == (F(1), F(1, 2), F(1, 2), F(2))
    moved = read_rhythm(phrase("C4 D4 E4:1 r:2 r C4 D4 E4:1 r:1 r"))
    assert moved.displaced == ((1, 2, F(1, 2)),)


@given(licks().filter(lambda lick: len(lick.notes) > 2))
def test_rhythm_does_not_depend_on_pitch(lick: Lick) -> None:
    one = read_rhythm(lick)
    flat = lick.with_(
        notes=tuple(
            Note(lick.notes[i].onset, lick.notes[i].duration, Pitch("C", 0, 4)) for i in lick.melody
        )
    )
    assert read_rhythm(flat).syncopation == one.syncopation
    assert read_rhythm(flat).density == one.density


# -- spans -------------------------------------------------------------------------------
def test_a_diatonic_two_five_one_is_one_span() -> None:
    lick = phrase("D4 F4 A4 C5 B4 A4 G4 F4 E4 G4 B4 D5 C5:2 r:2", chords="Dm7 G7 Cmaj7 Cmaj7")
    spans = analyze(lick).spans
    assert len(spans) == 1
    assert (spans[0].first, spans[0].last) == (0, 12)


def test_an_altered_dominant_is_a_span_of_its_own() -> None:
    lick = phrase(
        "D4 F4 A4 C5 E5 D5 C5 A4 Ab4 Bb4 B4 Db5 Eb5 Db5 B4 Ab4 G4 E4 D4 C4 E4 G4 B4 C5 r:4",
        chords="Dm7 G7 Cmaj7 Cmaj7",
    )
    spans = analyze(lick).spans
    names = [span.frame.name for span in spans if span.frame]
    assert names[1] == "G altered"
    assert names[-1] == "C major"
    assert (spans[1].first, spans[1].last) == (8, 15)


@settings(max_examples=40, deadline=None)
@given(licks().filter(lambda lick: bool(lick.notes)))
def test_spans_cover_every_note_once(lick: Lick) -> None:
    spans = analyze(lick).spans
    assert spans[0].first == 0
    assert spans[-1].last == len(lick.notes) - 1
    for left, right in pairwise(spans):
        assert right.first == left.last + 1


# -- usage -------------------------------------------------------------------------------
def test_usage_counts_contexts() -> None:
    lick = phrase(
        "G4 Bb4 C5 Db5 C5 Bb4 G4 F4 G4 Bb4 C5 Db5 C5 Bb4 G4 D5 F5 D5 C5 Db5 C5 Bb4 G4:1", key="Gm"
    )
    usage = analyze(lick).usage
    assert len(usage) == 1
    b5 = usage[0]
    assert (b5.degree.name, len(b5.notes)) == ("b5", 3)
    assert dict(b5.before) == {"4": 3}
    assert dict(b5.after) == {"4": 3}
    assert (b5.on_beat, b5.off_beat) == (0, 3)
    assert "the b5 always goes to the 4 (3 of 3)" in b5.facts
    assert any(f.startswith("never a straight chromatic run 4 b5 5") for f in b5.facts)
    assert "the b5 never falls on a beat (3 of 3 between beats)" in b5.facts


def test_no_claim_without_a_fair_chance() -> None:
    """One b5 proves nothing: half of all single notes would do the same by chance."""
    once = analyze(phrase("G4 Bb4 C5 Db5 C5 Bb4 G4 F4 D4 F4 G4:3", key="Gm")).usage[0]
    assert once.facts == ()
    assert 0 < FAIR_CHANCE <= 0.25


# -- hand --------------------------------------------------------------------------------
def tab_phrase(*places: tuple[int, int], step: str = "1/2") -> Lick:
    notes = tuple(
        Note(
            F(step) * i,
            F(step),
            Pitch.parse(("E4", "B3", "G3", "D3", "A2", "E2")[string - 1]).transpose(_up(fret)),
            string,
            fret,
        )
        for i, (string, fret) in enumerate(places)
    )
    return Lick(notes, bars_for(Meter(4, 4), F(step) * len(notes)), instrument=GUITAR)


def _up(semitones: int):  # type: ignore[no-untyped-def]
    from linewright.theory import Interval

    octaves, rest = divmod(semitones, 12)
    steps = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)[rest]
    return Interval(7 * octaves + steps, semitones)


def test_inside_and_outside_picking() -> None:
    """Down on string 3 then up on string 2 goes round the strings: outside; the next crossing back,
    up on 2 then down on 3... also round them. Down on string 2 then up on 3 lies between: inside.
    """
    outside = analyze(tab_phrase((3, 5), (2, 5), (3, 5), (2, 5)), "C").hand
    assert outside is not None
    assert [c.way for c in outside.crossings] == ["outside", "outside", "outside"]
    inside = analyze(tab_phrase((2, 5), (3, 5), (2, 5), (3, 5)), "C").hand
    assert inside is not None
    assert [c.way for c in inside.crossings] == ["inside", "inside", "inside"]


@pytest.mark.parametrize(
    ("places", "said"),
    [
        (((3, 5), (2, 8), (3, 7), (3, 4), (2, 8)), "fifth position, the index finger over fret 5"),
        (((3, 7), (2, 5), (1, 8), (1, 5), (3, 4)), "fifth position, the index finger over fret 5"),
        (((3, 4), (2, 5), (1, 7), (1, 4)), "fourth position, the index finger over fret 4"),
        (((3, 2), (2, 3), (4, 4)), "second position, the index finger over fret 2"),
        (((3, 2), (2, 3), (4, 0)), "open position, with one note on an open string"),
        (((3, 2), (2, 3), (1, 5), (4, 0)), "open position, the index finger over fret 2, with"),
    ],
)  # fmt: skip
def test_a_position_is_named_as_players_name_it(
    places: tuple[tuple[int, int], ...], said: str
) -> None:
    """By the index finger, which may reach a fret back; with open strings the open one."""
    found = analyze(tab_phrase(*places), "C")
    (text, *_) = [sentence.text for sentence in hand_words(found)]
    assert text.startswith(f"All in {said}")


def test_the_ways_of_crossing_add_up() -> None:
    """Eighths with beats of one quarter between: two crossings between strokes of one kind."""
    lick = tab_phrase((3, 5), (2, 5), (3, 5), (2, 5))
    wide = tab_phrase((3, 5), (2, 5), (3, 5), step="1")
    assert "three times, all outside." in _crossing_words(lick)
    assert "twice, all with the same stroke twice." in _crossing_words(wide)
    joined = lick.with_(
        notes=(lick.notes[0], lick.notes[1], lick.notes[2],
               Note(F(3, 2), F(1, 2), lick.notes[2].pitch.transpose(_up(2)), 3, 7,
                    (Mark("hammer-on"),)),
               Note(F(2), F(1, 2), lick.notes[1].pitch, 2, 5)),
        bars=bars_for(Meter(4, 4), F(5, 2)),
    )  # fmt: skip
    assert "three times, two outside and one after a slur." in _crossing_words(joined)


def _crossing_words(lick: Lick) -> str:
    (said,) = [s for s in hand_words(analyze(lick, "C")) if s.head.startswith("Picked")]
    return said.text


def test_slurs_take_no_stroke() -> None:
    lick = tab_phrase((3, 5), (3, 7), (2, 5), (2, 8))
    joined = lick.with_(
        notes=(
            lick.notes[0],
            Note(F(1, 2), F(1, 2), lick.notes[1].pitch, 3, 7, (Mark("hammer-on"),)),
            *lick.notes[2:],
        )
    )
    hand = analyze(joined, "C").hand
    assert hand is not None
    assert hand.strokes == ("down", "slur", "down", "up")
    assert dict(hand.marks) == {"hammer-on": 1}


def test_a_shift_is_seen_and_is_the_hardest_spot() -> None:
    hand = analyze(tab_phrase((3, 2), (3, 4), (3, 2), (1, 12), (1, 14), (1, 12)), "A").hand
    assert hand is not None
    assert len(hand.windows) == 2
    assert hand.hardest == 3
    assert "shift" in hand.why


@settings(max_examples=30, deadline=None)
@given(licks(double_stops=False, marks=()).filter(lambda lick: len(lick.notes) > 1))
def test_every_note_lies_in_one_window(lick: Lick) -> None:
    try:
        placed = finger(lick.with_(instrument=None), GUITAR)
    except MusicError:  # a drawn pitch the guitar does not have
        return
    hand = analyze(placed).hand
    assert hand is not None
    covered = [i for w in hand.windows for i in range(w.first, w.last + 1)]
    assert covered == list(range(len(placed.notes)))
    assert len(hand.strokes) == len(placed.notes)
