"""A lick's own pages: the lesson, the edit page, handouts and files, changes and undo."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final, Literal

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from linewright.errors import LinewrightError, WriteError
from linewright.formats import FORMATS
from linewright.lines import FORMS
from linewright.services import shelf
from linewright.services.bring import BroughtIn, bring_text
from linewright.services.lesson import Lesson, make_lesson
from linewright.services.paper import File, download, handout
from linewright.services.shelf import About, Kept, Library, Query
from linewright.web.forms import Fields, read_form
from linewright.web.problems import status_of
from linewright.web.render import page
from linewright.web.state import library_of

__all__ = ["excerpt", "file_response", "preview_of", "router"]

router = APIRouter(prefix="/licks/{lick_id}", include_in_schema=False)
TheLibrary = Annotated[Library, Depends(library_of)]
TheForm = Annotated[Fields, Depends(read_form)]
#: What may stand under the staff, and how the page calls it.
_ROWS: Final = (("degrees", "degrees"), ("chords", "what each is to its chord"))
PAPERS: Final = (("a4", "A4"), ("letter", "US letter"))
TEXT_LABELS: Final = {
    "tab": (
        "The lick as a text tab",
        "The counting row, in line with the columns, says when each sounds: 1 & 2 e & a.",
    ),
    "abc": ("The lick as ABC", "A text tab cannot say all of this lick, so here it is in ABC."),
}


@router.get("")
def show_lick(
    request: Request,
    lick_id: int,
    library: TheLibrary,
    changed: str = "",
    labels: str = "degrees",
) -> HTMLResponse:
    """The lesson; ``labels`` says what stands under the staff."""
    kept = library.get(lick_id)
    history = library.history(lick_id) if kept.changes else ()
    return page(
        request,
        "lick.html",
        title=kept.lick.title,
        kept=kept,
        lesson=make_lesson(kept.lick, kept.given_tonic, labels=labels),
        rows=_ROWS,
        changed=history[0].what if changed and history else "",
        last_change=history[0].what if history else "",
        papers=PAPERS,
        formats=[form for form in FORMATS.values() if form.can_write],
        forms=FORMS,
        shown={},
    )


@router.get("/handout")
def show_handout(lick_id: int, library: TheLibrary, paper: str = "a4") -> Response:
    """The printed lesson."""
    kept = library.get(lick_id)
    return file_response(handout(kept.lick, paper=paper, tonic=kept.given_tonic))


@router.get("/download/{format}")
def show_file(lick_id: int, format: str, library: TheLibrary) -> Response:
    """The lick in another format."""
    return file_response(download(library.get(lick_id).lick, format))


def file_response(file: File) -> Response:
    """A file to be saved."""
    return Response(
        file.data,
        media_type=file.media_type,
        headers={"content-disposition": f'attachment; filename="{file.name}"'},
    )


# -- editing -----------------------------------------------------------------------------
@dataclass(frozen=True)
class _Shown:
    """What the fields of the edit page hold."""

    title: str
    style: str
    tags: str
    source: str
    tonic: str


def _shown(kept: Kept) -> _Shown:
    return _Shown(
        kept.lick.title,
        kept.lick.style or "",
        ", ".join(kept.lick.tags),
        kept.lick.source or "",
        kept.given_tonic or "",
    )


@router.get("/edit")
def show_edit(request: Request, lick_id: int, library: TheLibrary) -> HTMLResponse:
    """The edit page."""
    return _edit_page(request, library, library.get(lick_id))


def _edit_page(
    request: Request,
    library: Library,
    kept: Kept,
    *,
    text: str | None = None,
    about: _Shown | None = None,
    error: LinewrightError | None = None,
    which: str = "",
) -> HTMLResponse:
    refused = preview = None
    format = "tab"
    try:
        written, format = shelf.editable_text(kept.lick)
        text = written if text is None else text
    except WriteError as refusal:
        refused = refusal
    if error is None and refused is None:
        preview = make_lesson(kept.lick, kept.given_tonic)
    label, hint = TEXT_LABELS[format]
    return page(
        request,
        "edit.html",
        status=200 if error is None else status_of(error),
        title=f"Edit {kept.lick.title}",
        kept=kept,
        text=text or "",
        text_label=label,
        text_hint=hint,
        excerpt=excerpt(text or "", error) if which == "notes" else "",
        preview=preview,
        refused=refused,
        about=about or _shown(kept),
        styles=[value for value, _ in library.search(Query(limit=1)).facets["style"]],
        error=error,
        which=which,
    )


@router.post("/notes")
def save_notes(request: Request, lick_id: int, library: TheLibrary, form: TheForm) -> Response:
    """Take edited notes and rhythm."""
    text = form.text("text")
    before = library.get(lick_id)
    try:
        after = shelf.change(library, lick_id, text=text)
    except LinewrightError as error:
        return _edit_page(request, library, before, text=text, error=error, which="notes")
    return _changed(before, after)


@router.post("/about")
def save_about(request: Request, lick_id: int, library: TheLibrary, form: TheForm) -> Response:
    """Take a changed title, style, source, tags or tonic."""
    before = library.get(lick_id)
    shown = _Shown(*(form.text(name) for name in ("title", "style", "tags", "source", "tonic")))
    about = About(
        form.given("title"),
        form.given("style"),
        form.given("source"),
        shelf.parse_tags(shown.tags) if form.given("tags") is not None else None,
        form.given("tonic"),
    )
    try:
        after = shelf.change(library, lick_id, about)
    except LinewrightError as error:
        return _edit_page(request, library, before, about=shown, error=error, which="about")
    return _changed(before, after)


def _changed(before: Kept, after: Kept) -> RedirectResponse:
    query = "?changed=1" if after.changes > before.changes else ""
    return RedirectResponse(f"/licks/{after.id}{query}", 303)


@router.post("/undo")
def take_back(lick_id: int, library: TheLibrary) -> RedirectResponse:
    """Undo the last change."""
    shelf.undo(library, lick_id)
    return RedirectResponse(f"/licks/{lick_id}", 303)


@router.post("/delete")
def take_out(lick_id: int, library: TheLibrary) -> RedirectResponse:
    """Delete, with a way back."""
    shelf.delete(library, lick_id)
    return RedirectResponse(f"/?deleted={lick_id}", 303)


@router.post("/restore")
def put_back(lick_id: int, library: TheLibrary) -> RedirectResponse:
    """Bring a deleted lick back."""
    shelf.restore(library, lick_id)
    return RedirectResponse(f"/licks/{lick_id}", 303)


# -- shared with the bring-in page -------------------------------------------------------
def preview_of(
    text: str,
    tonic: str | None,
    octave: Literal["written", "guitar"] = "written",
    instrument: str | None = None,
) -> tuple[BroughtIn, Lesson]:
    """A typed text read, analysed and engraved."""
    brought = bring_text(text, tonic, octave, instrument)
    return brought, make_lesson(brought.lick, analysis=brought.analysis)


def excerpt(text: str, error: LinewrightError | None) -> str:
    """The line at fault with a pointer under the column, for pages without scripts."""
    if error is None or error.line is None:
        return ""
    lines = text.split("\n")
    if not 1 <= error.line <= len(lines):
        return ""
    line = lines[error.line - 1].expandtabs(1)
    if error.column is None:
        return f"{error.line}: {line}"
    prefix = f"{error.line}: "
    return f"{prefix}{line}\n{' ' * (len(prefix) + error.column - 1)}^"
