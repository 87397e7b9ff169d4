"""Making lines by address alone, and by the JSON API."""

import re
from fractions import Fraction
from html import unescape

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from linewright.services.bring import bring_in
from linewright.services.shelf import keep
from linewright.store import Query
from samples import PORCH

PAGE = "/licks/1/lines"
#: A falling third on each step of the scale: a sequence.
FIGURED = 'X:1\nT:Rungs\nM:4/4\nL:1/8\nK:C\n"C"ecdB cABG|AFGE FDEC|"G"DFEG FAGB|"C"c8|\n'


def value_of(html, name):
    return unescape(re.search(rf'name="{re.escape(name)}" value="([^"]*)"', html)[1])


def test_the_page_shows_line_sliders_reasons_and_files(client, porch):
    html = client.get(f"{PAGE}?over=12-bar+blues").text
    assert len(re.findall(r'<svg[^>]* class="[^"]*engraving', html)) == 2
    assert html.count('type="range" id="m-') == 2
    assert re.search(r"Asked \d+ %, got <b>\d+ %</b>", html)
    assert len(re.findall(r'type="checkbox" id="hold-', html)) == 12
    assert "Bar 12" in html
    assert re.search(r"<title>[^<]*bar 1, beat 1[^<]*\. (?:Frame|Figure|Outside)", html)
    for name in ("tab", "abc", "musicxml", "midi", "json", "mei"):
        address = unescape(re.search(rf'href="([^"]*/file/{name}\?[^"]*)"', html)[1])
        assert client.get(address).status_code == 200
    assert '<option value="ii-V-I">' in html


def test_a_slider_without_room_stands_at_nothing_and_says_so(client, porch):
    plain = client.get(f"{PAGE}?over=1+4+5").text
    sliders = dict(re.findall(r'<input type="range" id="(m-\d+)" name="(m\.[^"]+)"', plain))
    name = "m.b5"
    (place,) = (number for number, told in sliders.items() if told == name)
    own = re.search(rf'name="{name}"[^>]* value="(\d+)"', plain)[1]
    assert int(own) > 0
    tight = client.get(f"{PAGE}?grid=quarters&{name}={own}")  # as the form sends what was not moved
    assert tight.status_code == 200
    slider = re.search(rf'<input[^>]*id="{place}"[^>]*>', tight.text)[0]
    assert 'value="0"' in slider
    assert "disabled" in slider
    assert f"leave no room for it, so it stands at 0 %. The lick has {own} %" in tight.text
    assert "disabled" not in re.search(rf'<input[^>]*id="{place}"[^>]*>', plain)[0]


def test_the_same_address_is_the_same_line(client, porch):
    first, second = (client.get(f"{PAGE}/file/tab?bars=4&seed={seed}").text for seed in (3, 4))
    assert first == client.get(f"{PAGE}/file/tab?bars=4&seed=3").text
    assert first != second


def test_wishes_no_line_can_meet_are_answered_beside_the_form(client, porch):
    answer = client.get(f"{PAGE}?over=1+4+5&m.b5=97&lick_in=2-3&seed=8&hold=2&from=seed%3D1")
    assert answer.status_code == 400
    html = answer.text
    assert "b5 can have at most" in html
    assert 'role="alert"' in html
    assert value_of(html, "over") == "1 4 5"
    assert value_of(html, "lick_in") == "2-3"
    assert value_of(html, "seed") == "8"
    assert value_of(html, "from") == "seed=1"
    assert value_of(html, "hold") == "2"
    assert re.search(r'name="m.b5"[^>]* value="97"', html)


def test_another_simpler_and_harder_are_addresses_of_their_own(client, porch):
    def after(do):
        return client.get(f"{PAGE}?seed=4&bars=4&do={do}", follow_redirects=False)

    assert after("another").headers["location"] == f"{PAGE}?bars=4&seed=5"
    assert "leap=5" in after("simpler").headers["location"]
    assert "leap=9" in after("harder").headers["location"]
    for do in ("another", "simpler", "harder"):
        assert after(do).status_code == 303
        page = client.get(
            f"{PAGE}?seed=4&bars=4&do={do}",
            headers={"referer": f"http://127.0.0.1:8765{PAGE}?seed=4"},
        )
        assert page.status_code == 200
        assert f'href="{PAGE}?seed=4" data-undo>Undo' in page.text


