"""Bringing in: typed text, one file, a whole tune book."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from linewright.errors import AlreadyKept, ChoiceNeeded, LinewrightError, OptionError
from linewright.formats import FORMATS
from linewright.services import shelf
from linewright.services.bring import BroughtIn, bring_in, bring_in_all, contents, plain_tonic
from linewright.services.lesson import Lesson, make_lesson
from linewright.services.shelf import About, Library
from linewright.web.already import already_page, wants_again
from linewright.web.forms import Fields, Upload, read_form
from linewright.web.pages_lick import excerpt, preview_of
from linewright.web.problems import status_of
from linewright.web.reading import FIELDS, choices_of, octave_of, offered, options_of
from linewright.web.render import page
from linewright.web.state import library_of

__all__ = ["router"]

router = APIRouter(prefix="/new", include_in_schema=False)
TheLibrary = Annotated[Library, Depends(library_of)]
TheForm = Annotated[Fields, Depends(read_form)]
_ACCEPTED: Final = ", ".join(
    f"{form.label} ({' '.join(form.extensions)})" for form in FORMATS.values() if form.can_read
)
_EXAMPLE: Final = """\
title: My lick
key: G
meter: 4/4

e|-----------------|
B|-----------------|
G|-----------------|
D|-----------------|
A|-----------------|
E|-----------------|
"""


@dataclass(frozen=True)
class _Shown:
    title: str = ""
    style: str = ""
    tags: str = ""
    source: str = ""
    tonic: str = ""

    @property
    def any(self) -> bool:
        """Whether any field holds something."""
        return any((self.title, self.style, self.tags, self.source, self.tonic))


def _shown(form: Fields) -> _Shown:
    return _Shown(*(form.text(n).strip() for n in ("title", "style", "tags", "source", "tonic")))


def _about(shown: _Shown) -> About:
    """Empty fields leave what the file says."""
    return About(
        shown.title or None,
        shown.style or None,
        shown.source or None,
        shelf.parse_tags(shown.tags) or None,
    )


@router.get("")
def show_new(request: Request) -> HTMLResponse:
    """The empty page."""
    return _new_page(request, _EXAMPLE)


def _new_page(
    request: Request,
    text: str,
    *,
    shown: _Shown = _Shown(),
    preview: Lesson | None = None,
    error: LinewrightError | None = None,
    also: LinewrightError | None = None,
    which: str = "",
    octave: str = "",
    instrument: str = "",
) -> HTMLResponse:
    return page(
        request,
        "new.html",
        status=200 if error is None else status_of(error),
        title="Bring in a lick",
        text=text,
        text_label="Text tab or ABC",
        text_hint="A counting row in line with the columns (1 & 2 & 3 & 4 &) sets the rhythm;"
        " without one it is worked out from the columns.",
        excerpt=excerpt(text, error) if which == "text" else "",
        preview=preview,
        about=shown,
        accepted=_ACCEPTED,
        text_octave=octave,
        text_instrument=instrument,
        **offered(),
        error=error,
        also=also,
        which=which,
    )


@router.post("/text")
def take_text(request: Request, library: TheLibrary, form: TheForm) -> Response:
    """Keep a typed lick, or show what it would be."""
    text, shown = form.text("text"), _shown(form)
    octave, instrument = form.text("octave").strip(), form.text("instrument").strip()
    try:
        way = octave_of(octave or "written")
        brought, lesson = preview_of(text, shown.tonic or None, way, instrument or None)
        if form.text("do") == "keep":
            kept = shelf.keep(library, brought, _about(shown), again=wants_again(form))
            return RedirectResponse(f"/licks/{kept.id}", 303)
    except AlreadyKept as error:
        return already_page(request, form, error)
    except LinewrightError as error:
        also = _wrong_tonic(shown.tonic)
        if also is not None and str(also) == str(error):
            also = None
        return _new_page(
            request, text, shown=shown, octave=octave, instrument=instrument, error=error,
            also=also, which="text",
        )  # fmt: skip
    return _new_page(
        request, text, shown=shown, octave=octave, instrument=instrument, preview=lesson
    )


def _wrong_tonic(tonic: str) -> LinewrightError | None:
    """What is wrong with a tonic; the text is read first, and its mistake hides the tonic's."""
    try:
        plain_tonic(tonic)
    except LinewrightError as error:
        return error
    return None


# -- files -------------------------------------------------------------------------------
@router.post("/file")
def take_file(request: Request, library: TheLibrary, form: TheForm) -> Response:
    """Read a file: show it, ask which part of it is meant, list its tunes, or keep it."""
    try:
        upload = form.upload()
        choices = choices_of(form)
        tonic = form.optional("file_tonic")
        with upload.reading() as data:
            several = "tune" not in choices and len(contents(data, upload.name)) > 1
        if several:
            return _book_page(request, upload, tonic, choices)
    except LinewrightError as error:
        return _new_page(request, _EXAMPLE, error=error, which="file")
    return _read_file(request, library, form, upload, choices, tonic)


