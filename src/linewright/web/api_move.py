"""The JSON API's moves: the lick itself in another key, quality, position, tuning or place."""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal

from fastapi import APIRouter, Depends, Query
from pydantic import Field

from linewright.services.bring import bring_text, made_of
from linewright.services.moving import MoveWishes, move_lick, moved_dict
from linewright.services.shelf import Library
from linewright.web.api_models import Octave, Problem, Source, Strict, Tonic
from linewright.web.state import library_of

__all__ = ["TAG", "router"]

TAG: Final = {"name": "moves", "description": "A lick in another key, quality, position or place."}
router = APIRouter(
    prefix="/api",
    tags=["moves"],
    responses={
        "4XX": {"model": Problem, "description": "What was wrong, where, and what is accepted"}
    },
)
TheLibrary = Annotated[Library, Depends(library_of)]
Text = Annotated[str, Field(max_length=80)]


class Move(Strict):
    """Where a lick is to be moved; name at least one."""

    key: Annotated[Text, Field(description="Key its home moves to, as `C` or `Bb`")] = ""
    quality: Annotated[
        Literal["", "major", "dominant", "minor"], Field(description="What the home chord becomes")
    ] = ""
    position: Annotated[
        int | None, Field(ge=1, le=36, description="Fret the index finger lies over")
    ] = None
    instrument: Annotated[Text, Field(description="As `mandolin`")] = ""
    tuning: Annotated[Text, Field(description="By name or by strings, low to high")] = ""
    capo: Annotated[int, Field(ge=0, le=12)] = 0
    by_beats: Annotated[
        Text, Field(description="Beats later against the bar, as `1`, `-1` or `1/2`")
    ] = ""
    open: Annotated[
        bool | None, Field(description="With open strings wherever there is one, or without any")
    ] = None
    octaves: Annotated[
        int | None,
        Field(ge=-3, le=3, description="Octaves up or down; else where it lies best"),
    ] = None

    def wishes(self) -> MoveWishes:
        """As the services take them."""
        return MoveWishes(
            self.key, self.quality, self.position, self.instrument, self.tuning, self.capo,
            self.by_beats, self.open, self.octaves,
        )  # fmt: skip


class TextMove(Move):
    """A lick as text, and where to move it."""

    text: Source
    tonic: Tonic = None
    octave: Octave = "written"


@router.get("/licks/{lick_id}/move", summary="A kept lick, moved")
def get_move(lick_id: int, library: TheLibrary, asked: Annotated[Move, Query()]) -> dict[str, Any]:
    """The lick moved: its notes with string and fret, ``words`` for what was done, and
    ``changes``: every note that is another degree now, and why. Nothing is kept.
    """
    kept = library.get(lick_id)
    return moved_dict(move_lick(made_of(kept.lick, kept.given_tonic), asked.wishes()))


@router.post("/move", summary="A text, moved")
def move_text(asked: TextMove) -> dict[str, Any]:
    """The same for a text tab, ABC or Linewright JSON."""
    brought = bring_text(asked.text, asked.tonic, asked.octave)
    return moved_dict(move_lick(brought.analysis, asked.wishes()))
