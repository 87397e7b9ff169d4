"""The practice plan by address alone, without scripts: shown, given, marked, taken back."""

import re
from html import unescape

import pytest
from fastapi.testclient import TestClient
from icalendar import Calendar

from linewright.services.practising import give_plan, mark_step
from linewright.store import Library
from linewright.web.app import create_app
from papers import page_sizes, page_texts

PLAN = "/licks/1/plan"


@pytest.fixture
def given(library, porch):
    return give_plan(library, porch.id, student="Ada Lane")


def test_the_plan_says_everything_and_a_step_has_its_music(client, porch):
    html = client.get(f"{PLAN}?level=beginner&length=month&seed=3").text
    text = unescape(html)
    assert html.count("<details data-step") == text.count("It is done when") >= 5
    assert "data-score" not in html
    for words in ("To improvise with everything", "Day 28", "Take care", "If it will not come"):
        assert words in text
    link = unescape(re.search(r'href="([^"]*steps/3[^"#]*)', html)[1])
    assert link == f"{PLAN}/steps/3?level=beginner&length=month&seed=3"
    step = client.get(link).text
    assert len(re.findall(r'<svg[^>]* class="[^"]*engraving', step)) >= 2 * 3
    assert step.count("<details data-step open>") == 1
    assert re.search(r"<title>[^<]*bar 1, beat 1[^<]*\. Frame", step)


def test_the_lick_page_leads_to_the_plan_and_the_handout_with_it(client, porch):
    html = client.get("/licks/1").text
    assert f'action="{PLAN}"' in html
    assert f'formaction="{PLAN}/handout.pdf"' in html
    assert 'href="/practice"' in html
    text = "X:1\nT:Steps\nM:4/4\nL:1/8\nK:C\nC^CD^DE F^FG|^GA^ABc2z2|"
    client.post("/api/licks", json={"text": text})
    assert "No plan can be made" in client.get("/licks/2").text
    answer = client.get("/licks/2/plan")
    assert answer.status_code == 400
    assert 'role="alert"' in answer.text
    text = "X:1\nT:Six notes\nM:4/4\nL:1/8\nK:C\nCDEF GAGE|FDEC DFEC|"  # major or mixolydian
    client.post("/api/licks", json={"text": text})
    assert "the plan keeps to the notes heard" in client.get("/licks/3").text
    assert "Know the notes heard in " in client.get("/licks/3/plan").text


def test_files_of_a_plan(client, porch, given):
    for base in (PLAN, f"/plans/{given.id}"):
        for name in ("plan.pdf", "handout.pdf"):
            answer = client.get(f"{base}/{name}?paper=letter&level=beginner")
            assert answer.headers["content-type"] == "application/pdf"
            assert "attachment" in answer.headers["content-disposition"]
            assert page_sizes(answer.content)[0][0] == 612
        answer = client.get(f"{base}/plan.ics?start=2026-03-02")
        assert answer.headers["content-type"].startswith("text/calendar")
        assert (
            str(Calendar.from_ical(answer.content).walk("VEVENT")[0]["dtstart"].dt) == "2026-03-02"
        )
        assert client.get(f"{base}/plan.ics?start=").status_code == 200  # today
        for wrong in ("plan.ics?start=soon", "plan.pdf?paper=foolscap"):
            assert client.get(f"{base}/{wrong}").status_code == 400
        assert client.get(f"{base}/plan.doc").status_code == 404


