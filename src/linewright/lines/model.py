"""LineModel: built from one analysis, it makes lines."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from typing import Any

from linewright.analysis import Analysis
from linewright.errors import MusicError, OptionError
from linewright.fretboard import finger
from linewright.lines.clash import explain, refuse_shares
from linewright.lines.ease import harder_steps, simpler_steps
from linewright.lines.figure_plans import FigurePlan
from linewright.lines.heard import with_notes_heard
from linewright.lines.learn import learn
from linewright.lines.line import Line
from linewright.lines.mix import Element, Proofs
from linewright.lines.plan import Kept, LinePlan, plan_line
from linewright.lines.request import LineRequest
from linewright.lines.rhythms import own_grid
from linewright.lines.setup import (
    Setup,
    allowed,
    make_lattice,
    make_setup,
    make_strict,
    tune_setup,
)
from linewright.lines.streaming import stream
from linewright.lines.usage import OutsideUse
from linewright.lines.write import write_line
from linewright.score import Instrument, Lick

__all__ = ["LineModel", "line_model"]

_KEPT_SETUPS = 8
_KEPT_LATTICES = 6
_KEPT_PROOFS = 16


def line_model(analysis: Analysis, *, instrument: Instrument | None = None) -> LineModel:
    """Learn from one lick how to make lines; where it hangs on no frame, from the notes heard.

    Parameters
    ----------
    analysis : Analysis
    instrument : Instrument, optional
        What the lines are to be played on; the lick's own when None, or a guitar.

    Raises
    ------
    OptionError
        When the lick hangs on no frame and plays more notes than a scale has.
    MusicError
        When the lick has too few notes, or lies out of the instrument's range.
    """
    return LineModel(analysis, instrument)


class LineModel:
    """What one lick taught, ready to make lines.

    Parameters
    ----------
    analysis : Analysis
    instrument : Instrument or None

    Notes
    -----
    A model keeps the lattices and messages of its latest requests, so that another seed or a
    changed share answers at once; lines never depend on what was asked before.
    """

    def __init__(self, analysis: Analysis, instrument: Instrument | None = None) -> None:
        lick = analysis.lick
        if len(lick.melody) < 2:
            raise MusicError("a line needs a lick of at least two notes to learn from")
        self.analysis = analysis = with_notes_heard(analysis)
        placed = lick
        if instrument is not None and instrument != lick.instrument:
            bare = tuple(replace(n, string=None, fret=None) for n in lick.notes)
            placed = finger(lick.with_(notes=bare, instrument=None), instrument)
        elif lick.instrument is None or any(n.string is None for n in lick.notes):
            placed = finger(lick)
        self.placed: Lick = placed
        self._learned = learn(analysis)
        self._setups: dict[Any, Setup] = {}
        self._lattices: dict[Any, Any] = {}
        self._proofs: dict[Any, Proofs] = {}

    # -- what there is -------------------------------------------------------------------
    @property
    def elements(self) -> tuple[Element, ...]:
        """Everything a mix can name: figures and outside degrees first, then their groups."""
        return tuple(self._learned.elements.values())

    @property
    def natural_mix(self) -> dict[str, float]:
        """The lick's own share of every figure and outside degree it teaches."""
        return {e.name: round(e.share, 4) for e in self.elements if not e.group}

    @property
    def figures(self) -> tuple[FigurePlan, ...]:
        """The figures lines can play."""
        return self._learned.plans

    @property
    def uses(self) -> tuple[OutsideUse, ...]:
        """The learned usages of outside notes."""
        return self._learned.uses

    # -- making --------------------------------------------------------------------------
    def sample(self, request: LineRequest | None = None) -> Line:
        """Make one line.

        Raises
        ------
        OptionError
            When no line can meet the wishes, saying which of them clash; when the mix names what
            the lick does not teach, or asks more than can be.
        """
        return self._sample(request or LineRequest(), {})

    def again(self, line: Line) -> Line:
        """Another line with the same wishes: the next seed."""
        return self.sample(line.request.with_(seed=line.seed + 1))

    def resample(self, line: Line, keep_bars: Iterable[int], seed: int | None = None) -> Line:
        """The same wishes with these bars (from 1) of a line held and the rest made anew."""
        wanted = sorted(set(keep_bars))
        for bar in wanted:
            if not 1 <= bar <= line.request.bars:
                raise OptionError(
                    f"there is no bar {bar} to hold", accepted=f"Use 1 to {line.request.bars}"
                )
        held = {bar: _held(line, bar) for bar in wanted if bar not in _pinned_bars(line)}
        request = line.request.with_(seed=line.seed + 1 if seed is None else seed)
        return self._sample(request, held)

    def simpler(self, line: Line) -> Line:
        """The line's wishes made one step simpler, then made anew: smaller leaps, then fewer
        outside notes, then a plainer rhythm.

        Raises
        ------
        OptionError
            When there is nothing simpler.
        """
        grid = self._grid_of(line.request)
        steps = simpler_steps(line.request, line.asked, self._outside, grid)
        return self._eased(steps, "simpler")

    def harder(self, line: Line) -> Line:
        """The line's wishes made one step harder, then made anew."""
        grid = self._grid_of(line.request)
        steps = harder_steps(line.request, line.asked, self._outside, self.natural_mix, grid)
        return self._eased(steps, "harder")

    @property
    def _outside(self) -> frozenset[str]:
        return frozenset(e.name for e in self.elements if e.uses and not e.plans)

    def _eased(self, steps: Iterable[tuple[LineRequest, str]], way: str) -> Line:
        for request, _ in steps:
            found = self._nearest(request)
            if found is not None:
                return found
        raise OptionError(
            f"there is no {way} line under these wishes", accepted="Change one of them by hand"
        )

    def _nearest(self, request: LineRequest) -> Line | None:
        """A line by these wishes, its shares lowered where they cannot be had."""
        with suppress(OptionError):
            return self.sample(request)
        if request.mix is None:
            return None
        try:
            most = self.most(request)
        except OptionError:
            return None
        for part in (0.8, 0.5, 0.25, 0.0):
            mix = {
                name: min(share, (0.9 if name in self._outside else part) * most.get(name, 0.0))
                for name, share in request.mix.items()
            }
            with suppress(OptionError):
                return self.sample(request.with_(mix=mix))
        return None

    def most(self, request: LineRequest | None = None) -> dict[str, float]:
        """The largest share each element can have under the other wishes, by name (groups too)."""
        wished = (request or LineRequest()).with_(mix={e.name: 0.5 for e in self.elements})
        setup = self._ready(self.plan(wished), dict(wished.mix or {}))
        if not setup.possible():
            raise self._clash(wished, {})
        found = dict.fromkeys((e.name for e in self.elements), 0.0)
        found.update({name: setup.most(name) for name in setup.names})
        return found

    def possible(
        self, request: LineRequest, held: Mapping[int, tuple[Kept, ...]] | None = None
    ) -> bool:
        """Whether any line meets the hard wishes of a request (all but the shares)."""
        plan = self.plan(request, held)
        return self._ready(plan, self.mix_of(request)).possible()

    def reaches(self, request: LineRequest) -> bool:
        """Whether the shares a request asks for can all be had on average."""
        wished = request.with_(strict=False)
        mix = self.mix_of(wished)
        key = _key(wished, mix, {})
        if key in self._setups:
            return True
        setup = self._ready(self.plan(wished), mix)
        likewise = _key(wished, {name: float(share > 0) for name, share in mix.items()}, {})
        proofs = self._proofs.pop(likewise, [])[-_KEPT_PROOFS:]
        setup.tuned = tune_setup(setup, self._learned, proofs=proofs)
        if proofs:
            self._proofs[likewise] = proofs
            while len(self._proofs) > _KEPT_PROOFS:
                self._proofs.pop(next(iter(self._proofs)))
        reached = setup.tuned is None or setup.tuned.reached
        if reached and setup.possible_with(setup.tuned):  # kept: the line itself is asked for next
            self._keep(key, setup)
        return reached

    def stream(self, request: LineRequest | None = None) -> Iterator[Line]:
        """Lines of one bar each without end, every one going on from the one before.

        ``bars`` is how far ahead each part is planned; the chords go round and round. Wishes
        about the first note hold at the beginning; there is no last note.
        """
        return stream(self, request or LineRequest())

    def _grid_of(self, request: LineRequest) -> str:
        """The grid of a line: the one asked for, or the lick's own."""
        return own_grid(self.analysis.lick) if request.grid == "own" else request.grid

    # -- inside --------------------------------------------------------------------------
    def mix_of(self, request: LineRequest) -> dict[str, float]:
        """The shares a request asks for, checked."""
        if request.mix is None:
            return self.natural_mix
        for name in request.mix:
            if name not in self._learned.elements:
                listed = ", ".join(self._learned.elements) or "nothing: it keeps to its frame"
                raise OptionError(
                    f"{self.analysis.lick.title} does not teach {name!r}",
                    accepted=f"The mix can name {listed}",
                )
        return {name: float(share) for name, share in request.mix.items()}

    def plan(
        self, request: LineRequest, held: Mapping[int, tuple[Kept, ...]] | None = None
    ) -> LinePlan:
        """A request laid out in time: everything about a line but its notes."""
        return plan_line(self.analysis, self.placed, request, held)

    def _ready(self, plan: LinePlan, mix: Mapping[str, float]) -> Setup:
        """Chains for a plan, on a lattice grown before where one fits."""
        request = plan.request
        frames = [slot.frame for slot in plan.slots]
        plans, uses = allowed(self._learned, mix)
        units = self._learned.common in {slot.duration for slot in plan.slots}
        key = (
            tuple(p.tag for p in plans), uses, request.leap, request.quote, plan.low, plan.high,
            plan.most_frets, plan.moved, plan.frames, request.grid == "cells" or units,
            frozenset(itertools.pairwise(frames)),
        )  # fmt: skip
        lattice = self._lattices.pop(key, None) or make_lattice(self._learned, plan, mix)
        self._lattices[key] = lattice
        while len(self._lattices) > _KEPT_LATTICES:
            self._lattices.pop(next(iter(self._lattices)))
        return make_setup(self._learned, plan, mix, lattice)

    def setup(self, request: LineRequest, held: Mapping[int, tuple[Kept, ...]]) -> Setup:
        """Chains tuned to a request; kept for the next seed when the rhythm does not depend on it."""
        mix = self.mix_of(request)
        key = _key(request, mix, held)
        found = self._setups.pop(key, None)
        if found is None:
            plan = self.plan(request, held)
            found = self._ready(plan, mix)
            found.tuned = None if request.strict else tune_setup(found, self._learned)
            if not found.possible_with(found.tuned):
                raise self._clash(request, held)
            missed = request.strict or (found.tuned and not found.tuned.reached)
            if missed and request.mix is not None:
                self._check_shares(found, request)
            if request.strict and found.names:
                make_strict(found, self._learned)
        self._keep(key, found)
        return found

    def _keep(self, key: Any, setup: Setup) -> None:
        self._setups[key] = setup
        while len(self._setups) > _KEPT_SETUPS:
            self._setups.pop(next(iter(self._setups)))

    def _sample(self, request: LineRequest, held: Mapping[int, tuple[Kept, ...]]) -> Line:
        setup = self.setup(request, held)
        paths = setup.sample(setup.dice(request.seed))
        plan = replace(setup.plan, request=request)
        return write_line(self.analysis, setup, plan, paths)

    def _clash(self, request: LineRequest, held: Mapping[int, tuple[Kept, ...]]) -> OptionError:
        return explain(self, request, held)

    def _check_shares(self, setup: Setup, request: LineRequest) -> None:
        refuse_shares(self, setup, request)


