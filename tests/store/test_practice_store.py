"""Students, plans and marks: kept whole, undone one by one, taken along in the zip."""

import io
import json
import sqlite3
import zipfile
from functools import lru_cache

import pytest
import sqlalchemy as sa
from store_samples import BLUES, NOON, make_lick, minutes

from linewright.errors import NotFound, OptionError, ReadError, StoreError
from linewright.practice import make_plan, sheet_of
from linewright.services.bring import bring_in
from linewright.store import Library, export_zip, import_zip
from samples import PORCH


@lru_cache
def sheet(level="working"):
    brought = bring_in(PORCH.encode())
    return sheet_of(make_plan(brought.analysis, level=level), brought.lick)


@pytest.fixture
def given(library):
    """A student with a plan on the library's only lick."""
    lick = library.add(make_lick(), BLUES, now=NOON)
    student = library.plans.add_student("Ada", now=NOON)
    return library.plans.add(sheet(), student_id=student.id, lick_id=lick.id, now=minutes(1))


def test_a_plan_comes_back_whole(library, given):
    again = library.plans.get(given.id)
    assert again == given
    assert again.sheet == sheet()
    entry = library.plans.entry(given.id)
    assert (entry.student.name, entry.lick_id, entry.level, entry.made) == (
        "Ada", 1, "working", minutes(1),
    )  # fmt: skip
    assert [title for _, title in entry.steps] == [step.title for step in sheet().steps]
    assert library.plans.find(lick_id=1) == library.plans.find(student_id=1) == (entry,)
    assert library.plans.find(lick_id=2) == ()


def test_names_tell_students_apart(library):
    ada = library.plans.add_student("  Ada  Lane ", now=NOON)
    assert ada.name == "Ada Lane"
    for wrong in ("", "   ", "x" * 101, "a\nb\0", "ada lane"):
        with pytest.raises(OptionError):
            library.plans.add_student(wrong, now=NOON)
    library.plans.add_student("Bo", now=NOON)
    assert [s.name for s in library.plans.students()] == ["Ada Lane", "Bo"]
    with pytest.raises(OptionError, match="already"):
        library.plans.rename_student(ada.id, "BO")
    assert library.plans.rename_student(ada.id, "Ada").name == "Ada"
    assert library.plans.rename_student(ada.id, "ADA").name == "ADA"


def test_a_step_not_done_holds_the_next_one_back(library, given):
    plans = library.plans
    with pytest.raises(OptionError, match="held back by step 1"):
        plans.mark(given.id, 2, "done", now=minutes(2))
    entry = plans.mark(given.id, 1, "done", now=minutes(2), comment=" clean ")
    assert entry.progress.can_start(2)
    assert entry.mark_of(1).comment == "clean"
    entry = plans.mark(given.id, 2, "not yet", now=minutes(3))
    assert not entry.progress.can_start(3)
    entry = plans.mark(given.id, 2, "opened", now=minutes(4), by="the teacher", comment="enough")
    assert entry.progress.can_start(3)
    assert not entry.progress.is_done(2)
    assert entry.progress.current == 3
    entry = plans.mark(given.id, 5, "done", now=minutes(5), by="the teacher")
    assert entry.progress.is_done(5)
    assert entry.progress.current == 3
    entry = plans.mark(given.id, 1, "not yet", now=minutes(6))
    assert entry.progress.current == 1


@pytest.mark.parametrize(
    ("step", "state", "extra"),
    [
        (0, "done", {}), (99, "done", {}), (1, "finished", {}), (1, "opened", {}),
        (1, "opened", {"by": "  "}), (1, "done", {"comment": "x" * 2001}),
        (1, "done", {"by": "x" * 101}),
    ],
)  # fmt: skip
def test_what_cannot_be_said_of_a_step(library, given, step, state, extra):
    with pytest.raises(OptionError):
        library.plans.mark(given.id, step, state, now=minutes(2), **extra)
    assert library.plans.entry(given.id).marks == ()


def test_marks_are_undone_one_by_one(library, given):
    plans = library.plans
    plans.mark(given.id, 1, "done", now=minutes(2))
    plans.mark(given.id, 2, "not yet", now=minutes(3))
    plans.mark(given.id, 2, "done", now=minutes(4))
    entry, taken = plans.undo(given.id, now=minutes(5))
    assert (taken.step, taken.state) == (2, "done")
    assert entry.mark_of(2).state == "not yet"
    plans.undo(given.id, now=minutes(6))
    entry, _ = plans.undo(given.id, now=minutes(7))
    assert entry.progress.current == 1
    with pytest.raises(NotFound, match="no mark"):
        plans.undo(given.id, now=minutes(8))
    assert plans.mark(given.id, 1, "done", now=minutes(9)).progress.is_done(1)


def test_deleting_hides_and_can_be_taken_back(library, given):
    plans = library.plans
    plans.delete(given.id, now=minutes(2))
    assert plans.find() == plans.all() == ()
    with pytest.raises(NotFound, match="is deleted"):
        plans.mark(given.id, 1, "done", now=minutes(3))
    assert plans.delete(given.id, now=None) == given.entry
    plans.delete_student(1, now=minutes(4))
    assert plans.find() == plans.students() == ()
    assert [s.name for s in plans.students(deleted=True)] == ["Ada"]
    plans.add_student("ada", now=minutes(5))
    with pytest.raises(OptionError, match="already"):
        plans.delete_student(1, now=None)
    library.purge(before=minutes(9))
    with pytest.raises(NotFound):
        plans.get(given.id)
    with pytest.raises(NotFound):
        plans.student(1)


