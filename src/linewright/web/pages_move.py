"""Moving a lick: a page that works by its address alone, keeping and files."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Final
from urllib.parse import parse_qsl, urlencode

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from linewright.errors import AlreadyKept, LinewrightError, OptionError
from linewright.formats import FORMATS
from linewright.fretboard import INSTRUMENTS
from linewright.lines import Moved
from linewright.services.bring import made_of
from linewright.services.lesson import make_score
from linewright.services.moving import (
    MoveWishes,
    changes_of,
    keep_moved,
    move_lick,
    moved_analysis,
)
from linewright.services.paper import download
from linewright.services.shelf import Kept, Library
from linewright.web.already import already_page, wants_again
from linewright.web.forms import Fields, read_form
from linewright.web.pages_lick import file_response
from linewright.web.problems import status_of
from linewright.web.render import page
from linewright.web.state import library_of

__all__ = ["router"]

router = APIRouter(prefix="/licks/{lick_id}/move", include_in_schema=False)
TheLibrary = Annotated[Library, Depends(library_of)]
TheForm = Annotated[Fields, Depends(read_form)]
KEYS: Final = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
_QUALITIES: Final = (("", "as it is"), ("major", "major"), ("dominant", "dominant (7)"),
                     ("minor", "minor"))  # fmt: skip
_OPENS: Final = (("", "as it comes"), ("yes", "wherever there is one"), ("no", "none"))
_TEXTS: Final = ("key", "quality", "instrument", "tuning", "by_beats")
_LONGEST_QUERY: Final = 2000


@router.get("")
def show_move(request: Request, lick_id: int, library: TheLibrary) -> Response:
    """The wishes, and the lick moved where there are any."""
    kept = library.get(lick_id)
    shown: dict[str, str] = {}
    try:
        shown = _fields(request.url.query)
        wishes = _wishes(shown)
        if not wishes.any:
            return _page(request, kept, shown)
        done = move_lick(made_of(kept.lick, kept.given_tonic), wishes)
    except LinewrightError as error:
        return _page(request, kept, shown, error=error)
    return _page(request, kept, shown, done=done)


def _fields(query: str) -> dict[str, str]:
    if len(query) > _LONGEST_QUERY:
        raise OptionError("these wishes are too long to read", accepted="Begin anew")
    try:
        return {name: value.strip() for name, value in parse_qsl(query, max_num_fields=40)}
    except ValueError as error:
        raise OptionError("these wishes cannot be read", accepted="Begin anew") from error


def _wishes(shown: dict[str, str]) -> MoveWishes:
    opened = shown.get("open", "")
    if opened not in ("", "yes", "no"):
        raise OptionError(f"{opened!r:.40} for open strings", accepted="Use yes or no")
    return MoveWishes(
        **{name: shown.get(name, "") for name in _TEXTS},
        position=_number(shown, "position"),
        capo=_number(shown, "capo") or 0,
        open_strings={"yes": True, "no": False}.get(opened),
        octaves=_octaves(shown.get("octaves", "")),
    )


def _number(shown: dict[str, str], name: str) -> int | None:
    text = shown.get(name, "")
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and len(text) < 3):
        raise OptionError(f"{text!r:.40} for the {name}", accepted="Use a fret's number, as in 5")
    return int(text)


def _octaves(text: str) -> int | None:
    if not text:
        return None
    if text.lstrip("+-") not in ("0", "1", "2", "3") or len(text) > 2:
        raise OptionError(f"{text!r:.40} for the octaves", accepted="Use -3 to 3, as in -1")
    return int(text)


def _page(
    request: Request,
    kept: Kept,
    shown: dict[str, str],
    *,
    done: Moved | None = None,
    error: LinewrightError | None = None,
) -> HTMLResponse:
    analysis = made_of(kept.lick, kept.given_tonic)
    asked = {name: value for name, value in shown.items() if value}
    return page(
        request,
        "move.html",
        status=200 if error is None else status_of(error),
        title=f"{kept.lick.title}, moved",
        kept=kept,
        analysis=analysis,
        shown=shown,
        done=done,
        score=make_score(moved_analysis(done.lick, done.tonic.name)) if done else None,
        changes=changes_of(analysis, done) if done else (),
        query=urlencode(asked),
        error=error,
        key_options=_named(KEYS),
        qualities=_QUALITIES,
        opens=_OPENS,
        instrument_options=_named(INSTRUMENTS),
        tunings=sorted({name for kind in INSTRUMENTS.values() for name in kind.tunings}),
        formats=[form for form in FORMATS.values() if form.can_write],
    )


def _named(names: Iterable[str]) -> list[tuple[str, str]]:
    return [("", "as it is"), *((name, name) for name in names)]


@router.post("/keep")
def keep_this(request: Request, lick_id: int, library: TheLibrary, form: TheForm) -> Response:
    """Keep the moved lick of the wishes in the field ``wishes`` as a lick of its own."""
    kept = library.get(lick_id)
    wishes = _wishes(_fields(form.text("wishes")))
    analysis = made_of(kept.lick, kept.given_tonic)
    title, again = form.optional("title"), wants_again(form)
    try:
        made = keep_moved(library, analysis, wishes, title, again=again)
    except AlreadyKept as error:
        return already_page(request, form, error)
    return RedirectResponse(f"/licks/{made.id}", 303)


@router.get("/file/{format}")
def show_moved_file(request: Request, lick_id: int, format: str, library: TheLibrary) -> Response:
    """The moved lick in a format."""
    kept = library.get(lick_id)
    wishes = _wishes(_fields(request.url.query))
    done = move_lick(made_of(kept.lick, kept.given_tonic), wishes)
    return file_response(download(done.lick, format))
