"""linewright take: from a recording to a verdict, and what it refuses."""

import json

import pytest

import take_samples as samples
from linewright.cli import main
from linewright.formats import write_bytes
from linewright.practice import sheet_to_dict
from linewright.services.planning import plan_as_json, read_plan


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The lick, its plan, a fair take and a broken one as sound, and a fair one as MIDI."""
    path = tmp_path_factory.mktemp("takes")
    (path / "lick.json").write_bytes(write_bytes(samples.brought().lick, "json"))
    made = plan_as_json(samples.plan(), samples.sheet())
    (path / "plan.json").write_text(json.dumps(made))
    (path / "sheet.json").write_text(json.dumps(sheet_to_dict(samples.sheet())))
    (path / "fair.ogg").write_bytes(samples.sound(form="ogg"))
    (path / "broken.ogg").write_bytes(samples.sound(wrong=6, form="ogg"))
    (path / "fair.mid").write_bytes(samples.midi())
    (path / "nothing.wav").write_bytes(b"")
    (path / "text.wav").write_text("no sound at all")
    return path


def take(folder, audio, *options, plan="plan.json", step=samples.STEP):
    return main(
        ["take", str(folder / audio), "--plan", str(folder / plan), "--step", str(step), *options]
    )


def test_a_fair_take_is_done_and_a_broken_one_is_not(folder, capsys):
    assert take(folder, "fair.ogg", "--start", f"{samples.beat_one()}") == 0
    text = capsys.readouterr().out
    assert "Improvise on the frame alone: Done" in text
    assert "Measured" in text
    assert "not yet" not in text.lower()
    assert take(folder, "broken.ogg") == 0
    text = capsys.readouterr().out
    assert ": Not yet" in text
    row = next(line for line in text.splitlines() if line.startswith("The right notes"))
    assert "not yet" in row
    assert "bar" in row
    assert "Work on this next." in text


def test_the_verdict_as_json(folder, capsys):
    assert take(folder, "fair.mid", "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert found["passed"] is True
    assert {"words", "work_on", "rules", "timing", "take", "warnings"} <= set(found)
    assert take(folder, "fair.mid", "--json", "--tempo", "80") == 0
    assert json.loads(capsys.readouterr().out)["bpm"] == 80


@pytest.mark.parametrize("plan", ["lick.json", "sheet.json"])
def test_a_plan_from_elsewhere_is_the_same(folder, capsys, plan):
    assert take(folder, "fair.mid", "--json") == 0
    first = capsys.readouterr().out
    assert take(folder, "fair.mid", "--json", plan=plan) == 0
    assert capsys.readouterr().out == first


def test_a_plan_the_command_wrote_is_read_back(folder, capsys, tmp_path):
    path = tmp_path / "plan.json"
    options = ["--level", "beginner", "--seed", "3"]
    assert main(["plan", str(folder / "lick.json"), *options, "-o", str(path)]) == 0
    assert read_plan(json.loads(path.read_text())).level == "beginner"
    assert take(folder, "fair.mid", "--json", plan=str(path), step=1) == 0
    found = json.loads(capsys.readouterr().out)
    done = read_plan(json.loads(path.read_text())).steps[0].done
    assert next(r for r in found["rules"] if r["key"] == "spread")["limit"] == done.spread_ms == 50


def test_a_licks_file_is_read_with_the_options_of_the_plan_command(folder, capsys, tmp_path):
    """A tune book: the second tune, its first bars; by the plan the same command writes from it."""
    book = tmp_path / "book.abc"
    tune = "X:{}\nT:Tune {}\nM:4/4\nL:1/8\nQ:1/4=100\nK:G\n{}|]\n"
    first, second = "GABd edBA|G8", "GABd e2dB|AGED G2GA|BdBA G2D2|EGAB G4"
    book.write_text(tune.format(1, 1, first) + "\n" + tune.format(2, 2, second))
    options = ["--tune", "2", "--bars", "1-2", "--octave", "guitar", "--tuning", "DADGAD"]
    path = tmp_path / "plan.json"
    assert main(["plan", str(book), *options, "-o", str(path)]) == 0
    assert take(folder, "fair.mid", "--json", plan=str(path), step=1) == 0
    by_plan = capsys.readouterr().out
    assert take(folder, "fair.mid", "--json", *options, plan=str(book), step=1) == 0
    assert capsys.readouterr().out == by_plan


@pytest.mark.parametrize(
    ("audio", "options", "said"),
    [
        ("nothing.wav", [], "nothing.wav"), ("text.wav", [], "text.wav"),
        ("none.wav", [], "cannot be read"), ("fair.mid", ["--tempo", "5"], "tempo"),
        ("fair.mid", ["--start", "1e9"], "beat 1"), ("fair.mid", ["--click"], "--start"),
        ("fair.mid", ["--level", "beginner"], "lick's file"),
        ("fair.mid", ["--tune", "2"], "lick's file"), ("fair.mid", ["--bars", "x"], "x"),
        ("fair.mid", ["--octave", "up"], "up"), ("fair.mid", ["--capo", "3", "--bars", "1"], "lick's"),
        ("fair.mid", ["--instrument", "kazoo"], "kazoo"), ("fair.mid", ["--tempo", "quick"], "--tempo"),
    ],
)  # fmt: skip
def test_refusals(folder, capsys, audio, options, said):
    assert take(folder, audio, *options) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert said in error


@pytest.mark.parametrize(
    "plan",
    [
        '{"steps": []}',
        '{"sheet": 7}',
        '{"sheet": {"plan": 1}}',
        '{"plan": 2, "steps": 1}',
        "{",
        "[]",
    ],
)
def test_plans_that_cannot_be_read(folder, capsys, tmp_path, plan):
    (tmp_path / "bad.json").write_text(plan)
    code = main(
        ["take", str(folder / "fair.mid"), "--plan", str(tmp_path / "bad.json"), "--step", "1"]
    )
    assert code == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_a_step_there_is_not(folder, capsys):
    assert take(folder, "fair.mid", step=99) == 2
    assert "no step 99" in capsys.readouterr().err


def test_the_help_teaches_and_warns(capsys):
    assert main(["take", "--help"]) == 0
    text = capsys.readouterr().out
    for part in ("linewright plan lick.tab -o plan.json", "headphones", "rest often", "clinician"):
        assert part in " ".join(text.split())
