"""The short guide to writing a tab, beside the page where one is typed."""

from __future__ import annotations

from typing import Final

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse

from linewright.web.render import page

__all__ = ["EXAMPLE", "HEADERS", "SIGNS", "router"]

router = APIRouter(prefix="/new", include_in_schema=False)
EXAMPLE: Final = """\
Title: Walk-up to C
Tempo: 96
Meter: 4/4
Key: G
Style: country

   G               C
e|---------------|-----------------|
B|---------------|---------0-1-----|
G|---------0---0-|-----0-2-----0---|
D|-----0-2---2---|---2-------------|
A|-0-2-----------|-3---------------|
E|---------------|-----------------|
   1 & 2 & 3 & 4   1 & 2 & 3 & 4 &
"""
#: Header, what it may say, what holds without it.
HEADERS: Final = (
    ("Title", "Walk-up to C", "a first line of plain text, else Untitled"),
    ("Key", "G, Em, A dorian", "notes are spelled neutrally"),
    ("Meter", "3/4, 6/8, C, 3+2+2/8", "4/4"),
    ("Tempo", "120, dotted quarter = 90", "none"),
    ("Swing", "2:1, triplet", "none"),
    ("Instrument", "mandolin, tenor banjo, bass, ukulele", "from the string names, else guitar"),
    (
        "Tuning",
        "drop D, DADGAD, or the strings low to high",
        "from the string names, else standard",
    ),
    ("Capo", "2; frets are counted from it, key and chords are those that sound", "none"),
    ("Pickup", "1/8, 2 beats", "from the counting row or a narrow first bar"),
    ("Count", "eighths, straight, triplets: how the counting row is meant", "from the row itself"),
    ("Bar length", "3/4, for a bar that is not full", "full bars"),
    ("Frets", "20, how many the neck has", "the instrument’s"),
    ("Style", "blues", "none"),
    ("Source", "where it comes from", "none"),
    ("Tags", "slow, week 3", "none"),
)
SIGNS: Final = (
    ("5h7", "hammer-on"), ("7p5", "pull-off"), ("5/7", "slide"), ("/7", "slide in from below"),
    ("7b9", "bend at fret 7 until it sounds like fret 9"), ("7b9r7", "bent, then let down"),
    ("7~", "vibrato"), ("x", "dead note"), ("(5)", "ghost note"), ("<12>", "natural harmonic"),
    ("5>", "accent"), ("5.", "staccato"), ("g3h5", "grace note before a note"),
    ("5--=", "the note goes on"),
)  # fmt: skip


@router.get("/tab-guide")
def show_guide(request: Request) -> HTMLResponse:
    """How a tab is written."""
    return page(
        request,
        "tab_guide.html",
        title="Writing a tab",
        example=EXAMPLE,
        headers=HEADERS,
        signs=SIGNS,
    )
