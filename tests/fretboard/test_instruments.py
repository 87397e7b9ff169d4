"""Tunings against published open strings; parsing of what players write."""

import pytest

from linewright.errors import MusicError
from linewright.fretboard import (
    INSTRUMENTS,
    Place,
    from_labels,
    instrument,
    parse_instrument,
    places,
)

# General MIDI / scientific pitch numbers of open strings, string 1 first (common practice; the
# guitar's E2 = 82.41 Hz and A2 = 110 Hz as in ISO 16 equal temperament).
OPEN = {
    ("guitar", "standard"): [64, 59, 55, 50, 45, 40],
    ("guitar", "drop D"): [64, 59, 55, 50, 45, 38],
    ("guitar", "DADGAD"): [62, 57, 55, 50, 45, 38],
    ("guitar", "open G"): [62, 59, 55, 50, 43, 38],
    ("guitar", "open D"): [62, 57, 54, 50, 45, 38],
    ("guitar", "half step down"): [63, 58, 54, 49, 44, 39],
    ("mandolin", "standard"): [76, 69, 62, 55],
    ("octave mandolin", "standard"): [64, 57, 50, 43],
    ("tenor banjo", "standard"): [69, 62, 55, 48],
    ("tenor banjo", "irish"): [64, 57, 50, 43],
    ("five-string banjo", "standard"): [62, 59, 55, 50, 67],
    ("five-string banjo", "double C"): [62, 60, 55, 48, 67],
    ("bass", "standard"): [43, 38, 33, 28],
    ("five-string bass", "standard"): [43, 38, 33, 28, 23],
    ("ukulele", "standard"): [69, 64, 60, 67],
    ("ukulele", "low G"): [69, 64, 60, 55],
}


@pytest.mark.parametrize(("name", "tuning"), OPEN)
def test_open_strings(name, tuning):
    neck = instrument(name, tuning)
    assert [pitch.midi for pitch in neck.strings] == OPEN[name, tuning]


def test_guitar_frequencies():
    assert instrument("guitar").strings[5].frequency == pytest.approx(82.41, abs=0.005)
    assert instrument("guitar").strings[4].frequency == pytest.approx(110.0)


@pytest.mark.parametrize(
    ("name", "tuning", "expected"),
    [
        (None, None, ("guitar", "standard")),
        ("Guitar", "E A D G B E", ("guitar", "standard")),
        ("guitar", "DADGBE", ("guitar", "drop D")),
        ("guitar", "dropped d", ("guitar", "drop D")),
        ("guitar", "eadgbe", ("guitar", "standard")),
        ("guitar", "Eb-Ab-Db-Gb-Bb-Eb", ("guitar", "half step down")),
        ("guitar", "D#2 G#2 C#3 F#3 A#3 D#4", ("guitar", "half step down")),
        ("guitar", "D2 A2 D3 G3 B3 E4", ("guitar", "drop D")),
        ("guitar", "CGCFCE", ("guitar", "custom")),
        (None, "gDGBD", ("five-string banjo", "standard")),
        ("banjo", "open G", ("five-string banjo", "standard")),
        (None, "GDAE", ("mandolin", "standard")),
        ("tenor banjo", "GDAE", ("tenor banjo", "irish")),
        (None, "EADG", ("bass", "standard")),
        ("uke", "gCEA", ("ukulele", "standard")),
        ("dulcimer", "D3 A3 D4", ("dulcimer", "custom")),
    ],
)
def test_parsing(name, tuning, expected):
    found = parse_instrument(name, tuning)
    assert (found.name, found.tuning) == expected


def test_strings_without_octaves_lie_nearest_the_standard_ones():
    found = parse_instrument("guitar", "C G D G B D")  # open C wahine family: C2 G2, both down
    assert [p.name for p in found.strings] == ["D4", "B3", "G3", "D3", "G2", "C2"]


@pytest.mark.parametrize(
    ("name", "tuning", "says"),
    [
        ("gitar", None, "Did you mean guitar"),
        ("guitar", "open H", "Use one of standard, drop D"),
        ("guitar", "E A D G B", "list its 6 strings low to high"),
        ("lute", "D A D", "listing its strings with octaves"),
    ],
)
def test_errors_tell_what_is_accepted(name, tuning, says):
    with pytest.raises(MusicError) as caught:
        parse_instrument(name, tuning)
    assert says in str(caught.value)


