"""The pages in a real browser, at desktop and phone width: what scripts, keys and pointers do."""

import io
import re
import zipfile

import pytest
from browser_rig import CONTRAST, SMALL, at_desktop, at_phone, chromium, served

from linewright.services.bring import bring_in
from linewright.services.shelf import About, keep
from linewright.store import Query
from samples import PORCH

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(chromium() is None, reason="no chromium on this computer"),
]

BARE = """\
title: Gate latch
key: G

e|-----------------|-----------------|
B|-----------------|-----------------|
G|-----0-3-0-------|-----------------|
D|-3-5-------5-3-5-|-5---3---5-------|
A|-----------------|-----------------|
E|-----------------|-----------------|
"""


@pytest.fixture
def porch(library):
    return keep(library, bring_in(PORCH.encode()))


def score(page):
    """The score that shows at this width."""
    return page.locator("[data-score] svg.engraving:visible")


def test_a_typed_tab_without_rhythm_is_engraved_read_and_kept(page, library):
    page.goto("/")
    page.get_by_role("link", name="Bring in", exact=True).click()
    area = page.get_by_label("Text tab or ABC")
    area.fill(BARE)
    score(page).wait_for()
    assert score(page).locator("[data-note][role=img]").count() == 11
    assert "rhythm" in page.locator("[data-preview-remarks]").inner_text().lower()
    # A fret that does not exist is marked where it stands, while typing.
    area.fill(BARE.replace("0-3-0", "0-?-0"))
    state = page.locator("[data-state]")
    state.get_by_role("button", name="Go there").wait_for()
    assert "Line 6, column 10" in state.inner_text()
    assert page.locator("[data-marks] mark").inner_text() == "?"
    assert area.get_attribute("aria-invalid") is not None
    state.get_by_role("button", name="Go there").click()
    typed = area.evaluate("a => a.value.slice(a.selectionStart, a.selectionEnd)")
    assert typed == "?"
    page.keyboard.type("3")
    page.wait_for_function("!document.querySelector('[data-marks] mark')")
    page.get_by_text("Title, style, tags, tonic").click()
    page.get_by_label("Tags").fill("latch, week 2")
    page.get_by_role("button", name="Keep it").click()
    page.get_by_role("heading", level=1, name="Gate latch").wait_for()
    assert library.search(Query(tag="week 2")).total == 1


def test_pointing_at_a_reading_or_a_note_lights_it_in_score_and_neck(page, porch):
    page.goto(f"/licks/{porch.id}")
    notes = score(page).locator("[data-note]")
    total = len(porch.lick.notes)
    outside = page.locator(".outside-notes button").first
    outside.focus()
    lit = (
        "els => [...new Set(els.filter(e => e.classList.contains('lit')).map(e => e.dataset.note))]"
    )
    assert notes.evaluate_all(lit) == ["9"]  # the b5: the tenth note of the lick
    assert page.locator("[data-neck] .lit").count() == 1
    reading = page.locator(".reading.chosen button")
    reading.focus()
    assert len(notes.evaluate_all(lit)) == total - 1
    assert page.locator("[data-neck] .left").count() == 1
    page.keyboard.press("Escape")
    assert notes.evaluate_all(lit) == []
    degree = page.locator(".degrees button", has_text="♭3").first
    degree.hover()
    assert len(notes.evaluate_all(lit)) == 3
    # With the keyboard, from note to note in the score.
    first = score(page).locator("[data-note][role=img]").first
    first.focus()
    page.keyboard.press("ArrowRight")
    assert notes.evaluate_all(lit) == ["1"]
    assert "B♭3" in page.locator("[data-says]").inner_text()
    page.keyboard.press("End")
    assert notes.evaluate_all(lit) == [str(total - 1)]


LIT = "els => [...new Set(els.filter(e => e.classList.contains('lit')).map(e => e.dataset.note))]"


def test_a_figure_lights_its_notes_its_bracket_and_its_blocks(page, porch):
    page.goto(f"/licks/{porch.id}")
    figure = page.locator(".figures > li").first
    own = figure.get_attribute("data-notes").split(" ")
    figure.locator("button").focus()
    assert score(page).locator("[data-note]").evaluate_all(LIT) == own
    assert page.locator("[data-strip] svg:visible [data-note]").evaluate_all(LIT) == own
    lit = score(page).locator(".figure.lit")
    assert {lit.nth(i).get_attribute("data-figure") for i in range(lit.count())} == {"1"}
    # The bracket over the staff shows its own notes, and its sentence.
    page.keyboard.press("Escape")
    page.evaluate("scrollTo(0, 0); document.activeElement.blur()")
    bracket = score(page).locator(".figure").first
    bracket.locator("text").hover()
    its = bracket.get_attribute("data-notes").split(" ")
    assert score(page).locator("[data-note]").evaluate_all(LIT) == its
    assert "Figure 1" in page.locator("[data-says]").inner_text()
    assert "lit" in figure.get_attribute("class")


