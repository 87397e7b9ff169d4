"""Sound of takes: what a take is played over, what was recorded, and what was written down of it."""

from __future__ import annotations

import re
import struct
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Request
from starlette.background import BackgroundTask
from starlette.responses import FileResponse, JSONResponse, Response

from linewright.errors import NotFound
from linewright.score import Lick
from linewright.services.recording import recorded
from linewright.services.shelf import Library
from linewright.services.sounding import bar_wav, timing_map, warmed
from linewright.services.take_sound import ground_lick, playable, recording_map
from linewright.services.take_view import first_beat
from linewright.services.takes import FORMATS, audio_of
from linewright.web.pages_takes import take_of
from linewright.web.state import library_of

__all__ = ["router"]

router = APIRouter(prefix="/plans/{plan_id}", include_in_schema=False)
TheLibrary = Annotated[Library, Depends(library_of)]
_RANGE: Final = re.compile(r"bytes=(\d{1,12})-(\d{0,12})")
_HEAD = 44
_UNKNOWN = b"\xff\xff\xff\xff"


# -- what a take is played over ----------------------------------------------------------
@router.get("/steps/{step}/take/sound")
def show_ground_map(plan_id: int, step: int, library: TheLibrary, bpm: int) -> JSONResponse:
    """Where the bars of a step's chords sound."""
    sheet = library.plans.get(plan_id).sheet
    here = f"/plans/{plan_id}/steps/{step}/take/sound"
    return JSONResponse(recording_map(sheet, step, bpm, here), background=BackgroundTask(warmed))


@router.get("/steps/{step}/take/sound/{stem}/{index}.wav")
def show_ground_bar(
    plan_id: int, step: int, stem: str, index: int, library: TheLibrary, bpm: int, style: str = ""
) -> Response:
    """One bar of its band, its click or its count-in."""
    lick = ground_lick(library.plans.get(plan_id).sheet, step, bpm)
    return Response(bar_wav(lick, stem, index, style=style), media_type="audio/wav")


# -- what was written down -----------------------------------------------------------------
@router.get("/takes/{take_id}/sound")
def show_take_map(plan_id: int, take_id: int, library: TheLibrary) -> JSONResponse:
    """Where the bars and notes of a take sound, and where its recording has them."""
    take = take_of(library, plan_id, take_id)
    here = f"/plans/{plan_id}/takes/{take_id}"
    told = timing_map(_lick(library, plan_id, take_id), f"{here}/sound")
    if take.verdict is not None and take.lick is not None and take.entry.format != "mid":
        told["recording"] = {
            "address": f"{here}/audio",
            "first_beat_s": first_beat(take.verdict, take.lick),
        }
    return JSONResponse(told, background=BackgroundTask(warmed))


@router.get("/takes/{take_id}/sound.wav")
def show_take_whole(plan_id: int, take_id: int, library: TheLibrary) -> Response:
    """The written take once through, for a page without scripts."""
    return Response(
        recorded(playable(_lick(library, plan_id, take_id)), "wav"), media_type="audio/wav"
    )


@router.get("/takes/{take_id}/sound/{stem}/{index}.wav")
def show_take_bar(
    plan_id: int, take_id: int, stem: str, index: int, library: TheLibrary,
    percent: int = 100, style: str = "",
) -> Response:  # fmt: skip
    """One bar of one stem of it."""
    lick = playable(_lick(library, plan_id, take_id))
    data = bar_wav(lick, stem, index, percent=percent, style=style)
    return Response(data, media_type="audio/wav")


def _lick(library: Library, plan_id: int, take_id: int) -> Lick:
    lick = take_of(library, plan_id, take_id).lick
    if lick is None:
        raise NotFound("this take is not judged, so nothing is written down of it")
    return lick


# -- what was recorded -----------------------------------------------------------------------
@router.get("/takes/{take_id}/audio")
def show_recording(request: Request, plan_id: int, take_id: int, library: TheLibrary) -> Response:
    """The recording as it came."""
    take_of(library, plan_id, take_id)
    path, entry = audio_of(library, take_id)
    media = FORMATS.get(entry.format, FORMATS["bin"])
    with path.open("rb") as file:
        head = file.read(_HEAD)
    if head[36:44] != b"data" + _UNKNOWN:
        return FileResponse(path, media_type=media)
    # Sent while it went on: only now is its length known.
    size = path.stat().st_size - _HEAD
    data = path.read_bytes()
    whole = (
        data[:4]
        + struct.pack("<I", size + 36)
        + data[8:40]
        + struct.pack("<I", size)
        + data[_HEAD:]
    )
    return _ranged(whole, request.headers.get("range", ""), media)


def _ranged(data: bytes, wanted: str, media: str) -> Response:
    """All of it or the part that is asked for (RFC 9110, section 14)."""
    headers = {"accept-ranges": "bytes"}
    match = _RANGE.fullmatch(wanted.strip())
    if match is None:
        return Response(data, media_type=media, headers=headers)
    start = int(match[1])
    end = min(int(match[2]) if match[2] else len(data) - 1, len(data) - 1)
    if start > end:
        headers["content-range"] = f"bytes */{len(data)}"
        return Response(status_code=416, headers=headers)
    headers["content-range"] = f"bytes {start}-{end}/{len(data)}"
    return Response(data[start : end + 1], 206, media_type=media, headers=headers)
