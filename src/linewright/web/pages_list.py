"""The library list: search, filters with counts, pages."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse

from linewright.errors import NotFound
from linewright.services.shelf import Kept, Library, Query
from linewright.web.render import changed_query, page
from linewright.web.state import library_of

__all__ = ["query_from", "router"]

router = APIRouter(include_in_schema=False)
PAGE_SIZE: Final = 60
_LABELS: Final = {
    "style": "Style",
    "tag": "Tag",
    "frame": "Frame",
    "tonic": "Tonic",
    "outside": "Outside note",
    "instrument": "Instrument",
    "meter": "Meter",
}
_SORT_LABELS: Final = (
    ("newest", "newest first"),
    ("oldest", "oldest first"),
    ("changed", "last changed first"),
    ("title", "by title"),
    ("frame", "by frame"),
)


@dataclass(frozen=True)
class _Facet:
    name: str
    label: str
    choices: tuple[tuple[str, int], ...]
    chosen: str | None


def query_from(
    q: str = "",
    style: str = "",
    tag: str = "",
    frame: str = "",
    tonic: str = "",
    outside: str = "",
    instrument: str = "",
    meter: str = "",
    sort: str = "newest",
    offset: int = 0,
) -> Query:
    """The query of a request (a FastAPI dependency)."""
    return Query(
        text=q,
        style=style or None,
        tag=tag or None,
        frame=frame or None,
        tonic=tonic or None,
        outside=outside or None,
        instrument=instrument or None,
        meter=meter or None,
        sort=sort or "newest",
        limit=PAGE_SIZE,
        offset=offset,
    )


@router.get("/")
def show_list(
    request: Request,
    query: Annotated[Query, Depends(query_from)],
    library: Annotated[Library, Depends(library_of)],
    deleted: int | None = None,
) -> HTMLResponse:
    """The list."""
    result = library.search(query)
    facets = []
    for name, label in _LABELS.items():
        chosen, choices = query.chosen(name), result.facets[name]
        if chosen is not None and all(value != chosen for value, _ in choices):
            choices = ((chosen, 0), *choices)
        if choices:
            facets.append(_Facet(name, label, choices, chosen))
    params: dict[str, Any] = {
        key: value for key, value in request.query_params.items() if key != "deleted"
    }
    later = query.offset + PAGE_SIZE
    return page(
        request,
        "list.html",
        title="Library",
        query=query,
        result=result,
        facets=facets,
        sorts=_SORT_LABELS,
        total_kept=library.search(Query(limit=1)).total if query.is_narrowed else result.total,
        deleted=_just_deleted(library, deleted),
        wide_open=False,
        earlier=changed_query(params, offset=max(0, query.offset - PAGE_SIZE) or None)
        if query.offset
        else None,
        later=changed_query(params, offset=later) if later < result.total else None,
    )


def _just_deleted(library: Library, lick_id: int | None) -> Kept | None:
    if lick_id is None:
        return None
    try:
        kept = library.get(lick_id)
    except NotFound:
        return None
    return kept if kept.deleted is not None else None