def test_the_score_comes_along_where_a_choice_is_made_further_down(page, porch):
    page.goto(f"/licks/{porch.id}")
    hardest = page.locator(".told button", has_text="The hardest spot")
    hardest.click()
    place = page.locator("[data-score-place]")
    assert "along" in place.get_attribute("class")
    panel, button = place.locator("[data-score]").bounding_box(), hardest.bounding_box()
    assert (
        panel["y"] >= button["y"] + button["height"] or panel["y"] + panel["height"] <= button["y"]
    )
    lit = score(page).locator("[data-note].lit").first.bounding_box()
    assert panel["y"] <= lit["y"] <= panel["y"] + panel["height"]
    page.keyboard.press("Escape")
    assert "along" not in place.get_attribute("class")
    # What has the focus is never hidden by it, whichever way the keyboard goes.
    page.evaluate("scrollTo(0, 0)")
    for _ in range(60):
        page.keyboard.press("Tab")
        hidden = page.evaluate(
            """() => {
              const panel = document.querySelector(".along [data-score]");
              const own = document.activeElement;
              if (!panel || panel.contains(own)) return false;
              const a = panel.getBoundingClientRect(), b = own.getBoundingClientRect();
              return b.top < a.bottom - 1 && b.bottom > a.top + 1;
            }"""
        )
        assert not hidden, page.evaluate("document.activeElement.outerHTML")


def test_the_row_under_the_staff_changes_in_place(page, porch):
    page.goto(f"/licks/{porch.id}")
    switch = page.locator(".row-switch").last
    before = score(page).text_content()
    switch.get_by_text("what each is to its chord").click()
    page.wait_for_url("**?labels=chords")
    page.locator('[data-labels="chords"][aria-current]').first.wait_for()
    after = score(page).text_content()
    assert before != after
    assert "♭9" in re.sub(r"\s", "", after)  # Db over C7: common practice
    # The arrow keys still move from note to note in the new drawing.
    score(page).locator("[data-note][role=img]").first.focus()
    page.keyboard.press("ArrowRight")
    assert score(page).locator("[data-note]").evaluate_all(LIT) == ["1"]
    page.reload()
    assert page.locator('[data-labels="chords"][aria-current]').count() == 2


def test_two_licks_are_compared(page, library, porch):
    from playwright.sync_api import expect

    abc = b"X:1\nT:Lamp waltz\nM:3/4\nL:1/4\nK:Em\nEGA|BAG|E3|"
    keep(library, bring_in(abc), About(style="waltz", tags=("slow",)))
    page.goto(f"/licks/{porch.id}")
    page.get_by_role("link", name="Compare with another lick").click()
    page.get_by_role("searchbox", name="Search").fill("waltz")
    page.keyboard.press("Enter")
    page.get_by_role("link", name="Lamp waltz").click()
    page.get_by_role("heading", name="Where they differ").wait_for()
    expect(score(page)).to_have_count(2)
    page.get_by_text("Porch step is in 4/4, Lamp waltz in 3/4.").wait_for()
    note = score(page).nth(1).locator("[data-note][role=img]").first
    note.focus()
    assert "E4" in page.locator("[data-says]").nth(1).inner_text()


def test_the_library_is_searched_and_narrowed(page, library, porch):
    abc = b"X:1\nT:Lamp waltz\nM:3/4\nL:1/4\nK:Em\nEGA|BAG|E3|"
    keep(library, bring_in(abc), About(style="waltz", tags=("slow",)))
    page.goto("/")
    page.get_by_role("searchbox", name="Search").fill("blues ♭5")
    page.keyboard.press("Enter")
    page.get_by_text("1 of 2 licks").wait_for()
    assert page.locator(".licks h2").all_inner_texts() == ["Porch step"]
    page.get_by_role("link", name="Show all").click()
    details = page.locator("details.narrow-down")
    if not details.evaluate("d => d.open"):
        page.get_by_text("Narrow down").click()
    page.get_by_label("Meter").select_option("3/4")
    page.get_by_text("1 of 2 licks").wait_for()
    assert page.locator(".licks h2").all_inner_texts() == ["Lamp waltz"]
    assert page.url.endswith("/?meter=3%2F4")


@at_phone
def test_a_rhythm_is_corrected_and_the_correction_undone(page, library, porch):
    page.goto(f"/licks/{porch.id}")
    page.get_by_role("link", name="Edit").click()
    area = page.get_by_label("The lick as a text tab")
    text = area.input_value()
    # The last note one eighth earlier: on beat 4 instead of the and of it.
    lines = text.split("\n")
    at = next(i for i, line in enumerate(lines) if line.startswith("D|"))
    assert lines[at].endswith("5-3---5-|")
    lines[at] = lines[at].replace("5-3---5-|", "5-3-5---|")
    area.fill("\n".join(lines))
    page.wait_for_timeout(500)
    page.get_by_role("button", name="Save the notes").click()
    page.get_by_text("Changed the rhythm.").wait_for()
    onset = library.get(porch.id).lick.notes[-1].onset
    assert onset == porch.lick.notes[-1].onset - 0.5
    page.locator(".notice").get_by_role("button", name="Undo").click()
    page.wait_for_url(f"**/licks/{porch.id}")
    assert library.get(porch.id).lick == porch.lick


