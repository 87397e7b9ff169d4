"""Making lines from a lick: the use cases behind the command, the page and the JSON API."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from fractions import Fraction
from functools import lru_cache
from typing import Any, Final, Literal, TypeVar

from linewright.errors import OptionError
from linewright.lines import Line, LineModel, LineRequest, line_model, parse_progression
from linewright.score import Lick, outline
from linewright.services.bring import BroughtIn, made_of
from linewright.services.shelf import About, Kept, Library, keep
from linewright.services.wishes import MOST_BARS, Steps, Wishes, trimmed
from linewright.theory import Pitch

__all__ = [
    "MOST_STREAM",
    "Teaching",
    "keep_line",
    "line_of",
    "make_line",
    "nearer",
    "parse_mix",
    "range_of",
    "request_of",
    "stream_bars",
    "stream_dict",
    "teaching_of",
    "with_lick_in",
]

_USUAL_BARS: Final = 8
#: Last bar a stream may be asked to begin at; the bars before it are made on the way.
MOST_STREAM: Final = 10_000
#: Streams kept open, and bars kept of each for whoever asks again.
_STREAMS: Final = 8
_STREAM_KEPT: Final = 64
_Found = TypeVar("_Found")


class Teaching:
    """What one lick teaches a line, kept at hand for the next line.

    The model keeps what it worked out for its last requests and is not made for several threads
    at once, so it is used in turn.
    """

    def __init__(self, lick: Lick, tonic: str | None) -> None:
        self.analysis = made_of(lick, tonic)
        self._model: Final = line_model(self.analysis)
        self._turn = threading.Lock()

    def use(self, ask: Callable[[LineModel], _Found]) -> _Found:
        """What ``ask`` gets from the model."""
        with self._turn:
            return ask(self._model)


@lru_cache(maxsize=16)
def teaching_of(lick: Lick, tonic: str | None = None) -> Teaching:
    """The line model of a lick; one for each revision of it, the last ones kept at hand.

    Raises
    ------
    OptionError
        When the lick hangs on no frame, so that no line can be made.
    MusicError
        When it has too few notes.
    """
    return Teaching(lick, tonic)


def make_line(brought: BroughtIn, request: LineRequest) -> Line:
    """One line in the character of a lick."""
    return line_model(brought.analysis).sample(request)


def line_of(lick: Lick, tonic: str | None, steps: Steps) -> Line:
    """The line that wishes ask for; the last of ``steps`` may hold bars of the one before it.

    A line depends on nothing else, so the last lines are kept at hand.

    Raises
    ------
    OptionError
        When no line can meet the wishes, saying which of them clash.
    """
    return _line(lick, tonic, trimmed(steps))


@lru_cache(maxsize=64)
def _line(lick: Lick, tonic: str | None, steps: Steps) -> Line:
    now, teaching = steps[-1], teaching_of(lick, tonic)
    request = request_of(teaching, now)
    if not now.hold:
        return teaching.use(lambda model: model.sample(request))
    before = _line(lick, tonic, steps[:-1])
    last = min(request.bars, before.request.bars)
    if now.hold[-1] > last:
        raise OptionError(f"there is no bar {now.hold[-1]} to hold", accepted=f"Use 1 to {last}")
    base = replace(before, request=request)
    return teaching.use(lambda model: model.resample(base, now.hold, seed=request.seed))


def request_of(teaching: Teaching, wishes: Wishes) -> LineRequest:
    """Wishes as the line maker takes them."""
    lick = teaching.analysis.lick
    bars = wishes.bars
    if wishes.over and bars is None:
        over = parse_progression(wishes.over, key=teaching.analysis.tonic)
        bars = min(len(over.bars), MOST_BARS)
    request = LineRequest(
        bars=bars or _USUAL_BARS,
        progression=wishes.over or None,
        seed=wishes.seed,
        mix=dict(wishes.mix) if wishes.mix is not None else None,
        leap=wishes.leap,
        quote=wishes.quote,
        start=wishes.start,
        landing=wishes.landing,
        grid=wishes.grid,
        follow=wishes.follow,
        tempo=wishes.tempo,
        strict=wishes.strict,
        swing=wishes.swing,
        intensity=wishes.intensity,
        range=range_of(lick, wishes.low, wishes.high),
    )
    if wishes.lick_in is None:
        return request
    first, last = wishes.lick_in
    if last > request.bars:
        raise OptionError(
            f"the lick cannot stand in bars {first} to {last}",
            accepted=f"This line has bars 1 to {request.bars}",
        )
    return _with_in(request, lick, first, last)


def range_of(lick: Lick, low: str | None, high: str | None) -> tuple[Pitch, Pitch] | None:
    """Lowest and highest note asked for; one that is not named is the lick's own."""
    if low is None and high is None:
        return None
    heights = sorted(lick.notes, key=lambda note: note.midi)
    return (
        Pitch.parse(low) if low else heights[0].pitch,
        Pitch.parse(high) if high else heights[-1].pitch,
    )


