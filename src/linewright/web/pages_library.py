"""The library as a whole: export all, import all, what was deleted."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from linewright.errors import LinewrightError
from linewright.services.clock import now
from linewright.services.paper import File
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


@router.get("")
def show_library(request: Request, library: TheLibrary) -> HTMLResponse:
    """The page."""
    return _page(request, library)


def _page(
    request: Request,
    library: Library,
    *,
    imported: Imported | None = None,
    error: LinewrightError | None = None,
) -> HTMLResponse:
    return page(
        request,
        "library.html",
        status=200 if error is None else status_of(error),
        title="Export and import",
        total=library.search(Query(limit=1)).total,
        where=library.where,
        deleted=library.deleted(),
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
