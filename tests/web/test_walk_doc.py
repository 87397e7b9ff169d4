"""Pictures that the documentation shows are there, and each that is there is shown."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.name)
def test_every_picture_is_there(page):
    for name in re.findall(r"!\[[^\]]*\]\(([^)\s]+)\)", page.read_text()):
        picture = page.parent / name
        assert picture.is_file(), f"{page.name} shows {name}"
        assert picture.read_bytes().startswith(b"\x89PNG")


def test_the_walk_has_pictures_and_every_picture_is_shown():
    shown = {
        (page.parent / name).resolve()
        for page in PAGES
        for name in re.findall(r"\(([^)\s]+\.png)\)", page.read_text())
    }
    there = set((ROOT / "docs" / "pictures").glob("*.png"))
    assert len(there) >= 12
    # A page is pictured at both widths; the narrow one need not be shown.
    bare = {re.sub(r"-(desktop|phone)$", "", picture.stem) for picture in shown}
    assert {re.sub(r"-(desktop|phone)$", "", picture.stem) for picture in there} == bare
