"""Everything out as a zip of open formats, and back with nothing lost."""

import hashlib
import io
import json
import zipfile

import pytest
from hypothesis import given, settings
from store_samples import BLUES, DORIAN, MANDOLIN, NOON, make_lick, minutes

from linewright.errors import ReadError, TooLarge
from linewright.store import Library, Query, export_zip, import_zip, zip_files
from strategies import licks


def facts_for(lick, tonic):
    return DORIAN if lick.title.startswith("A") else BLUES


@pytest.fixture
def full(library):
    library.add(make_lick("gone"), BLUES, now=NOON)
    library.add(make_lick("Porch", tags=("b", "a"), style="blues"), BLUES, now=minutes(1))
    library.add(
        make_lick("A reel", "A3 C4 E4", instrument=MANDOLIN, source="own").with_(
            remarks=("rhythm inferred",)
        ),
        DORIAN,
        now=minutes(2),
        given_tonic="A",
    )
    library.rename(2, "Porch / step: 2", now=minutes(5))
    library.delete(1, now=minutes(6))
    return library


def rewritten(data, change):
    """The zip again, with its files passed through ``change(dict)``."""
    with zipfile.ZipFile(io.BytesIO(data)) as old:
        files = {name: old.read(name) for name in old.namelist()}
    change(files)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name, content in files.items():
            new.writestr(name, content)
    return out.getvalue()


def test_nothing_is_lost(full):
    data = export_zip(full.all(), now=minutes(9))
    with Library.open(":memory:") as other:
        done = import_zip(other, data, facts_for)
        assert (done.added, done.updated, done.unchanged) == ((2, 3), (), ())
        for before, after in zip(full.all(), other.all(), strict=True):
            assert after.entry == before.entry  # number, identifier, tags, dates, facts
            assert after.lick == before.lick
            assert after.lick.remarks == before.lick.remarks
            assert after.given_tonic == before.given_tonic
        again = import_zip(other, data, facts_for)
        assert again.unchanged == (2, 3)
        assert other.search(Query()).total == 2


@settings(max_examples=10, deadline=None)
@given(lick=licks())
def test_any_lick_survives_the_zip(lick):
    with Library.open(":memory:") as one, Library.open(":memory:") as two:
        kept = one.add(lick, BLUES, now=NOON)
        import_zip(two, export_zip(one.all(), now=NOON), lambda *_: BLUES)
        assert two.get(kept.id).lick == lick


def test_the_zip_holds_open_formats_with_checksums(full):
    data = export_zip(full.all(), now=minutes(9))
    with zipfile.ZipFile(io.BytesIO(data)) as opened:
        manifest = json.loads(opened.read("manifest.json"))
        named = [f["path"] for record in manifest["licks"] for f in record["files"].values()]
        assert sorted([*named, "manifest.json"]) == sorted(opened.namelist())
        assert {name.rsplit(".", 1)[1] for name in named} == {"json", "musicxml", "txt", "abc"}
        for record in manifest["licks"]:
            for file in record["files"].values():
                content = opened.read(file["path"])
                assert hashlib.sha256(content).hexdigest() == file["sha256"]
                assert len(content) == file["bytes"]


def test_a_taken_number_gives_way_and_a_newer_state_can_be_undone(full):
    data = export_zip(full.all(), now=minutes(9))
    with Library.open(":memory:") as other:
        for n in range(2):
            other.add(make_lick(f"mine {n}"), BLUES, now=NOON)
        done = import_zip(other, data, facts_for)
        assert len(done.added) == 2
        assert [k.lick.title for k in other.all()][:2] == ["mine 0", "mine 1"]
        full.rename(2, "Porch newest", now=minutes(20))
        newer = export_zip(full.all(), now=minutes(21))
        (changed,) = import_zip(other, newer, facts_for).updated
        assert other.get(changed).lick.title == "Porch newest"
        assert other.undo(changed, now=minutes(22))[0].lick.title == "Porch / step: 2"


def test_a_deleted_lick_comes_back_by_import(full):
    data = export_zip(full.all(), now=minutes(9))
    full.delete(2, now=minutes(10))
    import_zip(full, data, facts_for)
    assert full.get(2).deleted is None


def spoil_lick(files):
    name = next(n for n in files if n.endswith("lick.abc"))
    files[name] += b"x"


def edit_manifest(**changes):
    def change(files):
        manifest = json.loads(files["manifest.json"])
        manifest.update(changes)
        files["manifest.json"] = json.dumps(manifest).encode()

    return change


def edit_record(**changes):
    def change(files):
        manifest = json.loads(files["manifest.json"])
        manifest["licks"][0].update(changes)
        files["manifest.json"] = json.dumps(manifest).encode()

    return change


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (spoil_lick, "changed after the export"),
        (lambda f: f.pop("manifest.json"), "missing from the zip"),
        (lambda f: f.update({"manifest.json": b"{"}), "not sound JSON"),
        (lambda f: f.update({"manifest.json": b"[" * 100_000}), "not sound JSON"),
        (lambda f: f.update({"../evil.txt": b""}), "no export writes"),
        (lambda f: f.update({"/etc/evil": b""}), "no export writes"),
        (lambda f: f.update({"a\\..\\b": b""}), "no export writes"),
        (edit_manifest(kind="song book"), "not that of a library"),
        (edit_manifest(version=99), "version 99"),
        (edit_manifest(licks={}), "lists no licks"),
        (edit_manifest(licks=[{}]), "damaged"),
        (edit_manifest(licks=[5]), "damaged"),
        (edit_record(created="yesterday"), "damaged"),
        (edit_record(created="2026-01-01T00:00:00"), "without its zone"),
        (edit_record(files=[]), "damaged"),
    ],
)
def test_a_spoiled_zip_is_refused_whole(full, change, message):
    data = rewritten(export_zip(full.all(), now=minutes(9)), change)
    with Library.open(":memory:") as other:
        with pytest.raises(ReadError, match=message):
            import_zip(other, data, facts_for)
        assert other.search(Query()).total == 0


@pytest.mark.parametrize("data", [b"", b"not a zip", b"PK\x03\x04" + b"\0" * 60])
def test_what_is_no_zip_is_refused(library, data):
    with pytest.raises(ReadError, match="not an intact zip"):
        import_zip(library, data, facts_for)


def test_a_cut_zip_is_refused(full):
    data = export_zip(full.all(), now=minutes(9))
    for end in (10, len(data) // 2, len(data) - 3):
        with pytest.raises(ReadError):
            import_zip(full, data[:end], facts_for)


def test_a_zip_bomb_is_refused_before_it_swells(full):
    def swell(files):
        files["licks/big"] = b"\0" * (zip_files.MAX_ONE + 1)

    data = rewritten(export_zip(full.all(), now=minutes(9)), swell)
    assert len(data) < 100_000
    with pytest.raises(TooLarge, match="swells past its limit at licks/big"):
        import_zip(full, data, facts_for)


def test_progress_names_each_lick(full):
    seen = []
    data = export_zip(full.all(), now=NOON, progress=lambda *step: seen.append(step))
    assert seen == [(1, 2, "Porch / step: 2"), (2, 2, "A reel")]
    seen.clear()
    import_zip(full, data, facts_for, progress=lambda *step: seen.append(step))
    assert [s[:2] for s in seen] == [(1, 2), (2, 2)]
