"""What a lick teaches about its outside notes, and what it does not."""

from __future__ import annotations

import pytest
from line_licks import small


def uses(text: str) -> list[tuple[str, str, str]]:
    _, model = small(text, meter="4/4", chords="G7")
    return [(use.before, use.degree, use.after) for use in model.uses]


@pytest.mark.parametrize(
    ("rest", "taught"),
    [
        ("", [("4", "b5", "4")]),
        ("r:1/2 ", [("4", "b5", "4")]),  # an eighth rest parts no two notes
        ("r:1 ", []),  # over a quarter rest, a breath, neither leads to the other
    ],
)
def test_a_usage_is_not_taught_across_a_breath(rest: str, taught: list) -> None:
    before, after = "G3 Bb3 C4 D4 F4 D4 C4 ", "C4 Bb3 G3 Bb3 C4 Bb3 G3"
    assert uses(f"{before}{rest}Db4 {after}") == taught
    assert uses(f"{before}Db4 {rest}{after}") == taught
