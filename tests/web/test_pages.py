"""The pages, as they work without scripts."""

import re
from html import unescape

import pytest

from linewright.services.bring import bring_in
from linewright.services.shelf import About, keep
from linewright.store import Query
from samples import BARE


def labelled(html):
    """Every form control has a label, a name from ARIA, or needs none."""
    controls = re.findall(r"<(?:input|select|textarea)\b[^>]*>", html)
    for control in controls:
        if 'type="hidden"' in control:
            continue
        name = re.search(r'id="([^"]+)"', control)
        assert name, control
        assert f'for="{name[1]}"' in html, control
    return True


def test_an_empty_library_says_where_to_begin(client):
    page = client.get("/")
    assert page.status_code == 200
    assert "Nothing is kept here yet" in page.text


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/new",
        "/new/tab-guide",
        "/library",
        "/licks/1",
        "/licks/1?labels=chords",
        "/licks/1/edit",
        "/licks/1/lines",
        "/licks/1/move",
        "/licks/1/move?key=C&quality=minor",
        "/licks/1/lines?over=12-bar+blues&seed=2&hold=1&from=seed%3D1",
        "/licks/1/lines?bars=many",
        "/compare",
        "/compare?a=1",
        "/compare?a=1&b=1",
        "/api/docs",
    ],
)
def test_every_page_has_landmarks_labels_and_one_heading(client, porch, path):
    page = client.get(path)
    assert page.status_code == (400 if "many" in path else 200)
    html = page.text
    assert '<html lang="en">' in html
    assert html.count("<h1") == 1
    for landmark in ("<main", "<nav", "<header", "<footer", 'class="skip"'):
        assert landmark in html
    assert labelled(html)
    assert not re.search(r"<script(?![^>]*\bsrc=\"/static/)", html)
    assert not re.search(r"<style|\sstyle=|\son\w+=", html)
    assert not re.search(r"(?:src|href)=\"(?:https?:)?//", html)


def test_the_lick_page_reads_as_a_lesson(client, porch):
    html = client.get("/licks/1").text
    order = [
        html.index(text)
        for text in (
            "<h1>Porch step</h1>", "data-score", "What it is made of", "Why not its neighbours",
            "more readings that were weighed", '<h2 id="motion">', "What recurs", '<h2 id="degrees">',
            ">Outside notes<", '<h2 id="neck">', '<h2 id="rhythm">', '<h2 id="chords">',
            '<h2 id="hand">', '<h2 id="make-lines">', "Hand out",
        )
    ]  # fmt: skip
    assert order == sorted(order)
    assert "G minor pentatonic + ♭5 (blues)" in html
    assert "bar 2" in html
    assert "string 2, fret 2" in html


def test_search_and_filters_work_by_address_alone(client, library, porch):
    keep(library, bring_in(b"X:1\nT:Gate\nM:3/4\nL:1/4\nK:Em\nEGA|BAG|"), About(style="waltz"))
    assert "Gate" not in client.get("/?q=porch").text
    page = client.get("/?style=waltz").text
    assert "Gate" in page
    assert "Porch step" not in page
    assert "1 of 2 licks" in page
    assert '<option value="waltz" selected>waltz (1)' in page
    assert "No lick fits all of that." in client.get("/?q=porch&style=waltz").text
    assert client.get("/?sort=sideways").status_code == 400


def test_a_long_list_has_pages(client, library):
    brought = bring_in(b"X:1\nT:Gate\nM:3/4\nL:1/4\nK:Em\nEGA|BAG|")
    for number in range(65):
        keep(library, brought, About(title=f"Lick {number:02}"))
    first = client.get("/?sort=title").text
    assert "Lick 59" in first
    assert "Lick 60" not in first
    later = re.search(r'href="([^"]+)" rel="next"', first)[1].replace("&amp;", "&")
    assert "Lick 64" in client.get("/" + later).text


def test_typing_keeping_and_the_page_after(client, library, porch_text):
    shown = client.post("/new/text", data={"text": porch_text, "do": "show"})
    assert shown.status_code == 200
    assert "data-note=" in shown.text
    assert library.search(Query()).total == 0
    kept = client.post(
        "/new/text", data={"text": porch_text, "do": "keep", "tags": "a, b"}, follow_redirects=False
    )
    assert kept.headers["location"] == "/licks/1"
    assert library.get(1).entry.tags == ("a", "b")


def test_a_typing_error_is_shown_at_its_place_and_nothing_is_kept(client, library, porch_text):
    wrong = porch_text.replace("3h5", "3?5")
    page = client.post("/new/text", data={"text": wrong, "do": "keep"})
    assert page.status_code == 400
    line = 1 + porch_text[: porch_text.index("3h5")].count("\n")
    assert f"Line {line}, column 7" in page.text
    assert f'data-line="{line}" data-column="7"' in page.text
    assert "3?5" in page.text  # what was typed is still there
    assert library.search(Query()).total == 0


