"""Making lines from a lick: the page that works by its address alone, keeping and files."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, Final, Literal
from urllib.parse import parse_qsl, urlencode, urlsplit

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from linewright.errors import AlreadyKept, LinewrightError, OptionError
from linewright.formats import FORMATS
from linewright.lines import FORMS, GRIDS
from linewright.services.line_view import ElementView, LineView, elements_of, given_way, view_of
from linewright.services.making import keep_line, line_of, nearer, teaching_of
from linewright.services.paper import download
from linewright.services.shelf import Kept, Library
from linewright.services.wishes import (
    MOST_BARS,
    Steps,
    Wishes,
    parse_steps,
    steps_text,
    wishes_query,
)
from linewright.web.already import already_page, wants_again
from linewright.web.forms import Fields, read_form
from linewright.web.pages_lick import file_response
from linewright.web.problems import status_of
from linewright.web.render import page
from linewright.web.state import library_of

__all__ = ["router"]

router = APIRouter(prefix="/licks/{lick_id}/lines", include_in_schema=False)
TheLibrary = Annotated[Library, Depends(library_of)]
TheForm = Annotated[Fields, Depends(read_form)]
LEAPS: Final = (
    (3, "a minor 3rd"), (4, "a major 3rd"), (5, "a 4th"), (7, "a 5th"), (9, "a 6th"),
    (12, "an octave"), (16, "a 10th"),
)  # fmt: skip
_FOLLOW: Final = (("", "as the lick does"), ("home", "no"), ("chords", "yes"))
_SWING: Final = (("", "as the lick is"), ("no", "straight"), ("yes", "swung"))
_GROWTH: Final = (
    ("", "even"), ("40-160", "growing"), ("0-200", "from none to twice"), ("160-40", "fading"),
)  # fmt: skip
_LONGEST_QUERY: Final = 40_000
_DOES: Final = ("another", "simpler", "harder", "like")
Pairs = list[tuple[str, str]]


@dataclass(frozen=True)
class _Made:
    """A line that was made, for the page."""

    steps: Steps
    view: LineView
    query: str


@router.get("")
def show_lines(request: Request, lick_id: int, library: TheLibrary) -> Response:
    """The wishes and the line they make; ``do`` changes the wishes first."""
    kept = library.get(lick_id)
    pairs = request.query_params.multi_items()
    try:
        if len(request.url.query) > _LONGEST_QUERY:
            pairs = []
            raise OptionError("these wishes are too long to read", accepted="Begin anew")
        elements_of(kept.lick, kept.given_tonic, Wishes())
    except LinewrightError as error:
        return _page(request, kept, pairs, error=error, can=False)
    try:
        wished = _wished(pairs)
        do = next((value for name, value in pairs if name == "do"), "")
        if do in _DOES:
            return RedirectResponse(f"{request.url.path}?{_next(kept, wished, do)}", 303)
        steps = given_way(kept.lick, kept.given_tonic, wished)
        line = line_of(kept.lick, kept.given_tonic, steps)
        size = next((value for name, value in pairs if name == "size"), "")
        sizes = (size,) if size in ("wide", "narrow") else ("wide", "narrow")
        view = view_of(line, sizes, teaching_of(kept.lick, kept.given_tonic).analysis)
    except LinewrightError as error:
        return _page(request, kept, pairs, error=error)
    return _page(request, kept, pairs, made=_Made(steps, view, _query(steps, steps[:-1])))


def _wished(pairs: Pairs) -> Steps:
    """The steps of an address; bars it holds that the line no longer has are let go."""
    *before, now = parse_steps(pairs)
    last = now.bars or MOST_BARS
    hold = tuple(bar for bar in now.hold if bar <= last)
    return (*before, now.with_(hold=hold)) if hold else (now.with_(hold=()),)


def _next(kept: Kept, wished: Steps, do: str) -> str:
    """The address of another line, or of a simpler or harder one."""
    *before, now = wished
    if do == "another":
        return _query((*before, now.with_(seed=now.seed + 1)), tuple(before))
    steps = given_way(kept.lick, kept.given_tonic, wished)
    way: Literal["simpler", "harder", "like"] = (
        "simpler" if do == "simpler" else "harder" if do == "harder" else "like"
    )
    return _query(nearer(kept.lick, kept.given_tonic, steps, way), tuple(before))


def _query(steps: Steps, before: Steps) -> str:
    now = steps[-1]
    told = urlencode({"from": steps_text(before)}) if before and now.hold else ""
    return "&".join(filter(None, (wishes_query(now), told)))


def _page(
    request: Request,
    kept: Kept,
    pairs: Pairs,
    *,
    made: _Made | None = None,
    error: LinewrightError | None = None,
    can: bool = True,
) -> HTMLResponse:
    shown = {name: value[:2000] for name, value in pairs}
    elements: tuple[ElementView, ...] = ()
    if can:
        wishes = made.steps[-1] if made else Wishes()
        line = made.view.line if made else None
        elements = elements_of(kept.lick, kept.given_tonic, wishes, line)
    bars = made.view.line.request.bars if made else 0
    return page(
        request,
        "lines.html",
        status=200 if error is None else status_of(error),
        title=f"Lines on {kept.lick.title}",
        kept=kept,
        shown=shown,
        sliders=[(element, _percent(shown, element)) for element in elements],
        held=set(made.steps[-1].hold) if made else set(),
        bars=bars,
        sent=[value[:40] for name, value in pairs if name == "hold"],
        made=made,
        told=steps_text(made.steps) if made else shown.get("from", ""),
        back=_back(request),
        error=error,
        can=can,
        most_bars=MOST_BARS,
        **choices(),
        formats=[form for form in FORMATS.values() if form.can_write],
    )


def choices() -> dict[str, Any]:
    """What the fields of a making form offer."""
    return {
        "forms": FORMS, "grids": GRIDS, "leaps": LEAPS, "follows": _FOLLOW, "swings": _SWING,
        "growths": _GROWTH,
    }  # fmt: skip


def _percent(shown: dict[str, str], element: ElementView) -> str:
    """Where a slider stands: as it was sent, or as the lick has it; at nothing without room."""
    sent = shown.get(f"m.{element.name}", str(element.own))
    return "0" if element.roomless and sent == str(element.own) else sent


def _back(request: Request) -> str:
    """The address this page was reached from, when it was another line on the same lick."""
    parts = urlsplit(request.headers.get("referer", ""))
    here = request.url
    if parts.path != here.path or parts.netloc != here.netloc or parts.query == here.query:
        return ""
    return f"{parts.path}?{parts.query}"


# -- keeping and files -------------------------------------------------------------------
@router.post("/keep")
def keep_this(request: Request, lick_id: int, library: TheLibrary, form: TheForm) -> Response:
    """Keep the line of the wishes in the field ``wishes`` as a lick."""
    kept = library.get(lick_id)
    steps = parse_steps(_pairs(form.text("wishes")))
    title, again = form.optional("title"), wants_again(form)
    try:
        made = keep_line(library, kept.lick, kept.given_tonic, steps, title, again=again)
    except AlreadyKept as error:
        return already_page(request, form, error)
    return RedirectResponse(f"/licks/{made.id}", 303)


@router.get("/file/{format}")
def show_line_file(request: Request, lick_id: int, format: str, library: TheLibrary) -> Response:
    """The line in a format."""
    kept = library.get(lick_id)
    pairs = _pairs(request.url.query)
    line = line_of(kept.lick, kept.given_tonic, parse_steps(pairs))
    return file_response(download(line.lick, format))


def _pairs(query: str) -> Pairs:
    if len(query) > _LONGEST_QUERY:
        raise OptionError("these wishes are too long to read", accepted="Begin anew")
    try:
        return parse_qsl(query, max_num_fields=1000)
    except ValueError as error:
        raise OptionError("these wishes cannot be read", accepted="Begin anew") from error
