"""Takes in the store: kept whole, taken along in the zip, hostile zips refused, files limited."""

import hashlib
import io
import json
import signal
import subprocess
import sys
import zipfile
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from store_samples import BLUES, NOON, minutes

import take_samples as samples
from libraries import empty_library
from linewright.errors import (
    LinewrightError,
    NotFound,
    OptionError,
    ReadError,
    StoreError,
    TooLarge,
)
from linewright.services.takes import keep_take, rule_take
from linewright.services.tolerances import change_rules
from linewright.services.zips import export_all, left_behind
from linewright.store import Library, import_zip, take_files, zip_files
from linewright.store.take_files import TakeFolder, format_of
from linewright.store.take_records import Setting

HOW = Setting(90, 1.5, 0.02, click=True)


@pytest.fixture
def shelf(tmp_path):
    with empty_library(tmp_path / "library.db") as opened:
        yield opened


@pytest.fixture
def plan(shelf):
    ada = shelf.plans.add_student("Ada", now=NOON)
    return shelf.plans.add(samples.sheet(), student_id=ada.id, lick_id=None, now=NOON)


@pytest.fixture
def kept(shelf, plan):
    """A judged take of step 1, with a comment; changed rules."""
    change_rules(shelf, plan.id, 1, {"takes": 1}, by="Ms Fields", now=minutes(1))
    done = keep_take(shelf, plan.id, 1, samples.midi(), now=minutes(2))
    return rule_take(shelf, done.take.id, True, by="Ms Fields", comment="good", now=minutes(3)).take


@pytest.fixture(scope="module")
def zipped(tmp_path_factory):
    """A zip with such a take, its document beside it; made once."""
    with Library.open(tmp_path_factory.mktemp("zipped") / "library.db") as full:
        ada = full.plans.add_student("Ada", now=NOON)
        full.plans.add(samples.sheet(), student_id=ada.id, lick_id=None, now=NOON)
        change_rules(full, 1, 1, {"takes": 1}, by="Ms Fields", now=minutes(1))
        keep_take(full, 1, 1, samples.midi(), now=minutes(2))
        return export_all(full, now=minutes(9)), full.takes.get(1).document


def facts_for(lick, tonic):
    return BLUES


def test_a_take_comes_back_whole(shelf, plan, tmp_path):
    made = shelf.takes.add(plan.id, 1, samples.midi(), HOW, now=minutes(1))
    assert made == shelf.takes.entry(made.id) == shelf.takes.find(plan_id=plan.id, step=1)[0]
    assert (made.setting, made.state, made.format, made.at) == (HOW, "unjudged", "mid", minutes(1))
    path = shelf.takes.audio(made.id)
    assert path.read_bytes() == samples.midi()
    assert path.parent == tmp_path / "library-takes"
    assert shelf.takes.find(step=2) == shelf.takes.find(student_id=99) == ()
    assert [p.name for p in path.parent.iterdir()] == [path.name]  # nothing half-written


def test_a_take_goes_with_its_plan_and_is_purged_with_its_file(shelf, plan, tmp_path):
    made = shelf.takes.add(plan.id, 1, b"RIFF0000WAVE", HOW, now=minutes(1))
    other = shelf.takes.add(plan.id, 1, b"fLaC", HOW, now=minutes(2))
    shelf.takes.delete(made.id, now=minutes(3))
    assert shelf.takes.find() == (other,)
    assert [t.id for t in shelf.takes.find(deleted=True)] == [made.id]
    shelf.purge(before=minutes(4))
    with pytest.raises(NotFound):
        shelf.takes.entry(made.id)
    assert len(list((tmp_path / "library-takes").iterdir())) == 1
    shelf.plans.delete(plan.id, now=minutes(5))
    assert shelf.takes.find() == ()
    shelf.purge(before=minutes(6))
    assert list((tmp_path / "library-takes").iterdir()) == []


