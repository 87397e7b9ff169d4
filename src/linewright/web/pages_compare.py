"""Comparing: choose two licks, see what they share and where they differ."""

from __future__ import annotations

from typing import Annotated, Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse

from linewright.services.shelf import Kept, Library, Query
from linewright.services.side_by_side import side_by_side
from linewright.web.render import changed_query, page
from linewright.web.state import library_of

__all__ = ["router"]

router = APIRouter(prefix="/compare", include_in_schema=False)
_SHOWN: Final = 60
#: Topic of a comparison -> its heading, the same as on a lick's own page.
_TOPICS: Final = {
    "frame": "Frame",
    "outside": "Outside notes",
    "figures": "What recurs",
    "motion": "How it moves",
    "rhythm": "Rhythm",
    "chords": "Against the chords",
    "instrument": "Instrument",
}


@router.get("")
def show_comparison(
    request: Request,
    library: Annotated[Library, Depends(library_of)],
    a: int | None = None,
    b: int | None = None,
    q: str = "",
) -> HTMLResponse:
    """Two licks side by side, or the list to choose one from while one is missing."""
    chosen = [library.get(number) for number in (a, b) if number is not None]
    if len(chosen) < 2:
        return _choose(request, library, chosen[0] if chosen else None, q)
    pair = side_by_side(*chosen)
    return page(
        request,
        "compare.html",
        title=f"{pair.one.name} and {pair.two.name}",
        pair=pair,
        topics=_TOPICS,
    )


def _choose(request: Request, library: Library, first: Kept | None, q: str) -> HTMLResponse:
    result = library.search(Query(text=q, sort="title", limit=_SHOWN))
    others = [entry for entry in result.entries if first is None or entry.id != first.id]
    links = [
        (entry, changed_query({"a": first.id, "b": entry.id} if first else {"a": entry.id}))
        for entry in others
    ]
    return page(
        request,
        "choose_pair.html",
        title="Compare two licks",
        first=first,
        q=q,
        links=links,
        more=result.total > len(result.entries),
    )
