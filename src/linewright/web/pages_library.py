"""The library as a whole: export all, import all, what was deleted."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from linewright.errors import LinewrightError, OptionError
from linewright.services.clock import now
from linewright.services.paper import File
from linewright.services.removing import (
    KEPT_DAYS,
    Removed,
    deleted_things,
    removable,
    remove_for_good,
)
from linewright.services.shelf import Imported, Library, Query
from linewright.services.zips import export_all, import_all
from linewright.web.forms import Fields, read_form
from linewright.web.pages_lick import file_response
from linewright.web.problems import status_of
from linewright.web.render import page
from linewright.web.state import library_of

__all__ = ["router", "zip_file"]

router = APIRouter(prefix="/library", include_in_schema=False)
TheLibrary = Annotated[Library, Depends(library_of)]
_CONFIRM = "Open the page of removal and confirm there"


@router.get("")
def show_library(request: Request, library: TheLibrary) -> HTMLResponse:
    """The page."""
    return _page(request, library)


def _page(
    request: Request,
    library: Library,
    *,
    imported: Imported | None = None,
    removed: Removed | None = None,
    error: LinewrightError | None = None,
) -> HTMLResponse:
    return page(
        request,
        "library.html",
        status=200 if error is None else status_of(error),
        title="Export and import",
        total=library.search(Query(limit=1)).total,
        where=library.where,
        deleted=deleted_things(library),
        removable=removable(library)[0],
        kept_days=KEPT_DAYS,
        removed=removed,
        imported=imported,
        error=error,
    )


def zip_file(library: Library) -> File:
    """Everything as one zip, named for the day."""
    return File(export_all(library), f"linewright-{now():%Y-%m-%d}.zip", "application/zip")


@router.get("/export.zip")
def show_zip(library: TheLibrary) -> Response:
    """Everything out."""
    return file_response(zip_file(library))


@router.post("/import")
def take_zip(
    request: Request, library: TheLibrary, form: Annotated[Fields, Depends(read_form)]
) -> HTMLResponse:
    """Everything in."""
    try:
        with form.upload().reading() as data:
            imported = import_all(library, data)
    except LinewrightError as error:
        return _page(request, library, error=error)
    return _page(request, library, imported=imported)


# -- for good ----------------------------------------------------------------------------
@router.get("/removal")
def show_removal(request: Request, library: TheLibrary) -> HTMLResponse:
    """What would be removed for good, to be confirmed."""
    found, before = removable(library)
    return page(
        request,
        "removal.html",
        title="Remove for good",
        found=found,
        before=before,
        kept_days=KEPT_DAYS,
    )


@router.post("/removal")
def remove(
    request: Request, library: TheLibrary, form: Annotated[Fields, Depends(read_form)]
) -> HTMLResponse:
    """Remove what was shown."""
    try:
        removed = remove_for_good(library, _moment(form.text("before")))
    except LinewrightError as error:
        return _page(request, library, error=error)
    return _page(request, library, removed=removed)


def _moment(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise OptionError(f"{text!r:.40} is no moment", accepted=_CONFIRM) from error
    if moment.tzinfo is None:
        raise OptionError(f"{text!r:.40} has no time zone", accepted=_CONFIRM)
    return moment
