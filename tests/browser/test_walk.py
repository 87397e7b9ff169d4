"""The walk of docs/walk.md: real input, from bringing in to handing out, in a real browser.

``LINEWRIGHT_PICTURES=1`` takes the pictures anew and writes the table of readings in the page;
without it, what the page says has to be what docs/walk.md says.
"""

import os
import re
import shutil
import subprocess
from importlib.util import find_spec
from pathlib import Path

import pytest
from browser_rig import SIZES, Watch, chromium, served

from linewright.services.demo_library import add_demo_licks
from linewright.store import Query
from papers import page_sizes

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(chromium() is None, reason="no chromium on this computer"),
]
DOCS = Path(__file__).parents[2] / "docs"
TAKE = os.environ.get("LINEWRIGHT_PICTURES") == "1"
MUSIC21 = Path(find_spec("music21").origin).parent
#: File (music21's own corpus and MIDI test files), its part where it has several, the bars kept.
FILES = (
    ("corpus/ryansMammoth/LadyForbesReel.abc", None, "1-8"),
    ("corpus/ryansMammoth/TelephoneReel.abc", None, "1-8"),
    ("corpus/ryansMammoth/HoopDeDooDenDooJig.abc", None, "1-8"),
    ("corpus/schubert/Lindenbaum.xml", "Voice", "8-16"),
    ("midi/testPrimitive/test06.mid", None, "1-8"),
)
BEGIN, END = "<!-- readings: written by tests/browser/test_walk.py -->", "<!-- end of readings -->"


class Walk:
    """A walk at one width: takes pictures when asked to."""

    def __init__(self, page, address, size) -> None:
        self.page, self.address, self.size = page, address, size

    def go(self, path) -> None:
        self.page.goto(self.address + path)

    def picture(self, name, **options) -> None:
        if TAKE:
            (DOCS / "pictures").mkdir(exist_ok=True)
            path = DOCS / "pictures" / f"{name}-{self.size}.png"
            self.page.screenshot(path=path, **options)
        assert name in pictures(), f"docs/walk.md does not show {name}"


def pictures() -> set[str]:
    """Names of the pictures that docs/walk.md shows, without their sizes."""
    return set(re.findall(r"\(pictures/([a-z-]+)-(?:desktop|phone)\.png\)", walk_text()))


def walk_text() -> str:
    return (DOCS / "walk.md").read_text()


def typed() -> str:
    """The text tab that docs/walk.md types: its first indented block with strings in it."""
    blocks = re.findall(r"(?:^    .*\n|^\n(?=    ))+", walk_text(), re.MULTILINE)
    block = next(block for block in blocks if "e|" in block)
    return re.sub("^    ", "", block, flags=re.MULTILINE).strip("\n") + "\n"


@pytest.mark.parametrize(
    "size", [pytest.param(size, marks=pytest.mark.xdist_group(f"walk_{size}")) for size in SIZES]
)
def test_the_walk(browser, tmp_path, monkeypatch, size):
    monkeypatch.chdir(tmp_path)
    width, height = SIZES[size]
    with served("library.db") as (library, address):
        add_demo_licks(library)  # as `make run` does
        context = browser.new_context(
            viewport={"width": width, "height": height}, accept_downloads=True
        )
        page = context.new_page()
        page.set_default_timeout(15_000)
        watch = Watch(page)
        walk = Walk(page, address, size)
        a_demo_lick(walk)
        rows = [brought_in(walk, *file) for file in FILES]
        rows.append(typed_in(walk))
        readings(rows)
        corrected(walk, library)
        searched(walk, library)
        compared(walk)
        handed_out(walk, tmp_path)
        out_and_in(walk, library, tmp_path)
        context.close()
        assert watch.odd == []


def a_demo_lick(walk) -> None:
    page = walk.page
    walk.go("/")
    assert page.locator(".licks > li").count() >= 16
    walk.picture("library")
    page.get_by_role("link", name="Left at the Light").click()
    page.get_by_role("heading", name="What recurs").wait_for()
    walk.picture("lick")
    page.locator(".figures button").first.click()
    assert page.locator(".along").count() == 1
    walk.picture("figure")
    page.keyboard.press("Escape")


def brought_in(walk, path, part, bars) -> tuple[str, str, str]:
    """Bring a file in, keep some bars of it, and read what the page says."""
    page = walk.page
    walk.go("/new")
    page.get_by_label("File", exact=True).set_input_files(MUSIC21 / path)
    page.get_by_role("button", name="Bring it in").click()
    if part is not None:
        page.get_by_role("heading", name="Which one?").wait_for()
        page.get_by_label(part, exact=True).check()
        walk.picture("choice")
        page.get_by_role("button", name="Go on").click()
    page.get_by_text("It is not kept yet.").wait_for()
    page.get_by_label("Bars").fill(bars)
    page.get_by_role("button", name="Show it again").click()
    page.wait_for_load_state()
    assert page.get_by_label("Bars").input_value() == bars
    if "Telephone" in path:
        walk.picture("review")
    page.get_by_label("Tags").fill("walk")
    page.get_by_role("button", name="Keep it").click()
    page.wait_for_url("**/licks/*")
    return read(walk)


def read(walk) -> tuple[str, str, str]:
    """Title, frame and first argument of the lick that is shown."""
    page = walk.page
    assert page.locator("[data-score] svg.engraving:visible [data-note]").count() > 10
    frame = page.locator("#made-of ~ .reading .answer").inner_text()
    why = page.locator(".argument .reason").first.inner_text()
    return page.locator("h1").inner_text(), frame, why


