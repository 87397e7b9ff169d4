"""Sound for the player: timing maps and bars of sound, of licks, lines and lines without end."""

from __future__ import annotations

from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Request
from starlette.background import BackgroundTask
from starlette.responses import JSONResponse, Response

from linewright.errors import OptionError
from linewright.score import Lick
from linewright.services.line_view import view_of
from linewright.services.making import line_of
from linewright.services.paper import File, safe_name
from linewright.services.recording import kind_of, recorded
from linewright.services.shelf import Kept, Library
from linewright.services.sounding import (
    bar_wav,
    endless_bar,
    endless_map,
    endless_row,
    endless_wav,
    timing_map,
    warmed,
)
from linewright.services.wishes import parse_steps
from linewright.web.pages_lick import file_response
from linewright.web.render import for_page
from linewright.web.state import library_of

__all__ = ["router"]

router = APIRouter(prefix="/licks/{lick_id}", include_in_schema=False)
TheLibrary = Annotated[Library, Depends(library_of)]
#: What an address of sound carries besides the wishes of a line.
_OWN = ("percent", "style")
_LONGEST_QUERY = 40_000
_MEDIA = {
    "wav": "audio/wav", "flac": "audio/flac", "mp3": "audio/mpeg", "ogg": "audio/ogg",
    "mid": "audio/midi",
}  # fmt: skip


# -- a lick ------------------------------------------------------------------------------
@router.get("/sound")
def show_map(lick_id: int, library: TheLibrary) -> JSONResponse:
    """Where its bars and notes sound."""
    return _map(timing_map(library.get(lick_id).lick, f"/licks/{lick_id}/sound"))


@router.get("/sound.wav")
def show_whole(lick_id: int, library: TheLibrary) -> Response:
    """The lick once through, for a page without scripts."""
    return _audio(recorded(library.get(lick_id).lick, "wav"))


@router.get("/sound.{kind}")
def show_recording(lick_id: int, kind: str, library: TheLibrary, band: str = "") -> Response:
    """The lick as a sound file or multi-track MIDI to take along."""
    lick = library.get(lick_id).lick
    name = f"{safe_name(lick.title)}{'-band' if band else ''}.{kind_of(f'x.{kind}')}"
    data = recorded(lick, kind_of(name), band=band or None, count_in=1 if band else 0)
    return file_response(File(data, name, _MEDIA[kind_of(name)]))


@router.get("/sound/{stem}/{index}.wav")
def show_bar(
    lick_id: int, stem: str, index: int, library: TheLibrary, percent: int = 100, style: str = ""
) -> Response:
    """One bar of one stem."""
    lick = library.get(lick_id).lick
    return _audio(bar_wav(lick, stem, index, percent=percent, style=style))


# -- a line ------------------------------------------------------------------------------
@router.get("/lines/sound")
def show_line_map(request: Request, lick_id: int, library: TheLibrary) -> JSONResponse:
    """Where the line of the wishes sounds."""
    _, line, query = _line(request, library, lick_id)
    return _map(timing_map(line, f"/licks/{lick_id}/lines/sound", query))


@router.get("/lines/sound/{stem}/{index}.wav")
def show_line_bar(
    request: Request, lick_id: int, stem: str, index: int, library: TheLibrary,
    percent: int = 100, style: str = "",
) -> Response:  # fmt: skip
    """One bar of one stem of it."""
    _, line, _ = _line(request, library, lick_id)
    return _audio(bar_wav(line, stem, index, percent=percent, style=style))


def _wished(request: Request) -> tuple[list[tuple[str, str]], str]:
    """The wishes of an address of sound, and the query that says them alone."""
    if len(request.url.query) > _LONGEST_QUERY:
        raise OptionError("these wishes are too long to read", accepted="Begin anew")
    pairs = [pair for pair in request.query_params.multi_items() if pair[0] not in _OWN]
    return pairs, urlencode(pairs)


def _line(request: Request, library: Library, lick_id: int) -> tuple[Kept, Lick, str]:
    kept = library.get(lick_id)
    pairs, query = _wished(request)
    return kept, line_of(kept.lick, kept.given_tonic, parse_steps(pairs)).lick, query


# -- a line without end ------------------------------------------------------------------
@router.get("/lines/endless")
def show_endless_map(request: Request, lick_id: int, library: TheLibrary) -> JSONResponse:
    """How a line without end goes; its bars come one by one."""
    kept = library.get(lick_id)
    pairs, query = _wished(request)
    here = f"/licks/{lick_id}/lines/endless"
    wishes = parse_steps(pairs)[-1]
    return JSONResponse(endless_map(kept.lick, kept.given_tonic, wishes, here, query))


@router.get("/lines/endless/bar/{index}")
def show_endless_bar(
    request: Request, lick_id: int, index: int, library: TheLibrary
) -> JSONResponse:
    """A bar of it: its notes in time, engraved."""
    kept = library.get(lick_id)
    pairs, _ = _wished(request)
    line = endless_bar(kept.lick, kept.given_tonic, parse_steps(pairs)[-1], index)
    row: dict[str, Any] = endless_row(line, index)
    return JSONResponse({**row, "svg": for_page(view_of(line, ("narrow",)).narrow)})


@router.get("/lines/endless/{stem}/{index}.wav")
def show_endless_sound(
    request: Request, lick_id: int, stem: str, index: int, library: TheLibrary,
    percent: int = 100, style: str = "",
) -> Response:  # fmt: skip
    """A bar of one stem of it."""
    kept = library.get(lick_id)
    pairs, _ = _wished(request)
    wishes = parse_steps(pairs)[-1]
    return _audio(
        endless_wav(kept.lick, kept.given_tonic, wishes, stem, index, percent=percent, style=style)
    )


def _map(told: dict[str, Any]) -> JSONResponse:
    return JSONResponse(told, background=BackgroundTask(warmed))


def _audio(data: bytes) -> Response:
    # The page keeps what it plays; the address of a changed lick is the same.
    return Response(data, media_type="audio/wav")
