"""docs/lines.md keeps up with the code."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

from line_licks import demo

from linewright.lines import FORMS, GRIDS, LineRequest

TEXT = (Path(__file__).parents[2] / "docs" / "lines.md").read_text()


def test_every_wish_form_grid_and_key_is_documented() -> None:
    for field in fields(LineRequest):
        assert f"`{field.name}`" in TEXT, field.name
    for form, chords in FORMS.items():
        row = next(line for line in TEXT.splitlines() if line.startswith(f"| {form} |"))
        if form != "rhythm changes":
            assert chords.replace("|", "\\|") in row
    for grid in GRIDS:
        assert f"`{grid}`" in TEXT
    made = demo("feed-store")[1].sample(LineRequest(bars=2)).to_dict()
    for key in (*made, *made["notes"][0]):
        assert f"`{key}`" in TEXT, key