def typed_in(walk) -> tuple[str, str, str]:
    page = walk.page
    walk.go("/new")
    page.get_by_label("Text tab or ABC").fill(typed())
    page.locator("[data-score] svg.engraving:visible").wait_for()
    page.get_by_text("the rhythm was inferred").wait_for()
    walk.picture("typing")
    page.get_by_text("Title, style, tags, tonic").click()
    page.get_by_label("Tags").fill("walk")
    page.get_by_role("button", name="Keep it").click()
    page.wait_for_url("**/licks/*")
    return read(walk)


def readings(rows) -> None:
    """The table of docs/walk.md says what the pages said."""
    table = "\n".join(
        ["| lick | it hangs on | the first argument |", "|---|---|---|"]
        + [f"| {' | '.join(row)} |" for row in rows]
    )
    before, rest = walk_text().split(BEGIN)
    after = rest.split(END)[1]
    new = f"{before}{BEGIN}\n{table}\n{END}{after}"
    if TAKE:
        (DOCS / "walk.md").write_text(new)
    assert walk_text() == new, "docs/walk.md is out of date: run with LINEWRIGHT_PICTURES=1"


def corrected(walk, library) -> None:
    page = walk.page
    page.get_by_role("link", name="Edit title, tags, notes and rhythm").click()
    area = page.get_by_label("The lick as a text tab")
    number = int(page.url.rsplit("/", 2)[-2])
    before = library.get(number).lick
    lines = area.input_value().split("\n")
    # The last note sounds one eighth later: on the and of 4.
    at = next(i for i, line in enumerate(lines) if line.startswith("D|"))
    assert lines[at].endswith("5---|")
    lines[at] = lines[at][:-5] + "--5-|"
    count = next(i for i, line in enumerate(lines) if line.strip().startswith("1 &"))
    lines[count] = lines[count].rstrip() + " &"
    area.fill("\n".join(lines))
    page.wait_for_timeout(600)
    walk.picture("edit")
    page.get_by_role("button", name="Save the notes").click()
    page.get_by_text("Changed the rhythm.").wait_for()
    after = library.get(number).lick
    assert after.notes[-1].onset - before.notes[-1].onset == 0.5
    assert [note.midi for note in after.notes] == [note.midi for note in before.notes]


def searched(walk, library) -> None:
    page = walk.page
    walk.go("/")
    page.get_by_role("searchbox", name="Search").fill("walk mixolydian")
    page.keyboard.press("Enter")
    page.get_by_text(f"1 of {library.search(Query()).total} licks").wait_for()
    assert page.locator(".licks h2").all_inner_texts() == ["HOOP-DE-DOO-DEN-DOO -- JIG"]
    walk.picture("search")


def compared(walk) -> None:
    page = walk.page
    page.get_by_role("link", name="HOOP-DE-DOO-DEN-DOO -- JIG").click()
    page.get_by_role("link", name="Compare with another lick").click()
    page.get_by_role("searchbox", name="Search").fill("telephone")
    page.keyboard.press("Enter")
    page.get_by_role("link", name="Telephone -- Reel").click()
    page.get_by_role("heading", name="Where they differ").wait_for()
    walk.picture("compare", full_page=True)
    page.get_by_role("link", name="Telephone -- Reel").click()


def handed_out(walk, tmp_path) -> None:
    page = walk.page
    for name, paper, points in (("A4", "a4", (595, 842)), ("US letter", "letter", (612, 792))):
        with page.expect_download() as waiting:
            page.get_by_role("link", name=f"Handout, {name}").click()
        assert waiting.value.suggested_filename == f"telephone-reel-{paper}.pdf"
        target = tmp_path / f"{paper}.pdf"
        waiting.value.save_as(target)
        assert paper_size(target) == points
        tool = shutil.which("pdftoppm")
        if TAKE and tool and walk.size == "desktop" and paper == "a4":
            picture = DOCS / "pictures" / "handout-desktop"
            command = [tool, "-png", "-r", "72", "-f", "1", "-singlefile", target, picture]
            subprocess.run(command, check=True)


def paper_size(path) -> tuple[int, int]:
    width, height = page_sizes(path)[0]
    return round(width), round(height)


def out_and_in(walk, library, tmp_path) -> None:
    page = walk.page
    page.get_by_role("link", name="Export and import").click()
    with page.expect_download() as waiting:
        page.get_by_role("link", name="Export all").click()
    target = tmp_path / "all.zip"
    waiting.value.save_as(target)
    kept = [library.get(entry.id) for entry in library.search(Query(limit=500)).entries]
    assert len(kept) == len(list(add_up(library)))
    with served("empty.db") as (other, address):
        page.goto(f"{address}/library")
        page.get_by_label("Zip from an export").set_input_files(target)
        page.get_by_role("button", name="Import all").click()
        page.get_by_text(f"{len(kept)} licks read: {len(kept)} added").wait_for()
        walk.picture("import")
        assert other.search(Query()).total == len(kept)
        for own in kept:
            theirs = other.find(own.entry.uuid)
            assert theirs.lick == own.lick, own.lick.title
            assert theirs.given_tonic == own.given_tonic
            assert theirs.entry.facts == own.entry.facts
            assert (theirs.entry.created, theirs.entry.updated) == (
                own.entry.created,
                own.entry.updated,
            )
        page.goto("about:blank")


def add_up(library):
    """Every lick by number, however the list is cut into pages."""
    offset = 0
    while entries := library.search(Query(limit=10, offset=offset)).entries:
        yield from entries
        offset += 10