def test_a_plan_is_given_by_name_or_to_a_student_there_is(client, library, porch):
    form = {"level": "fluent", "length": "week", "seed": "2", "student": "", "name": " Ada  Lane "}
    answer = client.post(PLAN, data=form, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/plans/1")
    client.post(PLAN, data=form | {"name": "", "student": "1"})
    client.post(PLAN, data=form | {"name": "ada lane"})
    assert [s.name for s in library.plans.students()] == ["Ada Lane"]
    entries = library.plans.find()
    assert [(e.level, e.seed) for e in entries] == [("fluent", 2)] * 3
    assert "Given already" in client.get(PLAN).text
    assert client.get("/plans/1").text.count("held back") == len(entries[0].steps) - 1


@pytest.mark.parametrize(
    ("change", "status", "words"),
    [
        ({"name": ""}, 400, "whose plan"), ({"name": "x" * 101}, 400, "not a student"),
        ({"level": "expert"}, 400, "no level"), ({"length": "year"}, 400, "no length"),
        ({"student": "77", "name": ""}, 404, "no student"), ({"seed": "x"}, 400, "no number"),
        ({"seed": "9" * 19}, 400, "seed"),
    ],
)  # fmt: skip
def test_what_cannot_be_given_is_said(client, library, porch, change, status, words):
    form = {"level": "working", "length": "week", "seed": "0", "student": "", "name": "Ada"}
    answer = client.post(PLAN, data=form | change)
    assert answer.status_code == status
    assert words in unescape(answer.text).lower()
    assert library.plans.find() == ()


def test_marks_are_made_held_back_and_undone(client, library, given):
    page, marks = f"/plans/{given.id}", f"/plans/{given.id}/marks"
    said = {"step": "1", "state": "done", "by": "", "comment": "clean <b>&"}
    answer = client.post(marks, data=said, follow_redirects=False)
    assert answer.headers["location"] == f"{page}?marked=1#step-1"
    html = client.get(answer.headers["location"]).text
    assert "clean &lt;b&gt;&amp;" in html
    assert f'action="{page}/undo"' in html
    assert "At step 2 of" in html
    held = client.post(marks, data=said | {"step": "3", "comment": "kept words"})
    assert held.status_code == 400
    assert "held back by step 2" in held.text
    nobody = client.post(marks, data=said | {"step": "2", "state": "opened", "comment": "as typed"})
    assert nobody.status_code == 400
    assert 'value="as typed"' in nobody.text
    client.post(marks, data=said | {"step": "2", "state": "opened", "by": "the teacher"})
    assert "At step 3 of" in client.get(page).text
    client.post(f"{page}/undo")
    assert "At step 2 of" in client.get(page).text
    client.post(f"{page}/undo")
    assert client.post(f"{page}/undo").status_code == 404
    assert library.plans.entry(given.id).progress.current == 1


def test_a_held_step_has_no_music_by_any_address(client, given):
    assert "data-score" in client.get(f"/plans/{given.id}/steps/1").text
    assert "data-score" not in client.get(f"/plans/{given.id}/steps/2").text
    for number in (0, 99, -1):
        assert client.get(f"/plans/{given.id}/steps/{number}").status_code == 404


def test_practice_says_where_each_stands(client, library, given):
    mark_step(library, given.id, 1, "done")
    give_plan(library, 1, student="Bo", level="beginner")
    html = unescape(client.get("/practice").text)
    assert html.index("Ada Lane") < html.index("Bo")
    assert re.search(r"At step 2 of \d+: The frame across the neck", html)
    assert re.search(r"At step 1 of \d+: Know the frame", html)


def test_students_are_added_renamed_taken_out_and_brought_back(client, library, given):
    client.post("/students", data={"name": "Bo"})
    client.post("/students", data={"name": "bo"})  # the same
    assert [s.name for s in library.plans.students()] == ["Ada Lane", "Bo"]
    assert client.post("/students", data={"name": " "}).status_code == 400
    assert client.post("/students/2/rename", data={"name": "ada lane"}).status_code == 400
    client.post("/students/2/rename", data={"name": "Bo Lane"})
    answer = client.post("/students/1/delete")
    assert "Ada Lane is taken out" in answer.text
    assert library.plans.find() == ()
    client.post("/students/1/restore")
    assert [e.id for e in library.plans.find()] == [given.id]
    answer = client.post(f"/plans/{given.id}/delete")
    assert 'action="/plans/1/restore"' in answer.text
    client.post("/plans/1/restore")
    assert [e.id for e in library.plans.find()] == [given.id]


def test_a_printed_plan_names_the_student(client, given):
    pdf = client.get(f"/plans/{given.id}/plan.pdf").content
    assert "For Ada Lane" in page_texts(pdf)[0]


def test_a_plan_goes_along_in_the_zip(client, library, given):
    mark_step(library, given.id, 1, "done")
    data = client.get("/library/export.zip").content
    with Library.open(":memory:") as other:
        answer = TestClient(create_app(other), base_url="http://127.0.0.1").post(
            "/library/import", files={"file": ("all.zip", data, "application/zip")}
        )
        assert "1 practice plan with new marks or takes, or new here" in answer.text
        assert other.plans.find()[0].progress.is_done(1)


def test_a_plan_outlives_its_lick_on_the_page(client, library, given):
    client.post("/licks/1/delete")
    assert client.get(f"/plans/{given.id}/steps/1").status_code == 200


@pytest.mark.parametrize(
    "path",
    [PLAN, f"{PLAN}/steps/1", "/plans/1", "/plans/1/steps/1", "/practice", f"{PLAN}?level=no"],
)
def test_pages_have_landmarks_one_heading_and_nothing_from_outside(client, given, path):
    answer = client.get(path)
    assert answer.status_code == (400 if "no" in path.split("=")[-1] else 200)
    html = answer.text
    assert html.count("<h1") == 1
    for landmark in ("<main", "<nav", "<header", "<footer", 'class="skip"'):
        assert landmark in html
    assert not re.search(r"<script(?![^>]*\bsrc=\"/static/)", html)
    assert not re.search(r"<style|\sstyle=|\son\w+=", html)
    ids = re.findall(r'\sid="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    labels = set(re.findall(r'<label for="([^"]+)"', html))
    fields = re.findall(r'<(?:input|select)(?![^>]*type="hidden")[^>]*\sid="([^"]+)"', html)
    assert set(fields) <= labels