def nearer(
    lick: Lick, tonic: str | None, steps: Steps, way: Literal["simpler", "harder", "like"]
) -> Steps:
    """The steps with the last wishes one step simpler or harder, or with what this line is for
    its wishes: its shares in whole percents, its range, and another seed.
    """
    line, teaching = line_of(lick, tonic, steps), teaching_of(lick, tonic)
    *before, now = steps
    if way == "like":
        heights = sorted((note.pitch for note in line.lick.notes), key=lambda pitch: pitch.midi)
        mix = tuple(sorted((name, round(share, 2)) for name, share in line.got.items()))
        wishes = now.with_(
            mix=mix or None, low=heights[0].name, high=heights[-1].name, seed=now.seed + 1
        )
        return (*before, wishes)
    found = teaching.use(
        lambda model: model.simpler(line) if way == "simpler" else model.harder(line)
    ).request
    changes: dict[str, object] = {"leap": found.leap, "grid": found.grid}
    if found.mix is not None:
        named = sorted((name, int(share * 100) / 100) for name, share in found.mix.items())
        changes["mix"] = tuple(named) or None
    return (*before, now.with_(**changes))


@dataclass(eq=False)
class _Stream:
    """A stream that goes on where it was left: bars made, the first one's number, and the rest."""

    rest: Iterator[Line]
    first: int = 1
    made: list[Line] = field(default_factory=list)

    @property
    def next(self) -> int:
        """Number of the bar to be made next."""
        return self.first + len(self.made)


_streams: Final[OrderedDict[tuple[Lick, str | None, Wishes], _Stream]] = OrderedDict()
_streams_turn: Final = threading.Lock()


def stream_bars(lick: Lick, tonic: str | None, wishes: Wishes, from_bar: int = 1) -> Iterator[Line]:
    """Bars of a stream without end, each a line of its own that goes on from the one before.

    The bars are numbered through and depend on nothing but the lick and the wishes: asked for
    in any portions they are the same, and the chords go round and round. Pins, held bars, the
    last note and intensity belong to lines with an end and are left out.

    Raises
    ------
    OptionError
        For a bar that there is not, or wishes no line can meet.
    """
    if not 1 <= from_bar <= MOST_STREAM:
        raise OptionError(
            f"a stream from bar {from_bar}", accepted=f"Use a bar from 1 to {MOST_STREAM}"
        )
    asked = wishes.with_(bars=None, lick_in=None, hold=(), strict=False)
    number = from_bar
    while True:
        yield _streamed(lick, tonic, asked, number)
        number += 1