def test_a_file_is_shown_before_it_is_kept(client, library, porch_text):
    review = client.post("/new/file", files={"file": ("porch.tab", porch_text.encode())})
    assert review.status_code == 200
    assert "It is not kept yet" in review.text
    assert labelled(review.text)
    carried = re.search(r'name="carried" value="([^"]+)"', review.text)[1]
    data = {"carried": carried, "filename": "porch.tab", "title": "Gate", "do": "keep"}
    assert client.post("/new/file", data=data, follow_redirects=False).status_code == 303
    assert library.get(1).lick.title == "Gate"


def test_an_error_in_a_file_does_not_mark_the_typed_text(client):
    page = client.post("/new/file", files={"file": ("x.xml", b"<?xml version='1.0'?><a>")})
    assert page.status_code == 400
    assert page.text.index('class="problem"') < page.text.index("Type or paste it")
    assert "data-line" not in page.text


def test_only_some_bars_can_be_kept(client, library, porch_text):
    data = {"bars": "2-2", "do": "keep"}
    client.post("/new/file", data=data, files={"file": ("p.tab", porch_text.encode())})
    assert len(library.get(1).lick.bars) == 1
    bad = client.post(
        "/new/file", data={"bars": "all"}, files={"file": ("p.tab", porch_text.encode())}
    )
    assert bad.status_code == 400
    assert "Write it as 1-4" in bad.text


def test_a_file_can_be_laid_out_for_another_instrument(client, library):
    """Strings and frets are found on a mandolin (GDAE) and sound the tune's pitches."""
    tune = b"X:1\nT:Short\nM:4/4\nL:1/4\nK:G\nGABc|d4|\n"
    shown = client.post("/new/file", files={"file": ("t.abc", tune)})
    assert "leave empty for guitar" in shown.text
    data = {"instrument": "mandolin", "do": "keep"}
    client.post("/new/file", data=data, files={"file": ("t.abc", tune)})
    lick = library.get(1).lick
    assert lick.instrument.name == "mandolin"
    assert [lick.instrument.midi_at(n.string, n.fret) for n in lick.notes] == [67, 69, 71, 72, 74]
    bad = client.post("/new/file", data={"instrument": "kazoo"}, files={"file": ("t.abc", tune)})
    assert bad.status_code == 400
    assert "kazoo" in bad.text


def test_a_choice_of_voice_is_offered_and_taken(client, library):
    text = b"X:1\nT:Two\nM:4/4\nL:1/4\nK:C\nV:1\ncdef|\nV:2\nCDEF|\n"
    page = client.post("/new/file", files={"file": ("two.abc", text)})
    assert page.status_code == 409
    assert "The tune has 2 voices" in page.text
    options = re.findall(r'type="radio"[^>]*name="voice" value="([^"]+)"', page.text)
    assert len(options) == 2
    carried = re.search(r'name="carried" value="([^"]+)"', page.text)[1]
    data = {"carried": carried, "filename": "two.abc", "voice": options[1], "do": "keep"}
    client.post("/new/file", data=data)
    assert [str(n.pitch) for n in library.get(1).lick.notes] == ["C4", "D4", "E4", "F4"]


def test_a_tune_book_is_listed_chosen_from_and_reported(client, library):
    book = b"X:1\nT:One\nK:C\nCDEF|\n\nX:2\nT:Bad\nK:wrong key\nC|\n\nX:3\nT:Three\nK:D\nDEFA|\n"
    page = client.post("/new/file", files={"file": ("book.abc", book)})
    assert page.status_code == 200
    assert re.findall(r'name="number" value="(\d)"', page.text) == ["1", "2", "3"]
    assert labelled(page.text)
    carried = re.search(r'name="carried" value="([^"]+)"', page.text)[1]
    base = {"carried": carried, "filename": "book.abc"}
    assert client.post("/new/book", data=base).status_code == 400
    done = client.post("/new/book", data={**base, "number": ["2", "3"], "tags": "book"})
    assert done.status_code == 200
    assert "1 tune from book.abc is in the library now. 1 could not be read." in done.text
    assert "2. Bad" in done.text
    assert [e.title for e in library.search(Query(tag="book")).entries] == ["Three"]
    more = client.post("/new/book", data={**base, "all": "1"})
    assert "1 was kept already." in more.text
    assert library.search(Query()).total == 2
    assert re.findall(r'name="number" value="(\d)"', more.text) == ["3"]
    client.post("/new/book", data={**base, "number": "3", "again": "1"})
    assert library.search(Query()).total == 3


