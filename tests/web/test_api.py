"""The JSON API: what it does, one shape of error, and its documentation."""

import re
from importlib import resources

import pytest

from linewright.store import Query

SHAPE = {"message", "file", "where", "accepted", "line", "column", "options", "kind"}


def error_of(answer, status):
    assert answer.status_code == status, answer.text
    body = answer.json()
    assert set(body) == {"error"}
    assert set(body["error"]) == SHAPE
    return body["error"]


def test_a_lick_through_its_whole_life(client, library, porch_text):
    made = client.post("/api/licks", json={"text": porch_text, "tags": ["one"]})
    assert made.status_code == 201
    lick = made.json()
    assert (lick["frame"], lick["tonic"], lick["outside"]) == ("minor pentatonic", "G", ["b5"])
    assert lick["lick"]["title"] == "Porch step"
    changed = client.patch("/api/licks/1", json={"title": "Gate", "style": ""}).json()
    assert (changed["title"], changed["style"], changed["tags"]) == ("Gate", None, ["one"])
    assert client.post("/api/licks/1/undo").json()["title"] == "Porch step"
    assert client.delete("/api/licks/1").json()["deleted"] is not None
    assert client.get("/api/licks").json()["total"] == 0
    assert client.post("/api/licks/1/restore").json()["deleted"] is None
    found = client.get("/api/licks", params={"outside": "b5"}).json()
    assert (found["total"], found["licks"][0]["id"]) == (1, 1)
    assert found["facets"]["style"] == [["blues", 1]]


def test_analysis_has_what_is_promised(client, porch, porch_text):
    for answer in (
        client.get("/api/licks/1/analysis"),
        client.post("/api/analyze", json={"text": porch_text}),
    ):
        body = answer.json()
        assert body["tonic"] == "G"
        assert set(body["frame"]) >= {"tonic", "name", "degrees"}
        assert {"verdict", "reason", "heard", "unheard", "outside", "score"} <= set(
            body["readings"][0]
        )
        assert body["lick"]["meter"] == "4/4"
    given = client.post("/api/analyze", json={"text": porch_text, "tonic": "C"}).json()
    assert given["tonic"] == "C"


def test_a_preview_is_engraved_and_kept_nowhere(client, library, porch_text):
    body = client.post("/api/preview", json={"text": porch_text}).json()
    assert body["frame"] == "G minor pentatonic + ♭5 (blues)"
    for name in ("svg", "svg_narrow", "neck"):
        assert body[name].startswith("<svg")
    assert body["problem"] is None
    assert library.search(Query()).total == 0


def test_files_go_in_and_out(client, library, porch_text):
    done = client.post("/api/files", files={"file": ("p.tab", porch_text.encode())})
    assert done.json() == {"kept": [1], "already": [], "failures": []}
    assert client.get("/api/licks/1/score.svg").text.startswith("<svg")
    for name in ("tab", "abc", "musicxml", "mxl", "midi", "json", "mei"):
        answer = client.get(f"/api/licks/1/files/{name}")
        assert answer.status_code == 200
        assert answer.content
    assert client.get("/api/licks/1/handout").content.startswith(b"%PDF-")
    data = client.get("/api/library/export").content
    client.delete("/api/licks/1")
    body = client.post("/api/library/import", files={"file": ("x.zip", data)}).json()
    assert body == {
        "added": [], "updated": [], "unchanged": [1], "plans": [], "takes": 0, "silent": 0,
    }  # fmt: skip
    assert library.search(Query()).total == 1


def test_errors_have_one_shape_and_the_same_words(client, porch, porch_text):
    wrong = porch_text.replace("3h5", "3?5")
    error = error_of(client.post("/api/preview", json={"text": wrong}), 400)
    line = 1 + porch_text[: porch_text.index("3h5")].count("\n")
    assert (error["line"], error["column"]) == (line, 7)
    assert error["where"] == f"line {line}, column 7"
    assert error_of(client.get("/api/licks/99"), 404)["message"].startswith("there is no lick 99")
    assert error_of(client.get("/api/nowhere"), 404)["message"]
    assert error_of(client.put("/api/licks"), 405)["message"]
    assert error_of(client.get("/api/licks?sort=odd"), 400)["accepted"].startswith("Use one of")
    assert error_of(client.get("/api/licks/1/files/doc"), 400)["accepted"]
    assert error_of(client.get("/api/licks/1/handout?paper=a3"), 400)["accepted"]
    assert error_of(client.post("/api/licks/1/undo"), 404)["message"]
    assert error_of(client.post("/api/files", files={"file": ("x", b"\0\1")}), 400)["accepted"]
    assert error_of(client.post("/api/files", data={"a": "b"}), 400)["accepted"]
    assert error_of(client.post("/api/library/import", files={"file": ("x", b"zip")}), 400)