def test_a_plan_outlives_its_lick(library, given):
    library.delete(1, now=minutes(2))
    library.purge(before=minutes(3))
    again = library.plans.get(given.id)
    assert again.entry.lick_id is None
    assert again.sheet == sheet()


def test_what_is_not_there(library):
    for number in (0, 1, -1, 2**70):
        for ask in (library.plans.get, library.plans.entry, library.plans.student):
            with pytest.raises(NotFound):
                ask(number)


def test_a_damaged_plan_is_named(tmp_path):
    path = tmp_path / "library.db"
    with Library.open(path) as library:
        student = library.plans.add_student("Ada", now=NOON)
        made = library.plans.add(sheet(), student_id=student.id, lick_id=None, now=NOON)
        raw = sqlite3.connect(path)
        raw.execute("UPDATE plans SET document = '{\"plan\": 1}'")
        raw.commit()
        raw.close()
        with pytest.raises(StoreError, match="'Porch step' is damaged"):
            library.plans.get(made.id)


def test_a_library_from_before_plans_is_brought_up_to_date(tmp_path):
    path = tmp_path / "library.db"
    with Library.open(path) as library:
        kept = library.add(make_lick(), BLUES, now=NOON)
    raw = sqlite3.connect(path)
    raw.executescript(
        "DROP TABLE takes; DROP TABLE rule_changes; DROP TABLE step_marks; DROP TABLE plans; DROP TABLE students;"
        " UPDATE alembic_version SET version_num = '0001'"
    )
    raw.close()
    with Library.open(path) as library:
        assert library.get(kept.id) == kept
        assert library.plans.students() == ()
    engine = sa.create_engine(f"sqlite:///{path}")
    assert {"students", "plans", "step_marks"} <= set(sa.inspect(engine).get_table_names())
    engine.dispose()


# -- in the zip --------------------------------------------------------------------------
def zipped(library):
    return export_zip(
        library.all(), now=minutes(9), plans=library.plans.all(), students=library.plans.students()
    )


def facts_for(lick, tonic):
    return BLUES


def test_the_zip_takes_practice_along(library, given):
    plans = library.plans
    plans.mark(given.id, 1, "done", now=minutes(2), comment="clean")
    plans.mark(given.id, 2, "opened", now=minutes(3), by="the teacher")
    plans.undo(given.id, now=minutes(4))
    data = zipped(library)
    with Library.open(":memory:") as other:
        other.add(make_lick("Other"), BLUES, now=NOON)  # takes the number 1
        other.plans.add_student("Ada", now=NOON)  # another Ada
        done = import_zip(other, data, facts_for)
        assert done.plans == (1,)
        entry = other.plans.entry(1)
        assert entry.marks == plans.entry(given.id).marks
        assert other.get(entry.lick_id).lick == library.get(1).lick
        assert entry.student.name == "Ada (2)"
        assert other.plans.get(1).sheet == sheet()
        # Again: nothing doubles, and what was taken back here stays so.
        other.plans.undo(1, now=minutes(10))
        assert import_zip(other, data, facts_for).plans == ()
        assert other.plans.entry(1).last is None
        # A newer mark comes along.
        plans.mark(given.id, 2, "not yet", now=minutes(11))
        assert import_zip(other, zipped(library), facts_for).plans == (1,)
        assert other.plans.entry(1).last.state == "not yet"
        assert len(other.plans.find()) == 1


def rewritten(data, change):
    with zipfile.ZipFile(io.BytesIO(data)) as old:
        files = {name: old.read(name) for name in old.namelist()}
    manifest = json.loads(files["manifest.json"])
    change(manifest)
    files["manifest.json"] = json.dumps(manifest).encode()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as new:
        for name, content in files.items():
            new.writestr(name, content)
    return out.getvalue()


def damage(*path, to):
    def change(manifest):
        holder = manifest
        for key in path[:-1]:
            holder = holder[key]
        holder[path[-1]] = to

    return change


@pytest.mark.parametrize(
    "change",
    [
        damage("plans", to=7),
        damage("plans", 0, "uuid", to="x" * 37),
        damage("plans", 0, "student", to="nobody"),
        damage("plans", 0, "made", to="2026-03-02T12:00:00"),
        damage("plans", 0, "file", "sha256", to="0"),
        damage("plans", 0, "file", to=None),
        damage("plans", 0, "marks", 0, "step", to=99),
        damage("plans", 0, "marks", 0, "state", to="perhaps"),
        damage("students", 0, "name", to=None),
        lambda manifest: manifest["plans"].append(manifest["plans"][0]),
        lambda manifest: manifest["students"].append(manifest["students"][0]),
    ],
)
def test_a_zip_with_damaged_practice_changes_nothing(library, given, change):
    library.plans.mark(given.id, 1, "done", now=minutes(2))
    data = rewritten(zipped(library), change)
    with Library.open(":memory:") as other:
        with pytest.raises(ReadError):
            import_zip(other, data, facts_for)
        assert other.all() == other.plans.students() == ()


def test_a_zip_without_practice_is_read(library, given):
    data = rewritten(zipped(library), lambda m: (m.pop("plans"), m.pop("students")))
    with Library.open(":memory:") as other:
        assert import_zip(other, data, facts_for).plans == ()