def _streamed(lick: Lick, tonic: str | None, wishes: Wishes, number: int) -> Line:
    """One bar of a stream; the last streams are kept open to go on from."""
    teaching = teaching_of(lick, tonic)
    request = request_of(teaching, wishes)

    def ask(model: LineModel) -> Line:
        with _streams_turn:
            key = (lick, tonic, wishes)
            stream = _streams.pop(key, None)
            if stream is None or number < stream.first:
                stream = _Stream(model.stream(request))
            while stream.next <= number:
                stream.made.append(next(stream.rest))
                if len(stream.made) > _STREAM_KEPT:
                    del stream.made[0]
                    stream.first += 1
            _streams[key] = stream
            while len(_streams) > _STREAMS:
                _streams.popitem(last=False)
            return stream.made[number - stream.first]

    return teaching.use(ask)


def stream_dict(bars: Sequence[Line]) -> dict[str, Any]:
    """Bars of a stream joined, as JSON values: a line's, its bars numbered as in the stream."""
    first = bars[0].lick
    begin, at = first.bars[0].number, Fraction(0)
    chords: list[dict[str, Any]] = []
    notes: list[dict[str, Any]] = []
    for bar in bars:
        found = bar.to_dict()
        for row in (*found["chords"], *found["notes"]):
            row["onset"] = str(Fraction(row["onset"]) + at)
        for row in found["notes"]:
            row["index"] = len(notes)
            notes.append(row)
        chords += found["chords"]
        at += bar.lick.length
    return {
        **outline(first),
        "bars": len(bars),
        "from_bar": begin,
        "next_bar": begin + len(bars),
        "length": str(at),
        "chords": chords,
        "notes": notes,
        "seed": bars[0].seed,
        "progression": bars[0].progression.to_dict(),
    }


def keep_line(
    library: Library,
    lick: Lick,
    tonic: str | None,
    steps: Steps,
    title: str | None = None,
    *,
    again: bool = True,
    now: datetime | None = None,
) -> Kept:
    """Make a line and put it into the library as a lick of its own, tagged ``line``; AlreadyKept
    when it is there and not to be kept ``again``.

    It is read against the line's home where its notes alone would be read otherwise.
    """
    line = line_of(lick, tonic, steps)
    made = line.lick.with_(title=f"{line.lick.title}, seed {line.seed}", tags=("line",))
    key = line.progression.key
    home = key.tonic if key else teaching_of(lick, tonic).analysis.tonic
    found = made_of(made)
    given = None if found.tonic.number == home.number else home.name
    brought = BroughtIn(made, made_of(made, given) if given else found, given)
    return keep(library, brought, About(title=title), again=again, now=now)


def with_lick_in(request: LineRequest, brought: BroughtIn, first: int, last: int) -> LineRequest:
    """The request with the lick itself standing in bars ``first`` to ``last``."""
    return _with_in(request, brought.analysis.lick, first, last)


def _with_in(request: LineRequest, lick: Lick, first: int, last: int) -> LineRequest:
    whole = [bar.number for bar in lick.bars if bar.number]
    count = last - first + 1
    if not 1 <= count <= len(whole):
        raise OptionError(
            f"the lick has {len(whole)} full {'bar' if len(whole) == 1 else 'bars'},"
            f" so it cannot fill bars {first} to {last}",
            accepted=f"Keep up to {len(whole)} bars, as in {first}-{first + len(whole) - 1}",
        )
    return request.with_(pins={first: lick.slice(1, count)})


def parse_mix(wishes: Iterable[str]) -> dict[str, float] | None:
    """Read ``b5=10%`` or ``f1=0.3``; None for no wishes.

    >>> parse_mix(["b5=10%", "sequence=0.5"])
    {'b5': 0.1, 'sequence': 0.5}
    """
    mix: dict[str, float] = {}
    for wish in wishes:
        name, sign, share = wish.partition("=")
        number = share.strip().removesuffix("%")
        try:
            value = float(number) / (100 if share.strip().endswith("%") else 1)
        except ValueError:
            value = -1.0
        if not sign or not name.strip() or not 0 <= value <= 1:
            raise OptionError(
                f"the wish {wish!r} is not a share of the notes",
                accepted="Write it as b5=10% or f1=0.3",
            )
        mix[name.strip()] = value
    return mix or None