def test_choices_are_listed_in_the_error(client):
    text = "X:1\nT:Two\nM:4/4\nL:1/4\nK:C\nV:1\ncdef|\nV:2\nCDEF|\n"
    assert len(error_of(client.post("/api/preview", json={"text": text}), 409)["options"]) == 2


@pytest.mark.parametrize(
    ("method", "path", "json"),
    [
        ("post", "/api/licks", {}),
        ("post", "/api/licks", {"text": 5}),
        ("post", "/api/licks", {"text": "x", "colour": "red"}),
        ("patch", "/api/licks/1", {"tags": ["x"] * 41}),
        ("patch", "/api/licks/1", {"title": "x" * 201}),
        ("get", "/api/licks?offset=minus", None),
        ("get", "/api/licks/one", None),
    ],
)
def test_fields_are_checked(client, porch, method, path, json):
    answer = client.request(method, path, json=json)
    error = error_of(answer, 422)
    assert error["message"]


def test_a_body_that_is_no_json_is_refused(client):
    for body in (b"{", b"\xff", b"[" * 100_000):
        answer = client.post(
            "/api/preview", content=body, headers={"content-type": "application/json"}
        )
        assert 400 <= answer.status_code < 500
        assert set(answer.json()["error"]) == SHAPE
    form = client.post("/api/preview", data={"text": "x"})  # what a form of another site can send
    assert form.status_code == 422


def test_an_error_of_our_own_is_a_500_without_a_traceback(client, porch, monkeypatch, caplog):
    monkeypatch.setattr("linewright.web.api.made_of", lambda *_: 1 / 0)
    error = error_of(client.get("/api/licks/1/analysis"), 500)
    assert "nothing was changed" in error["message"]
    assert "ZeroDivisionError" not in str(error)
    assert "ZeroDivisionError" in caplog.text


def test_every_endpoint_is_documented(client):
    schema = client.get("/api/openapi.json").json()
    page = client.get("/api/docs").text
    count = 0
    for path, methods in schema["paths"].items():
        assert path.startswith("/api/")
        for operation in methods.values():
            assert operation["summary"]
            assert operation["description"]
            assert operation["tags"]
            assert "4XX" in operation["responses"]
            assert operation["summary"] in page
            count += 1
    assert count == page.count("<code><b>")
    names = [path.name for path in resources.files("linewright.web").iterdir()]
    written = "".join(source(n) for n in names if re.fullmatch(r"api(_\w+)?\.py", n))
    routes = set(re.findall(r'@router\.\w+\(\s*"([^"]+)"', written)) - {"/docs"}
    assert {f"/api{route}" for route in routes} == set(schema["paths"])


def source(name):
    return (resources.files("linewright.web") / name).read_text()


def test_two_licks_are_compared(client, porch):
    client.post("/api/licks", json={"text": "X:1\nT:Lamp\nM:3/4\nL:1/4\nK:Em\nEGA|BAG|E3|"})
    both = client.get("/api/compare", params={"a": 1, "b": 2}).json()
    assert (both["first"], both["second"]) == ("Porch step", "Lamp")
    assert {"topic": "rhythm", "sentence": "Porch step is in 4/4, Lamp in 3/4."} in both[
        "different"
    ]
    same = client.get("/api/compare", params={"a": 1, "b": 1}).json()
    assert same["different"] == []
    assert same["shared"]
    error_of(client.get("/api/compare", params={"a": 1, "b": 7}), 404)
    error_of(client.get("/api/compare", params={"a": 1}), 422)