def test_whatever_a_student_is_called_it_stays_text(client, porch):
    form = {"level": "working", "length": "week", "seed": "0", "student": "", "name": '<script>"x"'}
    for path in ("/plans/1", "/practice", PLAN):
        client.post(PLAN, data=form)
        assert "<script>" not in client.get(path).text
        assert "&lt;script&gt;" in client.get(path).text


# -- the JSON API ------------------------------------------------------------------------
def test_the_api_gives_marks_and_takes_back(client, library, porch):
    plan = client.get("/api/licks/1/plan?level=beginner&length=month").json()
    assert len(plan["schedule"]) == 28
    assert all(len(step["examples"]) == 3 and step["rules"] for step in plan["steps"])
    made = client.post("/api/licks/1/plans", json={"name": "Ada", "level": "beginner"})
    assert made.status_code == 201
    body = made.json()
    assert body["plan"]["steps"] == plan["steps"]
    assert [s["state"] for s in body["standing"]] == ["open"] + ["held"] * (body["steps"] - 1)
    assert [s["held_by"] for s in body["standing"][1:]] == [1] * (body["steps"] - 1)
    said = client.post("/api/plans/1/marks", json={"step": 1, "state": "done", "comment": "ok"})
    assert said.status_code == 201
    assert (said.json()["at"], said.json()["done"]) == (2, 1)
    answer = client.post("/api/plans/1/marks", json={"step": 3, "state": "done"})
    assert answer.status_code == 400
    assert "held back by step 2" in answer.json()["error"]["message"]
    opened = {"step": 2, "state": "opened", "by": "the teacher"}
    assert client.post("/api/plans/1/marks", json=opened).json()["at"] == 3
    undone = client.post("/api/plans/1/undo").json()
    assert undone["at"] == 2
    assert undone["marks"][-1]["undone"]
    assert [p["id"] for p in client.get("/api/plans?student=1").json()] == [1]
    assert client.get("/api/plans?lick=9").json() == []
    assert client.delete("/api/plans/1").json()["deleted"]
    assert client.get("/api/plans").json() == []
    assert client.post("/api/plans/1/restore").json()["deleted"] is None
    assert client.get("/api/plans/1").json()["marks"] == undone["marks"]


def test_the_api_knows_students(client, porch):
    assert client.post("/api/students", json={"name": "Ada"}).json()["id"] == 1
    assert client.post("/api/students", json={"name": "ADA"}).status_code == 400
    assert client.patch("/api/students/1", json={"name": "Ada Lane"}).json()["name"] == "Ada Lane"
    client.post("/api/licks/1/plans", json={"student": 1})
    assert client.get("/api/students").json()[0]["plans"] == 1
    assert client.delete("/api/students/1").json()["deleted"]
    assert client.get("/api/plans").json() == client.get("/api/students").json() == []
    assert client.post("/api/students/1/restore").json()["deleted"] is None


def test_the_api_has_the_files(client, given):
    for path in ("licks/1/plan.pdf?handout=true", "plans/1/plan.pdf?paper=letter"):
        assert client.get(f"/api/{path}").content.startswith(b"%PDF")
    for path in ("licks/1/plan.ics", "plans/1/plan.ics"):
        data = client.get(f"/api/{path}?start=2026-03-02").content
        assert len(Calendar.from_ical(data).walk("VEVENT")) == 7
        assert client.get(f"/api/{path}").status_code == 422
        assert client.get(f"/api/{path}?start=x").status_code == 400


@pytest.mark.parametrize(
    ("method", "path", "body", "status"),
    [
        ("post", "licks/1/plans", {}, 400), ("post", "licks/9/plans", {"name": "A"}, 404),
        ("post", "licks/1/plans", {"student": 9}, 404), ("post", "licks/1/plans", {"nam": 1}, 422),
        ("post", "licks/1/plans", {"name": "A", "level": "x"}, 400),
        ("post", "licks/1/plans", {"name": "A", "seed": 2**60}, 422),
        ("post", "plans/1/marks", {"step": 1, "state": "fine"}, 422),
        ("post", "plans/1/marks", {"step": 99, "state": "done"}, 400),
        ("post", "plans/1/marks", {"step": 1, "state": "opened"}, 400),
        ("post", "plans/1/marks", {"step": 1, "state": "done", "comment": "x" * 2001}, 422),
        ("post", "plans/7/marks", {"step": 1, "state": "done"}, 404),
        ("post", "plans/1/undo", None, 404), ("get", "plans/7", None, 404),
        ("get", f"plans/{2**70}", None, 404), ("get", "licks/1/plan?level=x", None, 400),
        ("get", "licks/1/plan?seed=x", None, 422), ("patch", "students/1", {"name": ""}, 400),
        ("delete", "students/7", None, 404),
    ],
)  # fmt: skip
def test_the_api_says_what_is_wrong_in_one_shape(client, given, method, path, body, status):
    answer = client.request(method, f"/api/{path}", json=body)
    assert answer.status_code == status, answer.text
    assert answer.json()["error"]["message"]