def test_deleting_offers_a_way_back(client, library, porch):
    page = client.post("/licks/1/delete")
    assert "Deleted “Porch step”" in page.text
    assert 'action="/licks/1/restore"' in page.text
    assert "This lick is deleted" in client.get("/licks/1").text
    back = client.post("/licks/1/restore")
    assert back.url.path == "/licks/1"
    assert library.search(Query()).total == 1


def test_a_change_offers_undo(client, library, porch):
    page = client.post("/licks/1/about", data={"title": "Gate", "tags": "x"})
    assert "Renamed from Porch step." in page.text
    assert 'action="/licks/1/undo"' in page.text
    client.post("/licks/1/undo")
    assert library.get(1).lick == porch.lick
    assert client.post("/licks/1/undo").status_code == 404


def test_a_refused_change_keeps_what_was_typed(client, library, porch, porch_text):
    page = client.post("/licks/1/about", data={"title": "  ", "style": "mine"})
    assert page.status_code == 400
    assert "A lick needs a title" in page.text
    assert 'value="mine"' in page.text
    page = client.post("/licks/1/notes", data={"text": porch_text.replace("3h5", "3?5")})
    assert page.status_code == 400
    assert "3?5" in page.text
    assert library.get(1) == porch


@pytest.mark.parametrize(("paper", "points"), [("a4", b"595"), ("letter", b"612")])
def test_handouts_come_as_files(client, porch, paper, points):
    answer = client.get(f"/licks/1/handout?paper={paper}")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.headers["content-disposition"] == f'attachment; filename="porch-step-{paper}.pdf"'
    assert answer.content.startswith(b"%PDF-")
    assert client.get("/licks/1/handout?paper=a3").status_code == 400


def test_everything_out_and_in(client, library, porch):
    data = client.get("/library/export.zip").content
    page = client.post("/library/import", files={"file": ("all.zip", data)})
    assert "1 lick read: 0 added, 0 brought up to date, 1 already here." in page.text
    bad = client.post("/library/import", files={"file": ("all.zip", b"no zip")})
    assert bad.status_code == 400
    assert "not an intact zip" in bad.text


@pytest.mark.parametrize("path", ["/nowhere", "/licks/9", "/licks/9/edit", "/licks/abc"])
def test_what_is_not_there_is_said_on_a_page(client, path):
    answer = client.get(path)
    assert answer.status_code == 404
    assert "integer" not in answer.text
    assert "<h1>That did not work</h1>" in answer.text


NASTY = "<script>alert(1)</script>\"'&<img src=x onerror=alert(1)>"


def test_whatever_a_lick_is_called_it_stays_text(client, library):
    abc = f"X:1\nT:{NASTY}\nM:4/4\nL:1/4\nK:C\nCDEF|".encode()
    about = About(style=NASTY, source=NASTY, tags=(NASTY,))
    keep(library, bring_in(abc), about)
    client.post("/licks/1/about", data={"title": NASTY + "2"})
    paths = ("/", "/licks/1", "/licks/1?changed=1", "/licks/1/edit", "/library", "/?q=" + NASTY)
    for path in paths:
        html = client.get(path).text
        assert "<script>" not in html
        assert "<img" not in html
    html = client.post("/licks/1/delete").text
    assert "<script>" not in html
    assert "<img" not in html


def test_the_row_under_the_staff_changes_by_a_link(client, porch):
    plain = client.get("/licks/1").text
    assert plain.count('href="?labels=chords#score"') == 2
    assert 'id="score"' in plain
    chords = client.get("/licks/1?labels=chords").text
    assert 'data-labels="chords" aria-current="true"' in chords
    # Common practice: Db over C7 is its flat nine.
    score = re.search(r"data-score>.*?<p class=\"row-switch", chords, re.DOTALL)[0]
    assert "♭9" in re.sub(r"<[^>]+>", "", score)
    assert client.get("/licks/1?labels=sideways").status_code == 400


def test_a_lick_without_chords_has_no_such_row(client, library):
    keep(library, bring_in(b"X:1\nT:Gate\nM:3/4\nL:1/4\nK:Em\nEGA|BAG|E3|"))
    html = client.get("/licks/1").text
    assert "data-labels" not in html
    assert 'href="#chords"' not in html


def test_the_contents_lead_to_sections_that_are_there(client, porch):
    html = client.get("/licks/1").text
    contents = re.search(r'<nav class="contents".*?</nav>', html, re.DOTALL)[0]
    targets = re.findall(r'href="#([^"]+)"', contents)
    assert len(targets) >= 6
    for target in targets:
        assert html.count(f'id="{target}"') == 1
    ids = re.findall(r'\sid="([^"]+)"', html)
    assert len(ids) == len(set(ids))