def _key(
    request: LineRequest, mix: Mapping[str, float], held: Mapping[int, tuple[Kept, ...]]
) -> tuple[Any, ...]:
    return (
        request.bars, request.progression, tuple(mix.items()), request.mix is None, request.strict,
        request.leap, request.quote, request.range, request.start, request.landing,
        tuple(sorted(request.pins.items(), key=lambda item: item[0])), request.grid,
        request.swing, request.follow, request.intensity, request.tempo, request.phrase,
        request.held, request.seed if request.grid == "cells" else None,
        tuple(sorted(held.items(), key=lambda item: item[0])),
    )  # fmt: skip


def _pinned_bars(line: Line) -> set[int]:
    found: set[int] = set()
    for start, pin in line.request.pins.items():
        found.update(range(start, start + sum(1 for b in pin.bars if b.number and b.is_full)))
    return found


def _held(line: Line, number: int) -> tuple[Kept, ...]:
    """A bar of a made line as kept notes, onsets counted from its bar line."""
    bar = next(b for b in line.lick.bars if b.number == number)
    groups: dict[Fraction, list[int]] = {}
    for index, note in enumerate(line.lick.notes):
        if bar.onset <= note.onset < bar.end:
            groups.setdefault(note.onset, []).append(index)
    return tuple(
        Kept(
            tuple(
                replace(line.lick.notes[i], onset=line.lick.notes[i].onset - bar.onset)
                for i in group
            ),
            tuple(line.notes[i] for i in group),
        )
        for group in groups.values()
    )
