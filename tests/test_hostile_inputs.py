"""Hostile inputs, one table: by every format, command and address. Each gets one clear error that
says what is accepted, and nothing that was saved is touched.
"""

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

import take_samples as takes
from hostile_files import hostile
from linewright.cli import main
from linewright.services.bring import bring_in
from linewright.services.planning import plan_as_json
from linewright.services.shelf import keep
from linewright.services.takes import keep_take
from linewright.store import Library
from linewright.web.app import create_app
from samples import PORCH

BIG = "9" * 30
#: Hostile file -> words of what is accepted. Each is analysed, kept, and sent to the API.
LICKS = {
    "empty.tab": "From 1 to", "zeros.tab": "plain text", "picture.tab": "plain text",
    "half.tab": "UTF-8", "cut.tab": "Each bar line", "head.tab": "one line for each string",
    "fret.tab": "at most two digits", "tempo.tab": "120", "meter.tab": "4/4", "key.tab": "Em",
    "large.tab": "At most 8,388,608 bytes",
    "bare.abc": "after K:", "meter.abc": "power of two", "unit.abc": "L:1/8", "note.abc": "3/2",
    "zero.abc": "3/2", "deep.abc": "A to G", "binary.abc": "UTF-8",
    "outside.musicxml": "Save it again", "cut.musicxml": "is expected", "latin.musicxml": "is expected",
    "page.musicxml": "is expected", "zero.musicxml": "1 or more", "nan.musicxml": "seven digits",
    "fine.musicxml": "50,000", "long.musicxml": "seven digits", "octave.musicxml": "0 to 9",
    "step.musicxml": "A to G", "meter.musicxml": "4/4",
    "cut.mxl": "is expected", "bomb.mxl": "At most", "path.mxl": "is expected", "empty.mxl": "is expected",
    "cut.mid": "a tune", "claim.mid": "is expected", "zero.mid": "ticks per quarter",
    "day.mid": "wanted bars", "wave.mid": "is expected",
    "empty.json": '"linewright": 1', "list.json": '"linewright": 1', "deep.json": '"linewright": 1',
    "cut.json": '"linewright": 1', "nan.json": "3/2", "digits.json": "3/2", "long.json": "50,000",
}  # fmt: skip
RECORDINGS = {
    "empty.wav": "wav, flac", "head.wav": "wav, flac", "cut.wav": "wav, flac", "rate.wav": "wav, flac",
    "channels.wav": "At most 32", "day.wav": "4,000 to", "long.wav": "At most 10 minutes",
    "words.mp3": "wav, flac", "cut.flac": "wav, flac", "picture.m4a": "wav, flac",
    "page.ogg": "wav, flac", "cut.mid": "with notes",
}  # fmt: skip
ZIPS = {
    "words.zip": "exported", "empty.zip": "From 1 to", "cut.zip": "exported", "bare.zip": "exported",
    "bomb.zip": "20 MB", "path.zip": "exported", "root.zip": "exported", "back.zip": "exported",
    "list.zip": "exported", "later.zip": "version 1", "count.zip": "exported", "nan.zip": "exported",
    "number.zip": "exported", "day.zip": "exported", "missing.zip": "exported",
    "changed.zip": "exported", "deep.zip": "exported", "latin.zip": "exported",
}  # fmt: skip
#: Command line -> words of what is accepted; {name} is a file, {out} a place to write, {library} ours.
COMMANDS = [
    ("analyze {folder}", "Name a file"), ("analyze {out}/../../none.tab", "Name a file"),
    ("analyze", "--help"), ("analyze {good.tab} --from ../../x", "Use one of tab"),
    (["analyze", ""], "Name a file"), (["analyze", "a\0b"], "Name a file"),
    (f"analyze {{good.tab}} --bars {BIG}-1", "bars 1 to 2"), ("analyze {good.tab} --bars nan", "1-4"),
    ("analyze {good.tab} --capo 99", "12"), (f"analyze {{good.tab}} --tuning {'E' * 3000}", "DADGAD"),
    (["analyze", "{good.tab}", "--instrument", "\x1b[31m"], "mandolin"),
    (["analyze", "{good.tab}", "--tonic", "\0"], "A to G"),
    ("compare {good.tab} {cut.mid}", "a tune"), ("compare {good.tab} {good.tab} --second-bars 9", "1 to 2"),
    ("move {good.tab} --key H", "Em"), (f"move {{good.tab}} --position {BIG}", "1 to 24"),
    ("move {good.tab} --by-beats 1/0", "1/2"), ("move {good.tab} --by-beats 1e400", "1/2"),
    ("move {deep.json} --key C", '"linewright": 1'),
    ("convert {good.tab} -o {folder}/x.docx", ".abc"), ("convert {good.tab} -o {out}/none/x.abc", "folder"),
    (f"convert {{good.tab}} -o {{out}}/{'n' * 300}.abc", "folder"), ("convert {bomb.mxl} --to tab", "At most"),
    ("handout {good.tab} -o {out}/x.pdf --paper a0", "a4 or letter"), ("handout {day.mid} -o {out}/x.pdf", "bars"),
    ("line {good.tab} --bars 0", "1 to 2000"), (f"line {{good.tab}} --bars {BIG}", "1 to 2000"),
    (["line", "{good.tab}", "--over", "C " * 3000], "2000"), (["line", "{good.tab}", "--over", ""], "12-bar blues"),
    ("line {good.tab} --mix b5=nan%", "b5=10%"), ("line {good.tab} --mix b5=1e9%", "b5=10%"),
    ("line {good.tab} --grow nan-nan", "40-160"), ("line {good.tab} --leap -3", "1 to 24"),
    (f"line {{good.tab}} --quote {BIG}", "2 to 1000"), ("line {good.tab} --range G9999-D5", "Bb3"),
    ("line {good.tab} --range D5-G3", "lower first"), ("line {good.tab} --tempo nan", "10 to 1000"),
    (f"line {{good.tab}} --keep {BIG}-{BIG}", "1 to 4"), ("line {bare.abc}", "after K:"),
    (f"line {{good.tab}} --seed {'9' * 5000}", "--help"),
    ("plan {good.tab} --level expert", "beginner"), ("plan {good.tab} -o {out}/p.doc", ".pdf"),
    ("plan {good.tab} -o {out}/p.ics --start 9999-12-31", "earlier"),
    ("plan {good.tab} -o {out}/p.ics --start 2026-02-30", "year, month, day"),
    ("plan {zeros.tab}", "plain text"),
    ("render {good.tab} -o {out}/x.wav --tempo inf", "10 to 1000"), ("render {good.tab} -o {out}/x.exe", ".wav"),
    (f"render {{good.tab}} -o {{out}}/x.wav --loops {BIG}", "1 to 100"),
    ("render {good.tab} -o {out}/x.wav --count-in 99", "0 to 4"),
    ("render {good.tab} -o {out}/x.wav --lead-level nan", "0 to 4"),
    (f"render {{good.tab}} -o {{out}}/x.wav --click beats --drop {BIG}-1", "1 to 64"),
    ("render {long.json} -o {out}/x.wav", "50,000"),
    ("hear {folder}", "Name a recording"), ("hear {nan.wav} --tempo nan", "10 to 1000"),
    ("take {nan.wav} --plan {plan} --step 1", "Play one note"),
    ("take {words.mp3} --plan {plan} --step 1", "wav, flac"),
    (f"take {{nan.wav}} --plan {{plan}} --step {BIG}", "Use 1 to"),
    ("take {nan.wav} --plan {plan} --step 1 --start nan", "-60 to 600"),
    ("take {nan.wav} --plan {plan} --step 1 --tempo inf", "10 to 1000"),
    ("take {nan.wav} --plan {deep.json} --step 1", '"linewright": 1'),
    ("take {nan.wav} --plan {bare-plan.json} --step 1", "plan command"),
    ("take {nan.wav} --plan {number-plan.json} --step 1", "A plan is"),
    ("keep {good.tab} --library {good.tab}", "library file"), ("keep {good.tab} --library {out}/none/l.db", "folder"),
    (f"keep {{bare.tab}} --library {{library}} --tags {'x' * 9000}", "1 to 60"),
    ("find --library {folder}", "library file"), ("find --library {out}/none.db", "file of a library"),
    ("find --library {library} --frame x", "docs/scales.md"), ("find --library {library} --outside b99", "as in b3"),
    ("export {out}/none/all.zip --library {library}", "folder"), ("export {out}/x.zip --library {cut.wav}", "library file"),
    ("serve --port 99999", "65535"), ("serve --library {cut.wav}", "library file"),
]  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A library with a lick, a plan and a take, and the plan in a file."""
    path = tmp_path_factory.mktemp("hostile")
    (path / "folder").mkdir()
    (path / "out").mkdir()
    (path / "plan").write_text(json.dumps(plan_as_json(takes.plan(), takes.sheet())))
    return path


@pytest.fixture(scope="module")
def shelf(folder):
    with Library.open(folder / "library.db") as opened:
        keep(opened, bring_in(PORCH.encode()))
        now = opened.get(1).entry.created
        ada = opened.plans.add_student("Ada", now=now)
        opened.plans.add(takes.sheet(), student_id=ada.id, lick_id=1, now=now)
        keep_take(opened, 1, 1, takes.midi(), now=now)
        yield opened


@pytest.fixture(scope="module")
def api(shelf):
    address = "http://127.0.0.1:8765"
    with TestClient(create_app(shelf), base_url=address, raise_server_exceptions=False) as made:
        yield made


def saved(folder):
    """All that is kept, as it stands on the disk: every row, every recording."""
    with closing(sqlite3.connect(folder / "library.db")) as database:
        rows = tuple(database.iterdump())
    files = sorted((folder / "library-takes").iterdir())
    return rows, [(path.name, path.read_bytes()) for path in files]


@pytest.fixture(scope="module")
def at_first(shelf, folder):
    rows, files = saved(folder)
    assert any("Porch step" in row for row in rows)
    assert [data for _, data in files] == [takes.midi()]
    return rows, files


@pytest.fixture(autouse=True)
def intact(folder, at_first):
    """What was saved is as it was, and nothing was written beside it."""
    yield
    assert saved(folder) == at_first
    assert list((folder / "out").iterdir()) == []


def filled(folder, word):
    """A word of a command line with its file in place."""
    if word.startswith("{") and (name := word[1:].partition("}")[0]) not in ("folder", "out", "library", "plan"):  # fmt: skip
        (folder / name).write_bytes(hostile(name))
        return str(folder / name)
    for name in ("folder", "out", "plan"):
        word = word.replace(f"{{{name}}}", str(folder / name))
    return word.replace("{library}", str(folder / "library.db"))


def refused(capsys, accepted, code, arguments):
    assert main(arguments) == code
    shown = capsys.readouterr()
    assert shown.err.count("\n") == 1
    assert shown.err.rstrip("\n").isprintable()
    assert accepted in shown.err
    assert "Traceback" not in shown.err
    assert "fault" not in shown.err
    return shown


@pytest.mark.parametrize(("name", "accepted"), LICKS.items())
def test_files_that_are_no_licks(folder, capsys, api, name, accepted):
    path = filled(folder, f"{{{name}}}")
    shown = refused(capsys, accepted, 2, ["analyze", path])
    assert shown.err.startswith(f"linewright: {name}: ")
    assert shown.out == ""
    shown = refused(capsys, accepted, 1, ["keep", path, "--library", str(folder / "library.db")])
    assert name in shown.err
    assert shown.out == "Kept 0 licks. 1 failed.\n"
    evil = f"../../{name}"
    check(api.post("/api/files", files={"file": (evil, hostile(name))}), accepted)
    assert not Path(evil).exists()


@pytest.mark.parametrize(("name", "accepted"), RECORDINGS.items())
def test_files_that_are_no_recordings(folder, capsys, api, name, accepted):
    path = filled(folder, f"{{{name}}}")
    shown = refused(capsys, accepted, 2, ["hear", path])
    assert shown.err.startswith(f"linewright: {name}: ")
    assert shown.out == ""
    upload = {"file": (f"../../{name}", hostile(name))}
    check(api.post("/api/plans/1/steps/1/takes", files=upload), accepted)
    if name in ("empty.wav", "words.mp3"):
        check(api.post("/api/calibration", files=upload), accepted)


@pytest.mark.parametrize(("name", "accepted"), ZIPS.items())
def test_files_that_are_no_exported_library(folder, capsys, api, name, accepted):
    path = filled(folder, f"{{{name}}}")
    refused(capsys, accepted, 2, ["import", path, "--library", str(folder / "library.db")])
    check(api.post("/api/library/import", files={"file": (name, hostile(name))}), accepted)


@pytest.mark.parametrize(("line", "accepted"), COMMANDS, ids=lambda value: str(value)[:50])
def test_command_lines_that_cannot_be(folder, capsys, line, accepted):
    words = line.split() if isinstance(line, str) else line
    shown = refused(capsys, accepted, 2, [filled(folder, word) for word in words])
    assert shown.err.startswith("linewright: ")
    assert shown.out == ""


TEXT = "X:1\nK:C\nCDEF|"
#: Method, address, what is sent, status, words of what is accepted.
ADDRESSES = [
    ("get", "/api/licks?offset=-1", None), ("get", f"/api/licks?offset={BIG}", None),
    ("get", f"/api/licks/{BIG}", None), ("get", "/api/licks/nan", None),
    ("get", "/api/licks?sort=%00", None), ("get", "/api/licks/1/files/..%2f..%2fetc", None),
    ("get", "/api/licks/1/handout?paper=../a4", None), ("get", "/api/licks/1/score.svg?labels=%00", None),
    ("get", f"/api/compare?a=1&b={BIG}", None), ("get", "/static/../../../etc/passwd", None),
    ("post", "/api/licks", {"text": ""}), ("post", "/api/licks", {"text": "X:1\nK:C\nC" + BIG}),
    ("post", "/api/licks", {"text": TEXT, "title": "x" * 10_000}), ("post", "/api/licks", [1]),
    ("patch", "/api/licks/1", {"tonic": "H"}), ("patch", "/api/licks/1", {"text": "\0"}),
    ("patch", "/api/licks/1", {"tags": ["x" * 90]}), ("patch", "/api/licks/99", {"title": "x"}),
    ("post", "/api/analyze", {"text": TEXT, "tonic": "\0"}), ("post", "/api/preview", {"text": "e|" * 9000}),
    ("get", f"/api/licks/1/line?bars={BIG}", None), ("get", "/api/licks/1/line?tempo=nan", None),
    ("get", "/api/licks/1/line?mix=b5%3Dnan%25", None), ("get", "/api/licks/1/line?over=" + "%7C" * 900, None),
    ("get", f"/api/licks/1/stream?from_bar={BIG}", None), ("get", "/api/licks/1/stream?bars=0", None),
    ("post", "/api/licks/1/line", {"mix": {"b5": float("nan")}}), ("post", "/api/licks/1/line", {"seed": 10**40}),
    ("post", "/api/licks/1/line", {"lick_in": [5, 10**9]}), ("post", "/api/licks/1/line", {"before": [{}] * 99}),
    ("post", "/api/line", {"text": TEXT, "leap": 0}), ("post", "/api/line", {"text": TEXT, "range": "D5-G3"}),
    ("get", f"/api/licks/1/move?position={BIG}", None), ("get", "/api/licks/1/move?by_beats=1/0", None),
    ("post", "/api/move", {"text": TEXT, "key": "H"}), ("post", "/api/move", {"text": TEXT, "tuning": "E" * 79}),
    ("get", "/api/licks/1/plan?level=expert", None), ("get", f"/api/licks/1/plan?seed={BIG}", None),  ("get", "/api/licks/1/plan.ics?start=nan", None),
    ("post", "/api/licks/1/plans", {"student": 10**30}), ("post", "/api/licks/1/plans", {"name": "", "student": None}),
    ("post", "/api/plans/1/marks", {"step": 10**9, "state": "done"}), ("post", "/api/plans/1/marks", {"step": 1, "state": "x"}),
    ("get", f"/api/plans/{BIG}", None), ("get", "/api/plans/1/plan.pdf?paper=%00", None),
    ("post", "/api/students", {"name": ""}), ("post", "/api/students", {"name": "x" * 10_000}),
    ("patch", "/api/students/1", {"name": "\0"}), ("delete", f"/api/students/{BIG}", None),
    ("post", "/api/plans/1/steps/1/recordings", {"bpm": float("inf")}), ("post", "/api/plans/1/steps/99/recordings", {}),
    ("put", f"/api/takes/1/audio?offset={BIG}", None), ("put", "/api/takes/1/audio?offset=-1", None),
    ("post", "/api/takes/1/finish", {"start_s": 86_400}), ("post", "/api/takes/99/judge", None),
    ("post", "/api/takes/1/ruling", {"passed": True, "by": ""}), ("post", "/api/takes/1/ruling", {"passed": "NaN", "by": "A"}),
    ("get", "/api/due?by=0000-00-00", None), ("get", "/api/due?by=2026-03-02T12:00:00", None),
    ("patch", "/api/plans/1/steps/1/rules", {"by": "A", "changes": {"bpm": 1e300}}),
    ("patch", "/api/plans/1/steps/1/rules", {"by": "A", "changes": {"takes": float("nan")}}),
    ("patch", "/api/plans/1/steps/1/rules", {"by": "A", "changes": {"figures": {"x": 10**30}}}),
    ("patch", "/api/plans/1/rules", {"by": "A", "changes": {"x": 1}}),
    ("patch", "/api/plans/1/rules", {"by": "A", "changes": {"spread_ms": 1e300}}),
    ("post", "/api/plans/1/rules/as-given", {"by": "A", "step": 10**30}),
    ("post", f"/api/plans/1/rules/undo?step={BIG}", None),
    ("delete", "/api/library/deleted?before=nan", None),
    ("delete", "/api/library/deleted?before=9999-12-31T23:59:59-14:00", None),
    ("delete", "/api/library/deleted?before=0001-01-01T00:00:00%2B14:00", None),
]  # fmt: skip


def check(answer, accepted=""):
    """One error of the documented shape, under a 4xx."""
    assert 400 <= answer.status_code < 500, answer.text
    error = answer.json()["error"]
    assert error["message"]
    assert "Traceback" not in answer.text
    assert accepted in f"{error['message']}. {error['accepted']}"
    return error


@pytest.mark.parametrize(("method", "path", "body"), ADDRESSES, ids=lambda value: str(value)[:60])
def test_requests_that_cannot_be(api, method, path, body):
    sent = {} if body is None else {"content": json.dumps(body), "headers": {"content-type": "application/json"}}  # fmt: skip
    if path.startswith("/static"):
        assert api.request(method, path).status_code == 404
        return
    error = check(api.request(method, path, **sent))
    assert error["accepted"]