def test_two_licks_are_chosen_and_compared(client, library, porch):
    keep(library, bring_in(b"X:1\nT:Lamp waltz\nM:3/4\nL:1/4\nK:Em\nEGA|BAG|E3|"))
    assert 'href="/compare?a=1"' in client.get("/licks/1").text
    first = client.get("/compare").text
    assert 'href="?a=1"' in first
    assert 'href="?a=2"' in first
    second = client.get("/compare?a=1").text
    assert "Compare “Porch step”" in second
    assert 'href="?a=1&amp;b=2"' in second
    assert "b=1" not in second
    assert "No other lick fits that." in client.get("/compare?a=1&q=nothing").text
    html = client.get("/compare?a=1&b=2").text
    both = client.get("/api/compare?a=1&b=2").json()
    for point in (*both["shared"], *both["different"]):
        assert point["sentence"].split(" ")[-1] in html
    assert "Porch step is in 4/4, Lamp waltz in 3/4." in html
    ids = re.findall(r'\sid="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    assert client.get("/compare?a=1&b=9").status_code == 404
    assert client.get("/compare?a=x").status_code == 422


def test_the_tab_guide_names_every_header_and_its_example_is_read(client):
    from linewright.formats.tab.layout import HEADERS as READ
    from linewright.web.pages_guide import EXAMPLE, HEADERS, SIGNS

    html = client.get("/new/tab-guide").text
    assert 'href="/new/tab-guide"' in client.get("/new").text
    assert {READ[name.lower()] for name, _, _ in HEADERS} == set(READ.values())
    assert all(f"<dt>{name}</dt>" in html for name, _, _ in HEADERS)
    lick = bring_in(EXAMPLE.encode()).lick
    assert (lick.title, len(lick.notes)) == ("Walk-up to C", 14)  # frets counted by hand
    for sign, _ in SIGNS:
        tab = f"G|-3---{sign}---3---|\nD|{'-' * (len(sign) + 13)}|\nA|{'-' * (len(sign) + 13)}|\n"
        text = (
            f"Instrument: guitar\ne|{'-' * (len(sign) + 13)}|\nB|{'-' * (len(sign) + 13)}|\n{tab}"
        )
        assert bring_in(f"{text}E|{'-' * (len(sign) + 13)}|\n".encode()).lick.notes, sign


def test_a_file_is_taken_to_sound_an_octave_lower(client, library):
    tune = b"X:1\nT:Gate\nM:4/4\nL:1/8\nK:G\nGABd edBA|G8|\n"
    files = {"file": ("gate.abc", tune)}
    html = client.post("/new/file", files=files, data={"octave": "guitar"}).text
    assert "an octave lower than written" in html
    assert re.search(r'<option value="guitar" selected', html)
    client.post("/new/file", files=files, data={"octave": "guitar", "do": "keep"})
    assert library.get(1).lick.notes[0].pitch.name == "G3"
    wrong = client.post("/new/file", files=files, data={"octave": "two"})
    assert wrong.status_code == 400


def test_a_file_that_cannot_be_read_is_named(client):
    page = client.post("/new/file", files={"file": ("broken<1>.mid", b"MThd")})
    assert page.status_code == 400
    assert "broken&lt;1&gt;.mid: The MIDI file breaks off in the middle" in page.text


def test_two_wrong_fields_are_both_told_each_once(client):
    wrong = {"text": "e|--99999--|\n", "tonic": "H", "do": "keep"}
    html = client.post("/new/text", data=wrong).text
    assert html.count('role="alert"') == 2
    assert html.count("has 1 string line") == 1
    assert unescape(html).count("'H' is not a note name") == 1
    alone = unescape(client.post("/new/text", data={**wrong, "text": BARE}).text)
    assert alone.count("'H' is not a note name") == 1
    assert alone.count('role="alert"') == 1
    # To look comes before to keep, for the eye and for the Enter key.
    assert html.index('value="show"') < html.index('value="keep"')


def test_what_has_no_frame_is_said_with_a_capital(client):
    text = "X:1\nT:Two\nM:4/4\nL:1/4\nK:D\nAFA2|\n"
    shown = client.post("/new/text", data={"text": text, "do": "show"})
    client.post("/new/text", data={"text": text, "do": "keep"})
    for page in (shown, client.get("/")):
        assert ">No plain scale or arpeggio<" in page.text
        assert ">no plain scale" not in page.text
    assert ">no plain scale" not in client.get("/licks/1").text
    assert client.post("/api/preview", json={"text": text}).json()["frame"][0] == "N"
