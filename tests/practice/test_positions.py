"""Positions on the neck: where a plan has the frame, held against the boxes methods print."""

from __future__ import annotations

import pytest

from linewright.fretboard import instrument
from linewright.practice.neck import home_window, neck_windows, window
from linewright.services.bring import bring_text
from linewright.theory import Frame, PitchClass, collection

GUITAR = instrument("guitar")
A_MINOR_PENTATONIC = Frame(PitchClass.parse("A"), collection("minor pentatonic"))
#: The boxes of A minor pentatonic above the open one, low string to high, by the fret under the
#: index finger (common practice; blues methods print them as boxes 5, 1, 2, 3 and 4).
BOXES = {
    2: ((3, 5), (3, 5), (2, 5), (2, 5), (3, 5), (3, 5)),
    5: ((5, 8), (5, 7), (5, 7), (5, 7), (5, 8), (5, 8)),
    7: ((8, 10), (7, 10), (7, 10), (7, 9), (8, 10), (8, 10)),
    12: ((12, 15), (12, 15), (12, 14), (12, 14), (13, 15), (12, 15)),
}
#: One note, the 6, lies a fret below the box; one, the b7, is the only one at its upper edge.
BACK_STAIRS = """\
Title: Back Stairs
Tempo: 104
Key: A

   A7                                  D7                A7
e|-----------------|-----------------|-----------------|-----------------|
B|-----5-8-5-------|-----------------|-----------------|-----------------|
G|-7b9-------7-8-7-|-5h6---5---------|-------5---------|-----------------|
D|-----------------|-----7---7-5-----|-7---7---7-5-4-5-|-7---------------|
A|-----------------|-------------7---|-----------------|---5-6-7-5-------|
E|-----------------|-----------------|-----------------|-------------5---|
   1   2 & 3 & 4 &   1 & 2 & 3 & 4     1   2 & 3 & 4 &   1 & 2 & 3   4
"""


@pytest.mark.parametrize("position", BOXES)
def test_a_minor_pentatonic_lies_in_the_boxes_of_the_methods(position: int) -> None:
    box = {(6 - row, fret) for row, frets in enumerate(BOXES[position]) for fret in frets}
    found = window(A_MINOR_PENTATONIC, GUITAR, position)
    assert {(spot.string, spot.fret) for spot in found.spots} == box


def test_a_position_is_named_by_the_fret_under_the_index_finger() -> None:
    home = window(A_MINOR_PENTATONIC, GUITAR, 5)
    across = neck_windows(A_MINOR_PENTATONIC, GUITAR, home, 5)
    positions = [found.position for found in across]
    # The fourth box, 9 to 13, is wider than a hand, from the ninth fret or the tenth.
    assert positions in ([2, 5, 7, 9, 12], [2, 5, 7, 10, 12])
    for found in across:
        if found.position in BOXES:
            assert {spot.fret for spot in found.spots} <= {
                fret for frets in BOXES[found.position] for fret in frets
            }


def test_one_note_outside_the_frame_does_not_take_the_hand_out_of_the_box() -> None:
    lick = bring_text(BACK_STAIRS).lick
    home = home_window(A_MINOR_PENTATONIC, lick, GUITAR)
    assert home.name == "fifth position"
    played = {(note.string, note.fret) for note in lick.notes}
    assert played & {(spot.string, spot.fret) for spot in home.spots} >= {(2, 8), (2, 5), (3, 5)}


def test_a_lick_on_the_middle_strings_lies_where_its_frame_does() -> None:
    """Frets 5 and 7 alone could be under an index finger at 4; the frame is at 5."""
    lick = bring_text("Key: Am\n\n" + "\n".join((
        "e|-----------------|", "B|-----------------|", "G|-----5-7-5-------|",
        "D|-5-7-------7-5---|", "A|---------------7-|", "E|-----------------|",
    ))).lick  # fmt: skip
    assert home_window(A_MINOR_PENTATONIC, lick, GUITAR).position == 5
