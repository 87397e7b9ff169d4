"""Documentation that must keep up with the code."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer

from linewright.analysis.outside import FUNCTIONS
from linewright.cli import app
from linewright.theory import COLLECTIONS, COLOURS, QUALITIES

DOCS = Path(__file__).parent.parent / "docs"


def rows(name: str) -> list[list[str]]:
    lines = (DOCS / name).read_text().splitlines()
    return [
        [cell.strip() for cell in line.strip("|").split("|")]
        for line in lines
        if line.startswith("| ")
    ]


def test_every_scale_is_listed() -> None:
    listed = {row[0]: row for row in rows("scales.md")}
    for item in COLLECTIONS.values():
        assert listed[item.name][1] == " ".join(map(str, item.degrees))
    for colour in COLOURS:
        assert listed[colour.name][1:] == [colour.frame, colour.added.name]


def test_every_chord_quality_is_listed() -> None:
    listed = {row[0]: row for row in rows("chords.md")}
    for quality, degrees in QUALITIES.items():
        assert listed[quality or "(none)"][2] == degrees


def test_every_function_is_explained() -> None:
    listed = dict(row for row in rows("analysis.md") if len(row) == 2)
    for name, meaning in FUNCTIONS.items():
        assert listed[name] == meaning


@pytest.mark.parametrize(
    "name", sorted(c.name or "" for c in typer.main.get_command(app).commands.values())
)
def test_every_command_and_option_is_documented(name: str) -> None:
    text = (DOCS / "commands.md").read_text()
    command = typer.main.get_command(app).commands[name]
    assert f"## linewright {name}" in text
    section = text.split(f"## linewright {name}")[1].split("\n## ")[0]
    for param in command.params:
        for option in (o for o in param.opts if o.startswith("--")):
            assert f"`{option}" in section, f"{name} {option} is not in docs/commands.md"
        assert getattr(param, "help", None), f"{name} {param.name} has no help"
