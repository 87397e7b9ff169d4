"""Two licks side by side; answers by hand."""

from __future__ import annotations

from hypothesis import given, settings
from phrases import phrase

from linewright.analysis import analyze
from linewright.analysis.compare import compare
from linewright.score import Lick
from strategies import licks

BLUES = "G4 Bb4 C5 Db5 C5 Bb4 G4 F4 D4 F4 G4:3"
DORIAN = "A4 B4 C5 D5 E5 F#5 G5 E5 F#5 D5 C5 A4 B4 G4 A4:1"


def test_a_blues_and_a_dorian_phrase() -> None:
    one = analyze(phrase(BLUES, key="Gm").with_(title="Blue"))
    two = analyze(phrase(DORIAN, key="A dorian").with_(title="Modal"))
    found = compare(one, two)
    different = {p.sentence for p in found.different}
    assert (
        "Blue hangs on G minor pentatonic, Modal on A dorian: only the second has 2 and 6."
        in different
    )
    assert "Only Blue uses the b5 as a blue note." in different
    shared = {p.sentence for p in found.shared}
    assert "Both are in 4/4." in shared
    assert "Both end on the 1." in shared


def test_the_same_idea_in_two_keys() -> None:
    one = analyze(phrase(BLUES, key="Gm").with_(title="Low"))
    two = analyze(phrase("A4 C5 D5 Eb5 D5 C5 A4 G4 E4 G4 A4:3", key="Am").with_(title="High"))
    found = compare(one, two)
    assert found.different == ()
    assert "Both hang on a minor pentatonic, on G and on A." in {p.sentence for p in found.shared}
    assert "Both take the blues colour." in {p.sentence for p in found.shared}


@settings(max_examples=40, deadline=None)
@given(licks().filter(lambda lick: bool(lick.notes)))
def test_a_lick_differs_from_itself_in_nothing(lick: Lick) -> None:
    analysis = analyze(lick)
    found = compare(analysis, analysis)
    assert found.different == ()
    assert found.shared
    assert found.first != found.second