def test_more_like_this_is_an_address_with_the_line_s_own_shares_and_range(client, porch):
    answer = client.get(f"{PAGE}?seed=4&bars=4&do=like", follow_redirects=False)
    assert answer.status_code == 303
    assert re.search(r"seed=5.*low=[A-G].*high=[A-G].*m\.b5=", answer.headers["location"])
    assert client.get(answer.headers["location"]).status_code == 200


def test_strict_growth_swing_and_range_stand_in_the_form(client, porch):
    query = "bars=8&m.b5=10&strict=yes&swing=yes&low=G3&high=D5&intensity=40-160&grid=cells"
    html = client.get(f"{PAGE}?{query}").text
    assert "<strong>" not in html
    assert re.search(r'name="strict" value="yes" checked', html)
    for name, value in (("swing", "yes"), ("intensity", "40-160"), ("grid", "cells")):
        assert re.search(rf'name="{name}">.*?<option value="{value}" selected', html)
    assert value_of(html, "low") == "G3"
    assert value_of(html, "high") == "D5"
    assert "strict=yes" in unescape(re.search(r'href="([^"]*/file/json\?[^"]*)"', html)[1])


def test_figures_are_bracketed_where_a_line_plays_them(client, library):
    figured = keep(library, bring_in(FIGURED.encode()))
    page = f"/licks/{figured.id}/lines?bars=8&m.f1=50&m.f2=0&size=wide"
    html = client.get(page).text
    body = client.get(f"/api/licks/{figured.id}/line?bars=8&mix=f1%3D0.5&mix=f2%3D0").json()
    played = {note["index"] for note in body["notes"] if note["figure"] == "f1"}
    assert played
    brackets = re.findall(r'data-figure="1" data-notes="([\d ]+)"', html)
    assert {int(i) for row in brackets for i in row.split()} == played


def test_there_is_nothing_to_undo_at_first(client, porch):
    for referer in ("", "http://127.0.0.1:8765/licks/1", f"http://elsewhere.example{PAGE}?seed=3"):
        html = client.get(PAGE, headers={"referer": referer}).text
        assert re.search(r"data-undo hidden", html)


def test_held_bars_stay_by_address(client, porch):
    html = client.get(f"{PAGE}?bars=4&seed=1").text
    told = value_of(html, "from")
    params = {"bars": "4", "seed": "2", "hold": ["1", "3"], "from": told}
    page = client.get(PAGE, params=params).text
    assert [int(n) for n in re.findall(r'id="hold-(\d+)"[^>]* checked', page)] == [1, 3]
    address = unescape(re.search(r'href="([^"]*/file/json\?[^"]*)"', page)[1])
    first = client.get(f"{PAGE}/file/json?bars=4&seed=1").json()["notes"]
    second = client.get(address).json()["notes"]
    assert first[0] == second[0]
    assert first != second