def test_a_missing_recording_is_named(shelf, plan):
    made = shelf.takes.add(plan.id, 1, b"fLaC", HOW, now=minutes(1))
    shelf.takes.audio(made.id).unlink()
    with pytest.raises(NotFound, match="library-takes"):
        shelf.takes.audio(made.id)
    for number in (0, -1, 99, 2**70):
        with pytest.raises(NotFound):
            shelf.takes.entry(number)


def test_sizes_are_limited(shelf, plan, monkeypatch, tmp_path):
    monkeypatch.setattr(take_files, "MAX_TAKE_BYTES", 100)
    monkeypatch.setattr(take_files, "MAX_CHUNK_BYTES", 60)
    with pytest.raises(TooLarge):
        shelf.takes.add(plan.id, 1, b"x" * 101, HOW, now=minutes(1))
    assert shelf.takes.find() == ()
    assert list((tmp_path / "library-takes").iterdir()) == []
    made = shelf.takes.begin(plan.id, 1, HOW, now=minutes(1))
    with pytest.raises(TooLarge):
        shelf.takes.append(made.id, 0, b"x" * 61)
    assert shelf.takes.append(made.id, 0, b"x" * 60) == 60
    with pytest.raises(TooLarge):
        shelf.takes.append(made.id, 60, b"x" * 60)
    assert shelf.takes.entry(made.id).bytes == 60
    with pytest.raises(OptionError):
        shelf.takes.append(made.id, -1, b"x")


def test_finishing_goes_on_where_it_was_interrupted(shelf, plan, tmp_path):
    made = shelf.takes.begin(plan.id, 1, HOW, "webm", now=minutes(1))
    shelf.takes.append(made.id, 0, b"\x1aE\xdf\xa3 and more")
    with pytest.raises(NotFound, match="not finished"):
        shelf.takes.audio(made.id)
    # The file was renamed, then the power failed: the table does not know of it yet.
    part = tmp_path / "library-takes" / f"{made.audio}.part"
    part.rename(tmp_path / "library-takes" / made.audio)
    assert shelf.takes.entry(made.id).bytes == 13
    done = shelf.takes.finish(made.id)
    assert (done.state, done.bytes, done.format) == ("unjudged", 13, "webm")
    assert shelf.takes.finish(made.id, Setting(70)).setting == Setting(70)


KILLED = """
import os, signal, sys
from linewright.store import Library
library = Library.open(sys.argv[1])
for n in range(5):
    there = library.takes.append(1, 1000 * n, bytes([n]) * 1000)
    print(there, flush=True)
os.kill(os.getpid(), signal.SIGKILL)
"""


def test_a_program_killed_while_recording_loses_nothing(shelf, plan, tmp_path):
    shelf.takes.begin(plan.id, 1, HOW, "webm", now=minutes(1))
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(tmp_path / "library.db")],
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == -signal.SIGKILL
    assert done.stdout.split()[-1] == "5000"
    (entry,) = shelf.takes.find()
    assert (entry.state, entry.bytes) == ("recording", 5000)
    finished = shelf.takes.finish(entry.id)
    assert shelf.takes.audio(entry.id).read_bytes() == b"".join(bytes([n]) * 1000 for n in range(5))
    assert finished.sha256 == hashlib.sha256(shelf.takes.audio(entry.id).read_bytes()).hexdigest()


def test_pieces_sent_at_the_same_time_do_not_mix(shelf, plan):
    shelf.takes.begin(plan.id, 1, HOW, now=minutes(1))
    data = bytes(range(256)) * 40

    def send(_):
        sent = 0
        while sent < len(data):
            sent = shelf.takes.append(1, sent, data[sent : sent + 1000])

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(send, range(4)))
    shelf.takes.finish(1)
    assert shelf.takes.audio(1).read_bytes() == data


