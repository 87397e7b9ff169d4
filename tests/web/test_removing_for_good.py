"""What is deleted stays until somebody removes it for good, and only after thirty days."""

from datetime import timedelta
from html import unescape

import pytest

from linewright.errors import OptionError
from linewright.services import shelf
from linewright.services.bring import bring_in
from linewright.services.clock import now
from linewright.services.practising import give_plan
from linewright.services.removing import KEPT_DAYS, removable, remove_for_good
from linewright.services.takes import Setting, delete_take
from linewright.store import Library
from samples import PORCH

SOUND = b"fLaC" + 1_500_000 * b"x"


@pytest.fixture
def library(tmp_path):
    with Library.open(tmp_path / "library.db") as opened:
        porch = shelf.keep(opened, bring_in(PORCH.encode()))
        for name in ("Ada Lane", "Bo Hill", "Cy Marsh"):
            plan = give_plan(opened, porch.id, student=name, level="beginner")
            for _ in range(2):
                opened.takes.add(plan.id, 1, SOUND, Setting(80.0), now=now())
        yield opened


@pytest.fixture
def folder(tmp_path):
    return tmp_path / "library-takes"


def ago(days):
    return now() - timedelta(days=days)


def test_nothing_lately_deleted_can_be_removed(client, library, folder):
    """A day under the window is inside it; asking for a later moment is refused."""
    delete_take(library, 1, now=ago(KEPT_DAYS - 1))
    library.plans.delete(2, now=ago(KEPT_DAYS - 1))
    library.plans.delete_student(3, now=ago(1))
    assert not removable(library)[0].anything
    text = unescape(client.get("/library").text)
    assert "Bring back the take of Ada Lane, step 1," in text
    assert "Ada Lane: " in text[text.index("<h3>Takes") : text.index("<h3>Plans")]
    assert "Bring back the plan Porch" in text
    assert "Bring back Cy Marsh" in text
    assert "/library/removal" not in text
    assert "There is nothing to remove" in client.get("/library/removal").text
    with pytest.raises(OptionError, match="cannot be removed for good yet"):
        remove_for_good(library, ago(KEPT_DAYS - 1))
    answer = client.post("/library/removal", data={"before": now().isoformat()})
    assert answer.status_code == 400
    assert len(list(folder.iterdir())) == 6
    for address in ("/plans/1/takes/1", "/plans/2", "/students/3"):
        assert client.post(f"{address}/restore").status_code == 200
    assert len(library.takes.find()) == 6


def test_what_was_shown_is_removed_with_its_recordings_and_nothing_else(client, library, folder):
    delete_take(library, 1, now=ago(40))
    delete_take(library, 2, now=ago(2))
    library.plans.delete(2, now=ago(40))
    library.plans.delete_student(3, now=ago(40))
    kept = library.takes.audio(2)
    text = unescape(client.get("/library/removal").text)
    assert "1 student, 2 practice plans, 5 takes, with 5 recordings (7.2 MB)" in text
    assert len(list(folder.iterdir())) == 6  # looking removes nothing
    before = text.split('name="before" value="')[1].split('"')[0]
    library.plans.delete(2, now=None)  # brought back between looking and confirming: it stays
    text = unescape(client.post("/library/removal", data={"before": before}).text)
    assert "Removed for good: 1 student, 1 practice plan, 3 takes, with 3 recordings" in text
    assert sorted(take.plan_id for take in library.takes.find()) == [2, 2]
    assert len(list(folder.iterdir())) == 3
    assert kept.is_file()
    assert client.post("/plans/1/takes/2/restore").status_code == 200
    assert client.get("/plans/1/takes/1").status_code == 404
    assert [student.name for student in library.plans.students()] == ["Ada Lane", "Bo Hill"]


def test_a_library_is_opened_and_served_without_removing_anything(client, library, folder):
    delete_take(library, 1, now=ago(400))
    for address in ("/", "/practice", "/library", "/library/removal", "/api/library/deleted"):
        assert client.get(address).status_code == 200
    assert len(list(folder.iterdir())) == 6


def test_the_same_by_the_api(client, library, folder):
    delete_take(library, 1, now=ago(40))
    told = client.get("/api/library/deleted").json()
    assert (told["takes"], told["recordings"], told["bytes"]) == (1, 1, len(SOUND))
    refused = client.delete("/api/library/deleted", params={"before": now().isoformat()})
    assert refused.status_code == 400
    refused = client.delete("/api/library/deleted", params={"before": "2020-01-01T00:00:00"})
    assert refused.status_code == 400
    done = client.delete("/api/library/deleted", params={"before": told["before"]}).json()
    assert done == told
    assert len(list(folder.iterdir())) == 5


@pytest.mark.parametrize(
    "before", ["", "yesterday", "2020-01-01T00:00:00", "0001-01-01T00:00:00+14:00"]
)
def test_a_moment_that_is_none(client, library, before):
    answer = client.post("/library/removal", data={"before": before})
    assert answer.status_code == 400
    assert 'role="alert"' in answer.text
