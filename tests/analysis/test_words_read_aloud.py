"""What a teacher would not say aloud: sentences found clumsy, double or untrue, said as they should be.

Common practice of the language and the trade; each phrase analysed by hand.
"""

from __future__ import annotations

from phrases import phrase

from linewright.analysis import Analysis, analyze
from linewright.analysis.compare import compare
from linewright.analysis.rhythm import is_syncopated
from linewright.analysis.words import paragraphs


def _said(analysis: Analysis, key: str) -> list[str]:
    return [s for part in paragraphs(analysis) if part.key == key for s in part.sentences]


def test_an_arpeggio_has_its_article_and_no_scale_steps() -> None:
    analysis = analyze(phrase("A3 C4 E4 G4 A4 C5 E5 G5 A5 G5 E5 C5 A4:2", chords="Am7"))
    assert analysis.verdict.startswith("It hangs on the A minor seventh arpeggio:")
    assert _said(analysis, "motion")[0] == (
        "It moves only by steps from one chord tone to the next, over a range of two octaves."
    )


def test_tensions_over_one_chord_name_the_chord() -> None:
    analysis = analyze(phrase("C5 D5 E5 G5 A5:1 G5 E5 D5 C5 A4:2", chords="A7", key="A"))
    assert "The others are heard as the #9 and 11 of A7." in _said(analysis, "chords")


def test_what_the_sentence_on_a_degree_says_is_not_said_again() -> None:
    analysis = analyze(phrase("G4 A4 C5 Eb5 E5 D5 C5 A4 G4 Eb4 E4 C4:2", key="C"))
    b3 = [s for s in _said(analysis, "outside") if s.startswith("The b3")]
    assert b3 == [
        "The b3 is played twice: from the 1 (once) and the 5 (once) to the 3, between beats."
    ]
    assert "the b3 always goes to the 3 (2 of 2)" in analysis.usage[0].facts


def test_most_is_more_than_half_and_all_is_not_a_share() -> None:
    mixed = analyze(phrase("A4:1 C5 A4 G4:3/2 F4 D4:1 F4 G4:1 A4:3/2", key="Dm"))
    assert _said(mixed, "rhythm")[0].startswith("Notes of mixed length, most often eighth notes (")
    even = analyze(phrase("C4:1 E4:1 G4:2"))
    assert _said(even, "rhythm") == ["Quarter notes throughout, with no rests inside the phrase."]


def test_where_nothing_fits_home_is_not_claimed_and_spelling_is_kept() -> None:
    analysis = analyze(phrase("C4 F#4:1 B4 Eb4:1 A4:1 G#4 F4:1 C#5 D4 E4:1 Bb4", spelled=True))
    assert analysis.frame is None
    assert analysis.verdict.startswith("Nothing fits: it plays eleven of the twelve notes,")
    assert _said(analysis, "frame")[1].startswith("No note is clearly home; the notes lean most on")
    assert [note.pitch.pitch_class.name for note in analysis.lick.notes][:4] == [
        "C",
        "F#",
        "B",
        "Eb",
    ]


def test_a_note_that_is_the_same_to_chord_and_tonic_is_named_once() -> None:
    analysis = analyze(
        phrase("D5 B4 A4 G4 G#4 E4 D4 E4 B3 D4 E4:1 G4 G#4 E4:1", chords="E7", key="E")
    )
    assert analysis.outside_notes[0].reason == "the 3 belongs to E7, a major 3rd over a minor frame"


def test_coming_home_over_the_changes() -> None:
    analysis = analyze(phrase("B4 Eb5 Db5 B4 Bb4 Ab4 G4 F4 Eb4:4", chords="G7alt Cm", key="Cm"))
    assert _said(analysis, "spans") == [
        "From bar 1, beat 1 over G7alt it hangs on G altered.",
        "From bar 2, beat 1 over Cm it comes home to C harmonic minor.",
    ]


def test_a_winding_shape_starts_again_where_it_began() -> None:
    """Not lower, because it ended high; and a fourth is no five semitones."""
    analysis = analyze(
        phrase("A3 C#4 E4 F#4 G4 F#4 E4 C#4 D4 F#4 A4 B4 C5 B4 A4 F#4 E4 C#4 A3:1", chords="A7 D7 A7", key="A")
    )  # fmt: skip
    (figure,) = analysis.figures
    assert figure.tight.words.endswith("then again a fourth higher")
    assert figure.loose.words == (
        "climbs and falls back in eight notes, starts again higher, climbs and falls back again"
    )