@pytest.mark.parametrize(
    ("head", "name"),
    [
        (b"RIFF\0\0\0\0WAVEfmt ", "wav"), (b"fLaC", "flac"), (b"OggS", "ogg"), (b"ID3\4", "mp3"),
        (b"\xff\xfb\x90", "mp3"), (b"\0\0\0\x18ftypM4A ", "m4a"), (b"\x1aE\xdf\xa3", "webm"),
        (b"MThd", "mid"), (b"", "bin"), (b"<html>", "bin"), (b"RIFF\0\0\0\0AVI ", "bin"),
    ],
)  # fmt: skip
def test_kinds_are_known_by_their_first_bytes(head, name):
    """Signatures as the formats' own specifications give them."""
    assert format_of(head) == name


def test_names_stay_in_the_folder(tmp_path):
    folder = TakeFolder(tmp_path / "takes")
    for name in ("../x.wav", "x", "/etc/passwd", "a" * 32, "a" * 32 + ".wav/..", ""):
        with pytest.raises(StoreError):
            folder.put(name, [b"x"])
        with pytest.raises(StoreError):
            folder.path(name)


def test_a_folder_that_cannot_be_written_is_named(shelf, plan, tmp_path):
    (tmp_path / "library-takes").write_text("a file in the way")
    with pytest.raises(StoreError, match="library-takes"):
        shelf.takes.add(plan.id, 1, b"fLaC", HOW, now=minutes(1))


# -- in the zip --------------------------------------------------------------------------
def test_the_zip_takes_takes_along(shelf, kept, tmp_path):
    begun = shelf.takes.begin(1, 1, HOW, "wav", now=minutes(5))
    shelf.takes.append(begun.id, 0, b"RIFF0000WAVE")
    data = export_all(shelf, now=minutes(9))
    with Library.open(tmp_path / "other.db") as other:
        done = import_zip(other, data, facts_for)
        assert (done.plans, done.takes, done.silent) == ((1,), 2, 0)
        first, second = other.takes.find()
        again = other.takes.get(first.id)
        assert again.document == kept.document
        assert again.lick == kept.lick
        mine = kept.entry
        for name in (
            "uuid",
            "at",
            "setting",
            "passed",
            "grade",
            "ruling",
            "by",
            "comment",
            "sha256",
        ):
            assert getattr(first, name) == getattr(mine, name)
        assert other.takes.audio(first.id).read_bytes() == samples.midi()
        assert (second.state, second.problem) == ("unjudged", "The recording broke off.")
        assert other.takes.audio(second.id).read_bytes() == b"RIFF0000WAVE"
        assert other.plans.get(1).sheet == shelf.plans.get(1).sheet
        assert other.plans.get(1).as_given == samples.sheet()
        # Again: nothing doubles, no file is left over, what was deleted stays deleted.
        other.takes.delete(first.id, now=minutes(10))
        assert import_zip(other, data, facts_for).takes == 0
        assert len(other.takes.find()) == 1
        assert len(list((tmp_path / "other-takes").iterdir())) == 2
    with Library.open(":memory:") as nowhere:
        done = import_zip(nowhere, data, facts_for)
        assert (done.takes, done.silent) == (2, 2)
        with pytest.raises(NotFound, match="without its recording"):
            nowhere.takes.audio(1)
        assert nowhere.takes.get(1).verdict == kept.verdict


def test_more_recordings_than_fit_stay_behind(shelf, kept, monkeypatch):
    from linewright.services import zips

    shelf.takes.add(1, 1, b"RIFF0000WAVE" * 200, HOW, now=minutes(8))
    assert left_behind(shelf) == 0
    monkeypatch.setattr(zips, "MOST_AUDIO_BYTES", 2500)  # the newer one fits, not both
    assert left_behind(shelf) == 1
    with Library.open(":memory:") as other:
        assert import_zip(other, export_all(shelf, now=minutes(9)), facts_for).takes == 2
    names = zipfile.ZipFile(io.BytesIO(export_all(shelf, now=minutes(9)))).namelist()
    assert sum("/takes/" in n and n.endswith((".wav", ".mid")) for n in names) == 1