def _read_file(
    request: Request,
    library: Library,
    form: Fields,
    upload: Upload,
    choices: dict[str, str],
    tonic: str | None,
) -> Response:
    do, shown = form.text("do"), _shown(form)
    try:
        options = options_of(choices)
        with upload.reading() as data:
            brought = bring_in(data, upload.name, options=options, tonic=tonic)
        if do == "keep":
            kept = shelf.keep(library, brought, _about(shown), again=wants_again(form))
            return RedirectResponse(f"/licks/{kept.id}", 303)
    except AlreadyKept as there:
        return already_page(request, form, there)
    except ChoiceNeeded as choice:
        return page(
            request,
            "choose.html",
            status=status_of(choice),
            title="Which one?",
            error=choice,
            kind=choice.kind,
            upload=upload,
            choices=choices,
            tonic=tonic,
        )
    except LinewrightError as error:
        return _refused(request, form, upload, choices, tonic, error)
    lick = brought.lick
    if not do:
        shown = _Shown(lick.title, lick.style or "", ", ".join(lick.tags), lick.source or "")
    return _review_page(request, brought, upload, choices, tonic, shown)


def _refused(
    request: Request,
    form: Fields,
    upload: Upload,
    choices: dict[str, str],
    tonic: str | None,
    error: LinewrightError,
) -> HTMLResponse:
    """What was wrong: with the review's fields, said there; with the file, where it was chosen."""
    if form.text("do"):
        own = {name: value for name, value in choices.items() if name not in FIELDS}
        try:
            plain = bring_in(upload.data, upload.name, options=options_of(own), tonic=tonic)
        except LinewrightError:
            pass
        else:
            return _review_page(request, plain, upload, choices, tonic, _shown(form), error)
    return _new_page(request, _EXAMPLE, error=error, which="file")


def _review_page(
    request: Request,
    brought: BroughtIn,
    upload: Upload,
    choices: dict[str, str],
    tonic: str | None,
    shown: _Shown,
    error: LinewrightError | None = None,
) -> HTMLResponse:
    return page(
        request,
        "review.html",
        status=200 if error is None else status_of(error),
        title=brought.lick.title,
        lesson=make_lesson(brought.lick, analysis=brought.analysis),
        upload=upload,
        choices=choices,
        carried={name: value for name, value in choices.items() if name not in FIELDS},
        about=shown,
        tonic=tonic,
        error=error,
        **offered(),
    )


def _book_page(
    request: Request,
    upload: Upload,
    tonic: str | None,
    choices: dict[str, str],
    *,
    chosen: frozenset[int] = frozenset(),
    error: LinewrightError | None = None,
) -> HTMLResponse:
    return page(
        request,
        "book.html",
        status=200 if error is None else status_of(error),
        title="A tune book",
        upload=upload,
        tunes=contents(upload.data, upload.name),
        chosen=chosen,
        tonic=tonic,
        choices=choices,
        error=error,
        **offered(),
    )


@router.post("/book")
def take_book(request: Request, library: TheLibrary, form: TheForm) -> Response:
    """Keep the chosen tunes of a book and report those that failed."""
    try:
        upload, tonic, choices = form.upload(), form.optional("file_tonic"), choices_of(form)
        chosen = None if form.text("all") else form.numbers("number")
    except LinewrightError as error:
        return _new_page(request, _EXAMPLE, error=error, which="file")
    if chosen is not None and not chosen:
        nothing = OptionError("no tune is chosen", accepted="Tick at least one")
        return _book_page(request, upload, tonic, choices, error=nothing)
    try:
        options = options_of(choices)
        with upload.reading() as data:
            book = bring_in_all(data, upload.name, options=options, tonic=tonic, chosen=chosen)
        tags = shelf.parse_tags(form.text("tags"))
        about = About(style=form.optional("style"), tags=tags or None)
        tunes = tuple(brought for _, brought in book.tunes)
        new, there = (tunes, ()) if wants_again(form) else shelf.sort_out(library, tunes, about)
        ids = shelf.keep_all(library, new, about)
    except LinewrightError as error:
        return _book_page(
            request, upload, tonic, choices, chosen=chosen or frozenset(), error=error
        )
    twins = {id(tune) for _, tune in there}
    numbers = [number for number, tune in book.tunes if id(tune) in twins]
    return page(
        request,
        "brought.html",
        title="Brought in",
        name=upload.name,
        kept=[(number, tune.lick.title) for number, tune in zip(ids, new, strict=True)],
        there=[(number, tune.lick.title) for number, tune in there],
        pairs=[
            *((name, value) for name, value in form.pairs() if name not in ("all", "number")),
            *(("number", str(number)) for number in numbers),
        ],
        failures=book.failures,
    )
