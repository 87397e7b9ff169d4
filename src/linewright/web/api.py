"""The JSON API under ``/api``, documented by OpenAPI and a page of its own."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from linewright.analysis.as_json import analysis_to_dict
from linewright.analysis.prose import capital
from linewright.errors import AlreadyKept, OptionError
from linewright.formats.lickjson import lick_to_dict
from linewright.page.signs import musical
from linewright.services import shelf
from linewright.services.bring import bring_in_all, made_of
from linewright.services.lesson import make_lesson, make_score
from linewright.services.paper import download, handout
from linewright.services.removing import removable, remove_for_good
from linewright.services.shelf import About, Kept, Library, Query
from linewright.services.side_by_side import compare_kept
from linewright.services.zips import import_all
from linewright.web import api_lines, api_move, api_plan, api_takes
from linewright.web.api_models import (
    Brought,
    Change,
    ComparisonOut,
    EntryOut,
    FailureOut,
    ImportedOut,
    KeptOut,
    ListOut,
    NewLick,
    Preview,
    Problem,
    RemovableOut,
    Text,
)
from linewright.web.forms import Fields, form_of, read_form
from linewright.web.pages_library import zip_file
from linewright.web.pages_lick import file_response
from linewright.web.pages_list import query_from
from linewright.web.reading import choices_of, options_of
from linewright.web.render import for_page, page, sentence
from linewright.web.state import library_of

__all__ = ["TAGS", "router"]

TAGS: Final = [
    {"name": "licks", "description": "The library: list, keep, change, delete, undo."},
    {"name": "reading", "description": "What a lick is made of, without keeping it."},
    api_lines.TAG,
    api_plan.TAG,
    api_takes.TAG,
    api_move.TAG,
    {"name": "files", "description": "Files in and out, handouts, the whole library."},
]
_ERRORS: Final[dict[int | str, dict[str, Any]]] = {
    "4XX": {"model": Problem, "description": "What was wrong, where, and what is accepted"}
}
router = APIRouter(prefix="/api", responses=_ERRORS)
TheLibrary = Annotated[Library, Depends(library_of)]
TheForm = Annotated[Fields, Depends(read_form)]


def _whole(kept: Kept) -> KeptOut:
    return KeptOut.whole(kept, lick_to_dict(kept.lick))


# -- licks -------------------------------------------------------------------------------
@router.get("/licks", tags=["licks"], summary="Search the library")
def list_licks(query: Annotated[Query, Depends(query_from)], library: TheLibrary) -> ListOut:
    """Licks that fit every filter, a page at a time (``offset``), with counts for each filter."""
    result = library.search(query)
    return ListOut(
        total=result.total,
        licks=[EntryOut.of(entry) for entry in result.entries],
        facets={name: list(values) for name, values in result.facets.items()},
    )


@router.post("/licks", tags=["licks"], status_code=201, summary="Keep a lick")
def keep_lick(new: NewLick, library: TheLibrary) -> KeptOut:
    """Read a text tab or ABC and keep it; 409 when the same lick is kept already, unless
    ``again`` is true.
    """
    return _whole(shelf.keep(library, new.brought(), new.about(), again=new.again))


@router.get("/licks/{lick_id}", tags=["licks"], summary="One lick")
def get_lick(lick_id: int, library: TheLibrary) -> KeptOut:
    """A lick with its notes; a deleted one says when it was deleted."""
    return _whole(library.get(lick_id))


@router.patch("/licks/{lick_id}", tags=["licks"], summary="Change a lick")
def change_lick(lick_id: int, change: Change, library: TheLibrary) -> KeptOut:
    """Change its notes (``text``) and what is known about it, as one step that can be undone."""
    return _whole(shelf.change(library, lick_id, change.about(), text=change.text))


@router.delete("/licks/{lick_id}", tags=["licks"], summary="Delete a lick")
def delete_lick(lick_id: int, library: TheLibrary) -> KeptOut:
    """Take it out of the list; ``restore`` brings it back."""
    return _whole(shelf.delete(library, lick_id))


@router.post("/licks/{lick_id}/restore", tags=["licks"], summary="Bring a deleted lick back")
def restore_lick(lick_id: int, library: TheLibrary) -> KeptOut:
    """As it was."""
    return _whole(shelf.restore(library, lick_id))


@router.post("/licks/{lick_id}/undo", tags=["licks"], summary="Undo the last change")
def undo_change(lick_id: int, library: TheLibrary) -> KeptOut:
    """The state before the last change; 404 when there is none."""
    return _whole(shelf.undo(library, lick_id)[0])


# -- reading -----------------------------------------------------------------------------
@router.get("/licks/{lick_id}/analysis", tags=["reading"], summary="What a lick is made of")
def get_analysis(lick_id: int, library: TheLibrary) -> dict[str, Any]:
    """The same as ``linewright analyze --json`` gives."""
    kept = library.get(lick_id)
    return analysis_to_dict(made_of(kept.lick, kept.given_tonic))


@router.get("/compare", tags=["reading"], summary="Two licks side by side")
def compare_licks(a: int, b: int, library: TheLibrary) -> ComparisonOut:
    """What the licks with the numbers ``a`` and ``b`` share and where they differ, in sentences;
    the same as ``linewright compare --json`` gives.
    """
    return ComparisonOut.of(compare_kept(library.get(a), library.get(b)))


@router.post("/analyze", tags=["reading"], summary="What a text is made of")
def analyze_text(text: Text) -> dict[str, Any]:
    """The same as ``linewright analyze --json`` gives; nothing is kept."""
    return analysis_to_dict(text.brought().analysis)


@router.post("/preview", tags=["reading"], summary="Engrave a text")
def preview_text(text: Text) -> Preview:
    """The engraved lick and its frame; nothing is kept. Errors name line and column."""
    brought = text.brought()
    score = make_score(brought.analysis)
    return Preview(
        title=brought.lick.title,
        frame=capital(musical(brought.analysis.frame_name)),
        verdict=musical(sentence(brought.analysis.verdict)),
        remarks=[sentence(remark) for remark in brought.remarks],
        svg=for_page(score.wide),
        svg_narrow=for_page(score.narrow),
        neck=for_page(score.neck) if score.neck else None,
        problem=score.problem,
    )


@router.get(
    "/licks/{lick_id}/score.svg",
    tags=["reading"],
    summary="The engraved lick",
    response_class=Response,
)
def get_score(lick_id: int, library: TheLibrary, labels: str = "degrees") -> Response:
    """Staff over tab as SVG; ``labels`` is ``degrees`` or ``chords`` (the row under the staff)."""
    kept = library.get(lick_id)
    lesson = make_lesson(kept.lick, kept.given_tonic, labels=labels)
    return Response(lesson.score.wide, media_type="image/svg+xml")


# -- files -------------------------------------------------------------------------------
@router.post(
    "/files",
    tags=["files"],
    status_code=201,
    summary="Keep every tune of a file",
    openapi_extra=form_of(
        number={"type": "array", "items": {"type": "integer"}},
        style={"type": "string"},
        tags={"type": "string"},
        file_tonic={"type": "string"},
        **{name: {"type": "string"} for name in ("instrument", "tuning", "capo", "octave")},
        again={"type": "string"},
    ),
)
def keep_file(form: TheForm, library: TheLibrary) -> Brought:
    """Any format, by multipart upload; tunes of a book that fail are listed with the reason.

    Fields besides ``file``: ``number`` (once for each tune that is wanted, all when there is
    none), ``style``, ``tags`` (with commas), ``file_tonic``; ``instrument``, ``tuning``, ``capo``
    and ``octave`` as a text has them; ``again`` (``true`` keeps tunes that are kept already once
    more). A file that holds one tune and fails is an error, and so is one
    whose only tune is kept already (409).
    """
    upload = form.upload()
    chosen = form.numbers("number") or None
    options, tonic = options_of(choices_of(form)), form.optional("file_tonic")
    with upload.reading() as data:
        book = bring_in_all(data, upload.name, options=options, tonic=tonic, chosen=chosen)
    if not book.tunes and len(book.failures) == 1 and chosen is None:
        raise book.failures[0].error
    about = About(style=form.optional("style"), tags=shelf.parse_tags(form.text("tags")) or None)
    tunes = tuple(brought for _, brought in book.tunes)
    again = form.text("again").strip().lower() in ("true", "1", "yes")
    new, there = (tunes, ()) if again else shelf.sort_out(library, tunes, about)
    if len(there) == len(tunes) == 1:
        raise AlreadyKept(there[0][0], tunes[0].lick.title)
    ids = shelf.keep_all(library, new, about)
    failures = [
        FailureOut(number=f.number, title=f.title, error=str(f.error)) for f in book.failures
    ]
    return Brought(kept=list(ids), already=[number for number, _ in there], failures=failures)


@router.get(
    "/licks/{lick_id}/files/{format}",
    tags=["files"],
    summary="A lick in a format",
    response_class=Response,
)
def get_file(lick_id: int, format: str, library: TheLibrary) -> Response:
    """``tab``, ``abc``, ``musicxml``, ``mxl``, ``midi``, ``json`` or ``mei``."""
    return file_response(download(library.get(lick_id).lick, format))


@router.get(
    "/licks/{lick_id}/handout", tags=["files"], summary="The handout", response_class=Response
)
def get_handout(lick_id: int, library: TheLibrary, paper: str = "a4") -> Response:
    """The printed lesson as PDF; ``paper`` is ``a4`` or ``letter``."""
    kept = library.get(lick_id)
    return file_response(handout(kept.lick, paper=paper, tonic=kept.given_tonic))


@router.get("/library/export", tags=["files"], summary="Everything out", response_class=Response)
def get_everything(library: TheLibrary) -> Response:
    """One zip of open formats with a manifest."""
    return file_response(zip_file(library))


@router.get("/library/deleted", tags=["files"], summary="What could be removed for good")
def count_removable(library: TheLibrary) -> RemovableOut:
    """Licks, students, plans and takes deleted at least 30 days ago; until they are removed they
    can be brought back.
    """
    return RemovableOut.of(*removable(library))


@router.delete("/library/deleted", tags=["files"], summary="Remove for good what was deleted")
def remove_deleted(before: datetime, library: TheLibrary) -> RemovableOut:
    """What was deleted ``before`` a moment at least 30 days ago, recordings too; it cannot be
    undone. Nothing is ever removed without this.
    """
    if before.tzinfo is None:
        raise OptionError("a moment without its zone", accepted="Write it as 2026-03-02T12:00:00Z")
    return RemovableOut.of(remove_for_good(library, before), before)


@router.post("/library/import", tags=["files"], summary="Everything in", openapi_extra=form_of())
def put_everything(form: TheForm, library: TheLibrary) -> ImportedOut:
    """Such a zip, by multipart upload: all of it, or nothing when anything in it is wrong."""
    with form.upload().reading() as data:
        return ImportedOut.of(import_all(library, data))


# -- documentation -----------------------------------------------------------------------
@router.get("/docs", include_in_schema=False)
def show_docs(request: Request) -> HTMLResponse:
    """The API on a page, drawn from the same OpenAPI document, with nothing fetched."""
    schema = request.app.openapi()
    groups: list[dict[str, Any]] = [dict(tag, operations=[]) for tag in TAGS]
    for path, methods in schema["paths"].items():
        for method, operation in methods.items():
            group = next(g for g in groups if g["name"] == operation["tags"][0])
            group["operations"].append({"method": method.upper(), "path": path, **operation})
    return page(
        request,
        "api.html",
        title="API",
        groups=groups,
        schemas=schema["components"]["schemas"],
    )