def rewritten(data, change):
    with zipfile.ZipFile(io.BytesIO(data)) as old:
        files = {name: old.read(name) for name in old.namelist()}
    manifest = json.loads(files["manifest.json"])
    change(manifest, files)
    files["manifest.json"] = json.dumps(manifest).encode()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as new:
        for name, content in files.items():
            new.writestr(name, content)
    return out.getvalue()


def record(**changes):
    """A change of the take's own file, its checksum made to fit."""

    def change(manifest, files):
        row = manifest["plans"][0]["takes"][0]
        path = row["file"]["path"]
        files[path] = json.dumps(json.loads(files[path]) | changes).encode()
        row["file"]["sha256"] = hashlib.sha256(files[path]).hexdigest()

    return change


def take(key, value):
    def change(manifest, files):
        manifest["plans"][0]["takes"][0][key] = value

    return change


def changed(**values):
    return lambda manifest, files: manifest["plans"][0]["changes"][0].update(values)


def audio(**values):
    return lambda manifest, files: manifest["plans"][0]["takes"][0]["audio"].update(values)


@pytest.mark.parametrize(
    "change",
    [
        audio(sha256="0"), audio(path="manifest.json"), audio(path="plans/x/takes/../../../y"),
        audio(path="plans/a/takes/none.wav"), take("audio", "x"), take("file", None),
        record(step=99), record(step=True), record(at="2026-03-02T12:00:00"), record(bpm=1e9),
        record(document=None), record(document={"take": 1}), record(document={"take": 2}),
        record(grade="splendid"), record(ruling=1), record(comment="x" * 3000), record(seconds="1"),
        record(uuid="x" * 40), record(state="unjudged"), changed(changes={"bpm": 1}),
        changed(step=0), changed(by=""), changed(at="soon"),
        lambda manifest, files: manifest["plans"][0].update(takes=7),
        lambda manifest, files: manifest["plans"][0]["takes"].append(
            manifest["plans"][0]["takes"][0]
        ),
    ],
)  # fmt: skip
def test_a_zip_with_damaged_takes_changes_nothing(zipped, change, tmp_path):
    data = rewritten(zipped[0], change)
    with Library.open(tmp_path / "other.db") as other:
        with pytest.raises(ReadError):
            import_zip(other, data, facts_for)
        assert other.plans.students() == other.takes.find() == ()
        assert list(tmp_path.glob("other-takes/*")) == []


def test_a_hostile_verdict_is_refused(zipped):
    """Whatever is put in place of any value of the verdict: refused, or harmless to read."""
    data, document = zipped
    hostile = []
    for key in document["verdict"]:
        copy = json.loads(json.dumps(document))
        copy["verdict"][key] = {"<script>": [None]}
        hostile.append(copy)
    for rule_key in ("notes", "bars", "value", "words"):
        copy = json.loads(json.dumps(document))
        copy["verdict"]["rules"][0][rule_key] = [10**9]
        hostile.append(copy)
    for wrong in hostile:
        with Library.open(":memory:") as other, pytest.raises(LinewrightError):
            import_zip(other, rewritten(data, record(document=wrong)), facts_for)


def test_a_recording_that_swells_is_refused(shelf, kept, monkeypatch):
    data = export_all(shelf, now=minutes(9))
    monkeypatch.setattr(zip_files, "MAX_TAKE_BYTES", 100)
    with pytest.raises(TooLarge, match="swells past its limit at plans/"):
        import_zip(shelf, data, facts_for)


def test_rules_taken_back_stay_taken_back(shelf, kept, tmp_path):
    data = export_all(shelf, now=minutes(9))
    with Library.open(tmp_path / "other.db") as other:
        import_zip(other, data, facts_for)
        other.plans.undo_rules(1, now=NOON + timedelta(hours=1))
        assert import_zip(other, data, facts_for).plans == ()
        assert other.plans.get(1).sheet == samples.sheet()
