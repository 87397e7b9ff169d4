"""The line command takes what the page and the API take, and help teaches every command."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import typer

from linewright.cli import app, main
from linewright.cli.overview import GROUPS
from linewright.theory import Pitch

TAB = """\
Title: Porch Answer
Key: G

e|-----------------|-----------------|
B|-----------------|-----------------|
G|-0---0-----0h2-0-|-----0-----------|
D|---0---0-2-------|-2-0---2-0-------|
A|-----------------|-----------2-0---|
E|-----------------|---------------3-|
"""


@pytest.fixture
def tab(tmp_path: Path) -> str:
    path = tmp_path / "porch.tab"
    path.write_text(TAB)
    return str(path)


def made(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict:
    assert main(["line", *arguments, "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_range_start_and_landing(tab: str, capsys: pytest.CaptureFixture[str]) -> None:
    line = made(capsys, tab, "--range", "B2-B3", "--start", "1", "--landing", "5")
    heights = [note["midi"] for note in line["notes"]]
    assert Pitch.parse("B2").midi <= min(heights)
    assert max(heights) <= Pitch.parse("B3").midi
    assert (line["notes"][0]["pitch"][:-1], line["notes"][-1]["pitch"][:-1]) == ("G", "D")


def test_one_end_of_the_range_leaves_the_other_to_the_lick(
    tab: str, capsys: pytest.CaptureFixture[str]
) -> None:
    line = made(capsys, tab, "--range", "-B3")
    heights = [note["midi"] for note in line["notes"]]
    assert Pitch.parse("G2").midi <= min(heights)
    assert max(heights) <= Pitch.parse("B3").midi


@pytest.mark.parametrize(("flag", "swing"), [("--swing", "Swing: 2:1"), ("--straight", "")])
def test_swing_or_straight(
    tab: str, capsys: pytest.CaptureFixture[str], flag: str, swing: str
) -> None:
    assert main(["line", tab, flag]) == 0
    out = capsys.readouterr().out
    assert ("Swing:" in out) == bool(swing)
    assert out.endswith("\n")


def test_a_mix_may_grow(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    abc = tmp_path / "steps.abc"
    abc.write_text("X:1\nT:Steps\nM:4/4\nL:1/8\nK:G\nGABG ABdA|BdeB degd|\n")
    early = late = 0
    for seed in range(4):
        line = made(
            capsys, str(abc), "--bars", "16", "--mix", "sequence=40%",
            "--grow", "0-200", "--seed", str(seed),
        )  # fmt: skip
        places = [note["index"] for note in line["notes"] if note["role"] == "figure"]
        early += sum(place < len(line["notes"]) / 2 for place in places)
        late += sum(place >= len(line["notes"]) / 2 for place in places)
    assert late > 2 * early


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--grow", "loud"), "40-160"),
        (("--range", "G3"), "G3-D5"),
        (("--range", "D5-G3"), "Name the lower first"),
        (("--range", "H2-G3"), "H2"),
        (("--start", "banana"), "banana"),
        (("--follow", "me"), "home or chords"),
        (("--tempo", "2"), "10 to 1000"),
    ],
)
def test_wishes_that_are_none(
    tab: str, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], says: str
) -> None:
    assert main(["line", tab, *arguments]) == 2
    told = capsys.readouterr()
    assert says in told.err
    assert told.err.count("\n") == 1
    assert not told.out


def test_help_has_every_command_once_in_its_group(capsys: pytest.CaptureFixture[str]) -> None:
    named = [name for group in GROUPS.values() for name in group]
    assert sorted(named) == sorted(typer.main.get_command(app).commands)
    assert main(["--help"]) == 0
    lines = capsys.readouterr().out.splitlines()
    for title, group in GROUPS.items():
        assert f"{title}:" in lines
        for name, words in group.items():
            assert any(line.split() == [name, *words.split()] for line in lines), name


@pytest.mark.parametrize("name", [name for group in GROUPS.values() for name in group])
def test_the_examples_of_a_command_are_commands(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([name, "--help"]) == 0
    out = capsys.readouterr().out
    examples = [line.split() for line in out.split("Examples:")[1].splitlines() if line.strip()]
    assert any(words[:2] == ["linewright", name] for words in examples)
    commands = typer.main.get_command(app).commands
    for words in examples:
        known = {o for p in commands[words[1]].params for o in (*p.opts, *p.secondary_opts)}
        used = {word for word in words if word.startswith("-") and word != "-"}
        assert used <= known, words