def test_two_notes_a_semitone_apart_are_one_semitone() -> None:
    notes = "Bb4 A4 G4 Gb4 E4 Eb4 Db4 C4 Bb3 A3 F4:2"
    words = [figure.loose.words for figure in analyze(phrase(notes)).figures]
    assert words == ["falls a semitone, restarts a little lower, falls again, five times in all"]


def test_chords_are_listed_and_an_end_that_is_the_beginning_said_once() -> None:
    vamp = analyze(phrase("E4 F4 G#4 A4 B4 C5 D5 C5 A4 F4 G#4 F4 E4:1", chords="E7 F E7"))
    assert vamp.tonic_reason == "the chords E7 and F are at home on E"
    framed = analyze(phrase("G4:1 A4:1 G4:2"))
    assert framed.tonic_reason == "G is home: the phrase begins and ends on it"


def test_two_licks_without_a_frame_leave_none() -> None:
    one = analyze(phrase("C4 F#4 B4 Eb4 A4 G#4 F4 C#5 D4 E4 Bb4").with_(title="One"))
    two = analyze(phrase("G4:1 A4:1 G4:2").with_(title="Two"))
    said = {point.sentence for point in compare(one, two).points}
    assert "Neither leaves its frame." not in said


def test_one_degree_used_in_two_ways_is_one_point() -> None:
    one = analyze(phrase("A4 C5 D5 E5 Eb5 D5 C5 A4 G4 A4:2", key="A").with_(title="One"))
    two = analyze(phrase("A4 C5 D5 Eb5 D5 C5 A4 G4 A4:2", key="A").with_(title="Two"))
    said = {point.sentence for point in compare(one, two).different}
    assert "The b5 is used in two ways: in One as a passing note, in Two as a blue note." in said


def test_outside_notes_of_one_kind_are_listed_together() -> None:
    one = analyze(
        phrase("G4 Ab4 Bb4 B4 C#5 D5 E5 F5 E5:1 C5:1 G4:2", chords="G7b9 C", key="C").with_(title="One")
    )  # fmt: skip
    two = analyze(phrase("C4 D4 E4 F4 G4 A4 B4 C5:1", key="C").with_(title="Two"))
    assert "Only One uses the #1, b6 and b7 as passing notes." in {
        point.sentence for point in compare(one, two).different
    }


def test_a_note_that_ends_early_on_a_beat_is_not_called_syncopated() -> None:
    """A quarter on beat 2 with a rest on beat 3: the published measure gives it 1, no player does."""
    early = analyze(phrase("C4:1 D4:1 r:1 E4:1 F4:1 G4:1 E4:1 D4:1 C4:4", key="C"))
    assert (early.rhythm.syncopation, early.rhythm.syncopated) == (1, (1,))
    assert not [s for s in _said(early, "rhythm") if "syncopated" in s]
    straight = analyze(phrase("C4:1 D4:1 E4:1 E4:1 F4:1 G4:1 E4:1 D4:1 C4:4", key="C"))
    assert "syncopated" not in compare(early, straight).text()
    # Held over beat 3, or struck between beats and held over the next, it is.
    held = analyze(phrase("C4:1 D4:2 E4:1 F4:1 G4:1 E4:1 D4:1 C4:4", key="C"))
    assert "One note is syncopated: bar 1, beat 2." in _said(held, "rhythm")
    tied = analyze(phrase("C4:1/2 D4:1 E4:1/2 F4:1/2 G4:1 E4:1/2 D4:2 C4:2", key="C"))
    assert [s for s in _said(tied, "rhythm") if s.startswith("Two notes are syncopated")]
    assert "Only Untitled (first) is syncopated." in compare(tied, straight).text()


def test_one_push_over_a_beat_makes_no_lick_syncopated() -> None:
    one = analyze(phrase("C4:1/2 D4:1 E4:1/2 F4:1 G4:1 E4:1 D4:1 C4:2", key="C"))
    assert one.rhythm.syncopation == 1
    assert not is_syncopated(one.lick)
    over_the_bar = analyze(phrase("C4:1 D4:1 E4:1 F4:2 G4:1 E4:1 D4:1 C4:4", key="C"))
    assert is_syncopated(over_the_bar.lick)