def test_a_line_is_kept(client, porch, library):
    html = client.get(f"{PAGE}?over=12-bar+blues&seed=6").text
    form = {"wishes": value_of(html, "wishes"), "title": "Gate line"}
    answer = client.post(f"{PAGE}/keep", data=form, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/licks/2")
    kept = library.get(2)
    assert kept.lick.title == "Gate line"
    assert len(kept.lick.bars) == 12
    assert library.search(Query(tag="line")).total == 1


def test_the_lick_page_leads_to_its_lines(client, porch):
    html = client.get("/licks/1").text
    assert 'action="/licks/1/lines"' in html
    text = "X:1\nT:Steps\nM:4/4\nL:1/8\nK:C\nC^CD^DE F^FG|^GA^ABc2z2|"
    client.post("/api/licks", json={"text": text})
    assert "No line can be made" in client.get("/licks/2").text
    answer = client.get("/licks/2/lines")
    assert answer.status_code == 400
    assert "no plain scale" in answer.text
    text = "X:1\nT:Six notes\nM:4/4\nL:1/8\nK:C\nCDEF GAGE|FDEC DFEC|"  # major or mixolydian
    client.post("/api/licks", json={"text": text})
    page = client.get("/licks/3").text
    assert 'action="/licks/3/lines"' in page
    assert "lines keep to the notes heard" in page
    assert client.get("/licks/3/lines").status_code == 200


@pytest.mark.parametrize(
    "query",
    [
        "bars=0", "bars=129", "bars=many", "bars=1e3", "leap=0", "leap=99", "seed=-1",
        "seed=" + "9" * 30, "grid=waves", "follow=moon", "over=%00", "over=" + "G" * 3000,
        "over=" + "1|" * 1100, "m.b5=101", "m.b5=nan", "m.nothing=5", "lick_in=3-1", "lick_in=x",
        "lick_in=1-9", "start=zz", "landing=%F0%9F%8E%B8", "tempo=nan", "tempo=1", "quote=1",
        "hold=1", "hold=x&from=seed%3D1", "hold=999", "hold=1&from=bars%3Dx", "x=" + "y" * 50_000,
        "strict=maybe", "swing=2", "intensity=x", "intensity=0-0", "intensity=5-2000", "low=Z9",
        "high=high", "low=C6&high=C3", "low=F%234&high=F%234",
        "hold=1&from=" + "seed%3D1!" * 40, "start=%3Cscript%3E",
    ],
)  # fmt: skip
def test_addresses_made_by_hand_are_answered_in_words(client, porch, query):
    for path in (PAGE, f"{PAGE}/file/tab"):
        answer = client.get(f"{path}?{query}")
        assert 400 <= answer.status_code < 500, (path, answer.status_code)
        assert 'role="alert"' in answer.text
        assert "<script>" not in answer.text
        assert "Traceback" not in answer.text
    answer = client.post(f"{PAGE}/keep", data={"wishes": query})
    assert 400 <= answer.status_code < 500


pieces = st.sampled_from(
    [
        "over",
        "bars",
        "leap",
        "grid",
        "seed",
        "m.b5",
        "m.f1",
        "hold",
        "from",
        "lick_in",
        "start",
        "do",
    ]
)


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(query=st.lists(st.tuples(pieces, st.text(max_size=12) | st.from_regex(r"\A[0-9]{1,2}\Z"))))
def test_any_address_is_answered(client, query):
    if client.get("/licks/1").status_code == 404:
        client.post("/api/licks", json={"text": PORCH})
    assert client.get(PAGE, params=query).status_code < 500


# -- the JSON API ------------------------------------------------------------------------
def test_a_line_is_a_lick_whose_notes_know_why(client, porch):
    query = "over=12-bar+blues&mix=b5%3D10%25&mix=f1%3D0.2&seed=3"
    body = client.get(f"/api/licks/1/line?{query}").json()
    assert body["bars"] == 12
    assert body["seed"] == 3
    assert body["progression"]["name"] == "12-bar blues"
    assert body["mix"]["asked"] == {"b5": 0.1, "f1": 0.2}
    assert set(body["mix"]["got"]) == {"b5", "f1"}
    assert all(note["role"] in ("frame", "figure", "outside") for note in body["notes"])
    assert all(note["why"] for note in body["notes"])
    asked = {"over": "12-bar blues", "mix": {"b5": 0.1, "f1": 0.2}, "seed": 3}
    assert client.post("/api/licks/1/line", json=asked).json() == body
    on_text = client.post("/api/line", json={"text": PORCH, **asked}).json()
    assert on_text["notes"] == body["notes"]


def test_a_stream_in_portions_is_the_stream(client, porch):
    base = "/api/licks/1/stream?over=12-bar+blues&mix=b5%3D10%25&seed=7"
    whole = client.get(f"{base}&from_bar=1&bars=8").json()
    assert whole["next_bar"] == 9
    notes, at = [], 0.0
    for first in (1, 3, 5, 7):
        part = client.get(f"{base}&from_bar={first}&bars=2").json()
        notes += [
            (
                at + float(Fraction(n["onset"])),
                n["midi"],
                n["string"],
                n["fret"],
                n["bar"],
                n["why"],
            )
            for n in part["notes"]
        ]
        at += float(Fraction(part["length"]))
    assert notes == [
        (float(Fraction(n["onset"])), n["midi"], n["string"], n["fret"], n["bar"], n["why"])
        for n in whole["notes"]
    ]
    for wrong in ("from_bar=0", "from_bar=99999", "bars=0", "bars=999", "mix=b5%3D99%25", "x=1"):
        answer = client.get(f"/api/licks/1/stream?{wrong}")
        assert answer.status_code in (400, 422)
        assert answer.json()["error"]["accepted"]


def test_the_api_takes_range_strictness_swing_and_growth(client, porch):
    asked = {
        "bars": 8, "mix": {"b5": 0.1}, "strict": True, "swing": True, "low": "G3", "high": "D5",
        "intensity": [0.2, 1.8],
    }  # fmt: skip
    body = client.post("/api/licks/1/line", json=asked).json()
    assert abs(body["mix"]["got"]["b5"] - 0.1) < 0.02
    assert body["swing"] == "2"
    assert all(55 <= note["midi"] <= 74 for note in body["notes"])
    late = sum(n["outside"] for n in body["notes"] if n["bar"] > 4)
    assert late > sum(n["outside"] for n in body["notes"] if n["bar"] <= 4)
    query = "bars=8&mix=b5%3D10%25&strict=true&swing=true&low=G3&high=D5&intensity=20-180"
    assert client.get(f"/api/licks/1/line?{query}").json() == body


def test_bars_are_held_by_the_wishes_of_the_lines_before(client, porch):
    first = client.post("/api/licks/1/line", json={"bars": 4, "seed": 1}).json()["notes"]
    asked = {"bars": 4, "seed": 2, "hold": [1, 3], "before": [{"bars": 4, "seed": 1}]}
    second = client.post("/api/licks/1/line", json=asked).json()["notes"]
    keys = ("onset", "duration", "midi", "string", "fret", "role", "why")

    def held(notes):
        return [tuple(n[key] for key in keys) for n in notes if n["bar"] in (1, 3)]

    assert held(first) == held(second)
    assert all(n["pinned"] for n in second if n["bar"] in (1, 3))
    assert [n["midi"] for n in first] != [n["midi"] for n in second]


@pytest.mark.parametrize(
    ("asked", "status", "words"),
    [
        ({"mix": {"b5": 0.95}}, 400, "b5 can have at most"),
        ({"mix": {"q9": 0.1}}, 400, "does not teach"),
        ({"over": "Xyz"}, 400, "no chord"),
        ({"grid": "waves"}, 400, "no grid"),
        ({"lick_in": [4, 2]}, 400, "no span|not a span"),
        ({"hold": [1]}, 400, "no line before"),
        ({"hold": [8], "bars": 8, "before": [{"bars": 2}]}, 400, "no bar 8"),
        ({"landing": "G4", "start": "x"}, 400, "neither a degree"),
        ({"bars": 0}, 422, "bars"),
        ({"bars": 5000}, 422, "bars"),
        ({"mix": {"b5": 2}}, 422, "mix"),
        ({"colour": "red"}, 422, "colour"),
        ({"seed": "x"}, 422, "seed"),
        ({"before": [{}] * 24}, 422, "before"),
    ],
)
def test_the_api_says_what_is_wrong_in_one_shape(client, porch, asked, status, words):
    for path, body in (("/api/licks/1/line", asked), ("/api/line", {"text": PORCH, **asked})):
        answer = client.post(path, json=body)
        assert answer.status_code == status, answer.text
        error = answer.json()["error"]
        assert set(error) == {
            "message", "file", "where", "accepted", "line", "column", "options", "kind",
        }  # fmt: skip
        assert re.search(words, error["message"]), error["message"]
        assert error["accepted"]


def test_there_is_no_line_on_what_is_not_there(client):
    assert client.get("/api/licks/9/line").status_code == 404
    assert client.get("/licks/9/lines").status_code == 404
    assert client.post("/licks/9/lines/keep", data={"wishes": ""}).status_code == 404
