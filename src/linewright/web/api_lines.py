"""The JSON API's lines: made from a kept lick or from a text, by wishes."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import islice
from typing import Annotated, Any, Final

from fastapi import APIRouter, Depends, Query
from pydantic import Field

from linewright.errors import OptionError
from linewright.lines import GRIDS
from linewright.services.bring import bring_text
from linewright.services.making import MOST_STREAM, line_of, parse_mix, stream_bars, stream_dict
from linewright.services.shelf import Library
from linewright.services.wishes import MOST_BARS, Wishes, intensity_of, span_of
from linewright.web.api_models import Neck, Octave, Problem, Source, Strict, Tonic
from linewright.web.state import library_of

__all__ = ["TAG", "router"]

TAG: Final = {"name": "lines", "description": "New lines in the character of a lick."}
router = APIRouter(
    prefix="/api",
    tags=["lines"],
    responses={
        "4XX": {"model": Problem, "description": "What was wrong, where, and what is accepted"}
    },
)
TheLibrary = Annotated[Library, Depends(library_of)]
Degree = Annotated[str | None, Field(max_length=8)]
Share = Annotated[float, Field(ge=0, le=1)]
Grown = Annotated[float, Field(ge=0, le=10)]


class _Asked(Strict):
    """What an address and a body have in common."""

    over: Annotated[
        str,
        Field(
            max_length=2000,
            description="Chords in symbols (`G7 | C7`), numbers (`1 4 5`) or a form's name;"
            " empty for the lick's own",
        ),
    ] = ""
    bars: Annotated[
        int | None, Field(ge=1, le=MOST_BARS, description="Left out: one round of the chords")
    ] = None
    leap: Annotated[int, Field(ge=1, le=24, description="Largest move, in half steps")] = 7
    grid: Annotated[str, Field(max_length=20, description=f"One of {', '.join(GRIDS)}")] = "own"
    seed: Annotated[
        int, Field(ge=0, le=2**53, description="The same wishes and seed make the same line")
    ] = 0
    follow: Annotated[
        str | None,
        Field(max_length=10, description="`home` keeps the frame, `chords` moves it with them"),
    ] = None
    start: Annotated[Degree, Field(description="First note, as `b3` or `G4`")] = None
    landing: Annotated[Degree, Field(description="Last note, as `b3` or `G4`")] = None
    tempo: Annotated[
        float | None, Field(ge=10, le=1000, description="Quarters a minute, for the hand")
    ] = None
    quote: Annotated[
        int, Field(ge=2, le=1000, description="Longest run of the lick that may be quoted")
    ] = 5

    strict: Annotated[
        bool, Field(description="Hit the shares in every line, not only on average")
    ] = False
    swing: Annotated[bool | None, Field(description="Left out: as the lick is")] = None
    low: Annotated[Degree, Field(description="Lowest note, as `G3`")] = None
    high: Annotated[Degree, Field(description="Highest note, as `D5`")] = None

    def plain(self) -> dict[str, Any]:
        """The fields that need no reading."""
        return {name: getattr(self, name) for name in _Asked.model_fields}


class LineWishes(_Asked):
    """What a line is asked to be; every field may be left out."""

    mix: Annotated[
        dict[Annotated[str, Field(max_length=40)], Share] | None,
        Field(
            max_length=60,
            description="Shares of the notes from 0 to 1 by figure (`f1`) or outside note (`b5`),"
            " kind of figure or outside function; what is not named is not used. Left out:"
            " the lick's own mix",
        ),
    ] = None
    lick_in: Annotated[
        tuple[int, int] | None,
        Field(description="First and last bar in which the lick itself stands"),
    ] = None
    intensity: Annotated[
        tuple[Grown, Grown] | None,
        Field(
            description="How much of the mix stands at the start and at the end, as `[0.4, 1.6]`"
        ),
    ] = None

    def wishes(self, hold: Iterable[int] = ()) -> Wishes:
        """As the services take them."""
        span = self.lick_in
        if span is not None and not 1 <= span[0] <= span[1] <= MOST_BARS:
            raise OptionError(
                f"{span[0]} to {span[1]} is not a span of bars", accepted="Give it as [7, 8]"
            )
        mix = None if self.mix is None else tuple(sorted(self.mix.items()))
        return Wishes(
            **self.plain(),
            mix=mix,
            lick_in=span,
            intensity=self.intensity,
            hold=tuple(sorted(set(hold))),
        )


class LineAddress(_Asked):
    """The same wishes in an address: ``mix`` once for each element."""

    mix: Annotated[
        list[Annotated[str, Field(max_length=80)]] | None,
        Field(max_length=60, description="Once for each element, as `b5=10%` or `f1=0.3`"),
    ] = None
    lick_in: Annotated[
        str | None, Field(max_length=12, description="Bars of the lick itself, as `7-8`")
    ] = None
    intensity: Annotated[
        str | None,
        Field(max_length=20, description="Percents of the mix at start and end, as `40-160`"),
    ] = None

    def wishes(self) -> Wishes:
        """As the services take them."""
        mix = None if self.mix is None else tuple(sorted((parse_mix(self.mix) or {}).items()))
        span = span_of(self.lick_in) if self.lick_in else None
        grown = intensity_of(self.intensity) if self.intensity else None
        return Wishes(**self.plain(), mix=mix, lick_in=span, intensity=grown)


Held = Annotated[
    list[Annotated[int, Field(ge=1, le=MOST_BARS)]],
    Field(max_length=MOST_BARS, description="Bars kept from the line before"),
]


class LineBefore(LineWishes):
    """The wishes a line before was made by."""

    hold: Held = Field(default_factory=list)


class LineAsked(LineBefore):
    """Wishes for a line; with ``hold`` also those of the lines before, oldest first."""

    before: Annotated[list[LineBefore], Field(max_length=23)] = Field(default_factory=list)

    def steps(self) -> tuple[Wishes, ...]:
        """The wishes of the lines before, and then these."""
        earlier = tuple(step.wishes(step.hold) for step in self.before)
        return (*earlier, self.wishes(self.hold))


class TextLine(LineAsked):
    """A lick as text, and wishes for a line on it."""

    text: Source
    tonic: Tonic = None
    octave: Octave = "written"
    instrument: Neck = None


@router.get("/licks/{lick_id}/line", summary="A line by its address")
def get_line(
    lick_id: int, library: TheLibrary, asked: Annotated[LineAddress, Query()]
) -> dict[str, Any]:
    """A new line in the character of a lick: its notes, each with ``role`` and ``why``, the
    ``mix`` asked and got, ``seed`` and ``progression``.
    """
    kept = library.get(lick_id)
    return line_of(kept.lick, kept.given_tonic, (asked.wishes(),)).to_dict()


class StreamAddress(LineAddress):
    """Which bars of a stream, and the wishes that make it."""

    from_bar: Annotated[int, Field(ge=1, le=MOST_STREAM, description="First bar wanted")] = 1
    bars: Annotated[int | None, Field(ge=1, le=MOST_BARS, description="How many bars")] = 4


@router.get("/licks/{lick_id}/stream", summary="Bars of a line that never ends")
def get_stream(
    lick_id: int, library: TheLibrary, asked: Annotated[StreamAddress, Query()]
) -> dict[str, Any]:
    """The bars from ``from_bar`` on of a line that never ends, its chords going round: the same
    seed and wishes make the same stream in any portions, so ``from_bar`` set to ``next_bar`` goes
    on without a seam. Onsets are counted from the first bar of the answer.
    """
    kept = library.get(lick_id)
    bars = stream_bars(kept.lick, kept.given_tonic, asked.wishes(), asked.from_bar)
    return stream_dict(list(islice(bars, asked.bars or 4)))


@router.post("/licks/{lick_id}/line", summary="A line on a kept lick")
def make_line(lick_id: int, asked: LineAsked, library: TheLibrary) -> dict[str, Any]:
    """The same by a body; ``hold`` keeps bars of the line that the last of ``before`` made."""
    kept = library.get(lick_id)
    return line_of(kept.lick, kept.given_tonic, asked.steps()).to_dict()


@router.post("/line", summary="A line on a text")
def make_line_on_text(asked: TextLine) -> dict[str, Any]:
    """A text tab, ABC or Linewright JSON in, a line out; nothing is kept."""
    brought = bring_text(asked.text, asked.tonic, asked.octave, asked.instrument)
    return line_of(brought.lick, brought.tonic, asked.steps()).to_dict()