@at_phone
def test_renaming_tagging_deleting_and_undo(page, library, porch):
    page.goto(f"/licks/{porch.id}/edit")
    page.get_by_label("Title").fill("Porch step, slow")
    page.get_by_label("Tags").fill("slow, week 3")
    page.get_by_role("button", name="Save the details").click()
    page.get_by_role("heading", level=1, name="Porch step, slow").wait_for()
    assert library.get(porch.id).entry.tags == ("slow", "week 3")
    page.get_by_role("button", name="Delete").click()
    page.get_by_text("Deleted “Porch step, slow”.").wait_for()
    assert library.search(Query()).total == 0
    page.get_by_role("button", name="Undo").click()
    page.get_by_role("heading", level=1, name="Porch step, slow").wait_for()
    assert library.search(Query()).total == 1


@at_phone
def test_handouts_are_downloaded_in_both_sizes(page, porch):
    page.goto(f"/licks/{porch.id}")
    for name, file in (("A4", "porch-step-a4.pdf"), ("US letter", "porch-step-letter.pdf")):
        with page.expect_download() as waiting:
            page.get_by_role("link", name=f"Handout, {name}").click()
        assert waiting.value.suggested_filename == file
        assert waiting.value.path().read_bytes().startswith(b"%PDF-")


@at_desktop
def test_everything_out_and_into_an_empty_library(page, library, porch, tmp_path):
    page.goto("/library")
    with page.expect_download() as waiting:
        page.get_by_role("link", name="Export all").click()
    target = tmp_path / "all.zip"
    waiting.value.save_as(target)
    assert "manifest.json" in zipfile.ZipFile(io.BytesIO(target.read_bytes())).namelist()
    with served(tmp_path / "empty.db") as (other, address):
        page.goto(f"{address}/library")
        page.get_by_label("Zip from an export").set_input_files(target)
        page.get_by_role("button", name="Import all").click()
        page.get_by_text("1 lick read: 1 added").wait_for()
        assert other.get(porch.id) == porch
        page.goto("about:blank")


@at_phone
def test_a_tune_book_is_chosen_from(page, library, tmp_path):
    tune = "X:{0}\nT:Lane {0}\nM:4/4\nL:1/4\nK:G\nGABd|e2d2|\n\n"
    book = tmp_path / "lanes.abc"
    book.write_text("".join(tune.format(n) for n in range(1, 31)))
    page.goto("/new")
    page.get_by_label("File", exact=True).set_input_files(book)
    page.get_by_role("button", name="Bring it in").click()
    page.get_by_text("lanes.abc holds 30 tunes").wait_for()
    page.get_by_label("Title has").fill("Lane 2")
    page.get_by_role("button", name="Tick these", exact=True).click()
    page.get_by_text("11 chosen").wait_for()  # 2 and 20 to 29
    page.get_by_role("button", name="Bring in the chosen tunes").click()
    page.get_by_text("11 tunes from lanes.abc are in the library now.").wait_for()
    assert library.search(Query()).total == 11


def test_the_page_works_by_keyboard_alone(page, porch):
    page.goto("/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
    seen = []
    for _ in range(30):
        page.keyboard.press("Tab")
        seen.append(page.evaluate("document.activeElement.textContent.trim()"))
        if seen[-1] == "Porch step":
            break
    assert seen[-1] == "Porch step"
    outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert outline == "solid"


def test_targets_are_large_enough_and_text_has_contrast(page, library, porch):
    """WCAG 2.2 AA: 2.5.8 target size (24 px), 1.4.3 contrast (4.5 to 1)."""
    lick = f"/licks/{porch.id}"
    compared = f"/compare?a={porch.id}"
    for path in (
        "/",
        lick,
        f"{lick}/edit",
        "/new",
        "/library",
        compared,
        f"{compared}&b={porch.id}",
    ):
        page.goto(path)
        small = page.evaluate(SMALL)
        assert small == [], path
        low = page.evaluate(CONTRAST)
        assert low == [], path


@at_desktop
def test_typed_notes_are_not_lost_by_saving_the_details(page, porch):
    page.goto(f"/licks/{porch.id}/edit")
    box = page.locator("textarea").first
    box.fill(box.input_value() + "\n")
    page.get_by_label("Title").fill("Another name")
    asked = []

    def refuse(dialog):
        asked.append(dialog.message)
        dialog.dismiss()

    page.once("dialog", refuse)
    page.get_by_role("button", name="Save the details").click()
    assert "Notes and rhythm" in asked[0]
    assert page.url.endswith("/edit")
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Save the details").click()
    page.wait_for_url(f"**/licks/{porch.id}*")
    assert page.get_by_role("heading", name="Another name").is_visible()