def test_every_tuning_is_found_by_its_name_and_by_its_strings():
    for kind in INSTRUMENTS.values():
        for name, strings in kind.tunings.items():
            assert parse_instrument(kind.name, name).strings == strings
            listed = " ".join(pitch.name for pitch in reversed(strings))
            assert parse_instrument(kind.name, listed).strings == strings


@pytest.mark.parametrize(
    ("labels", "name", "flipped"),
    [
        ("eBGDAE", "guitar", False), ("EADGBe", "guitar", True), ("EADG", "mandolin", False),
        ("GDAE", "bass", False), ("AECG", "ukulele", False), ("DBGDg", "five-string banjo", False),
    ],
)  # fmt: skip
def test_string_names_before_the_lines_tell_the_instrument(labels, name, flipped):
    found, turned = from_labels(list(labels), None, 0)
    assert (found.name, turned) == (name, flipped)


def test_places_of_the_guitar():
    # Common practice: middle C on a guitar; Db4/C#4 at the 2nd fret of the B string.
    assert places(60, instrument("guitar")) == (
        Place(2, 1), Place(3, 5), Place(4, 10), Place(5, 15), Place(6, 20),
    )  # fmt: skip
    assert Place(2, 2) in places(61, instrument("guitar"))
    assert places(39, instrument("guitar")) == ()


def test_places_count_from_the_capo():
    assert Place(1, 0) in places(66, instrument("guitar", capo=2))
    assert places(64, instrument("guitar", capo=2))[0] == Place(2, 3)


def test_the_banjo_short_string_counts_from_the_nut():
    banjo = instrument("five-string banjo")
    assert Place(5, 0) in places(67, banjo)
    assert Place(5, 7) in places(69, banjo)  # two frets past the fifth-string nut
    assert all(place.string != 5 for place in places(66, banjo))


def test_places_agree_with_the_pitch_at_them():
    for kind in INSTRUMENTS.values():
        for capo in (0, 3):
            neck = instrument(kind.name, capo=capo)
            for string in range(1, len(neck.strings) + 1):
                for fret in range(neck.frets - capo + 1):
                    try:
                        midi = neck.midi_at(string, fret)
                    except MusicError:
                        continue
                    assert Place(string, fret) in places(midi, neck)
            for midi in range(20, 100):
                assert all(neck.midi_at(*place) == midi for place in places(midi, neck))


def test_a_guitar_tab_without_one_of_its_lines_is_not_another_instrument() -> None:
    with pytest.raises(MusicError, match="without its E"):
        from_labels(["e", "B", "G", "D", "A"], None, 0)


@pytest.mark.parametrize("listing", ["BEADGBE", "B1 E2 A2 D3 G3 B3 E4"])
def test_a_seven_string_guitar_goes_down_to_b(listing: str) -> None:
    """A seventh string a fourth below the low E: B1, MIDI 35 (common practice)."""
    found = parse_instrument("7-string guitar", listing, 0)
    assert [string.midi for string in found.strings] == [64, 59, 55, 50, 45, 40, 35]


@pytest.mark.parametrize(
    ("name", "listing", "kind", "tuning"),
    [
        ("guitar", "BEADGBE", "seven-string guitar", "standard"),
        ("guitar", "A E A D G B E", "seven-string guitar", "drop A"),
        ("electric guitar", "B1 E2 A2 D3 G3 B3 E4", "seven-string guitar", "standard"),
        ("bass", "BEADG", "five-string bass", "standard"),
        ("mandolin", "GDAE", "mandolin", "standard"),
    ],
)
def test_a_guitar_may_be_given_seven_strings(
    name: str, listing: str, kind: str, tuning: str
) -> None:
    made = parse_instrument(name, listing)
    assert (made.name, made.tuning) == (kind, tuning)


def test_eight_strings_are_no_guitar_of_the_table() -> None:
    with pytest.raises(MusicError, match="no tuning of the guitar"):
        parse_instrument("guitar", "EBEADGBE")
