"""Which wishes clash when no line can meet them all."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from linewright.analysis.prose import join_words
from linewright.errors import OptionError

if TYPE_CHECKING:
    from linewright.lines.model import LineModel
    from linewright.lines.plan import Kept
    from linewright.lines.request import LineRequest
    from linewright.lines.setup import Setup

__all__ = ["explain", "refuse_shares"]

_NEAR_ENOUGH = 0.015
_SIZES = {
    1: "a half step", 2: "a whole step", 3: "a minor 3rd", 4: "a major 3rd", 5: "a 4th",
    6: "a tritone", 7: "a 5th", 8: "a minor 6th", 9: "a 6th", 10: "a minor 7th", 11: "a 7th",
    12: "an octave",
}  # fmt: skip


def explain(
    model: LineModel, request: LineRequest, held: Mapping[int, tuple[Kept, ...]]
) -> OptionError:
    """The error that names a smallest set of wishes no line can meet together.

    Wishes are dropped one at a time; one that can go without making a line possible has no part
    in the clash, the others are all needed for it.
    """
    wishes = _wishes(request, held)
    dropped: set[str] = set()
    for name in wishes:
        if not _possible(model, request, held, dropped | {name}):
            dropped.add(name)
    kept = [words for name, words in wishes.items() if name not in dropped]
    if not kept:
        return OptionError(
            "no line can be made here: the frame has no notes that lie in range and in reach",
            accepted="Widen the range, or choose another key or instrument",
        )
    if len(kept) == 1:
        return OptionError(f"no line can be made with {kept[0]}", accepted="Change that wish")
    listed = join_words(kept)
    return OptionError(
        f"these wishes clash, no line can meet them together: {listed}",
        accepted="Change one of them",
    )


def _wishes(request: LineRequest, held: Mapping[int, tuple[Kept, ...]]) -> dict[str, str]:
    found = {}
    if request.pins or held:
        found["pins"] = "the bars kept to the note"
    if request.range is not None:
        found["range"] = f"the range {request.range[0]} to {request.range[1]}"
    if request.start is not None:
        found["start"] = f"the first note {request.start}"
    if request.landing is not None:
        found["landing"] = f"the last note {request.landing}"
    size = _SIZES.get(request.leap, f"{request.leap} semitones")
    found["leap"] = f"no leap over {size}"
    found["quote"] = f"no more than {request.quote} notes of the lick in a row"
    found["tempo"] = "the tempo, at which the hand cannot move so far"
    return found


def _possible(
    model: LineModel,
    request: LineRequest,
    held: Mapping[int, tuple[Kept, ...]],
    dropped: set[str],
) -> bool:
    changes: dict[str, dict[str, Any]] = {
        "range": {"range": None},
        "start": {"start": None},
        "landing": {"landing": None},
        "leap": {"leap": 24},
        "quote": {"quote": 1000},
        "tempo": {"tempo": 10},
        "pins": {"pins": {}},
    }
    wished = request
    for name in sorted(dropped):
        wished = wished.with_(**changes[name])
    return model.possible(wished, {} if "pins" in dropped else held)


def refuse_shares(model: LineModel, setup: Setup, request: LineRequest) -> None:
    """Raise OptionError when shares asked for are out of reach, saying how far they can go."""
    if setup.tuned is None:
        _refuse_too_much(model, setup)
        return
    got = setup.tuned.expected.mean(axis=0)
    missed = [
        name
        for name, share in zip(setup.names, got, strict=True)
        if abs(share - setup.asked[name]) > _NEAR_ENOUGH
    ]
    if not missed:
        return
    _refuse_too_much(model, setup)
    needed = [name for name in setup.names if _frees(model, request, name)]
    shares = [f"{name} at {setup.asked[name]:.0%}" for name in needed or missed]
    together = " and ".join([", ".join(shares[:-1]), shares[-1]] if len(shares) > 1 else shares)
    reached = ", ".join(f"{name} {share:.0%}" for name, share in zip(setup.names, got, strict=True))
    raise OptionError(
        f"no mix has {together} together" if len(shares) > 1 else f"no mix has {together}",
        accepted=f"The nearest that can be is {reached}",
    )


def _refuse_too_much(model: LineModel, setup: Setup) -> None:
    over = []
    for name in setup.names:
        most = setup.most(name)
        if setup.asked[name] > most + 0.005:
            why = "" if most else _no_chord(model, setup, name)
            over.append(f"{name} can have at most {most:.0%} of these notes{why}")
    if over:
        raise OptionError(
            f"the mix asks for more than can be: {'; '.join(over)}",
            accepted="Ask for less, name the outside notes a figure goes through, or change the leap"
            " limit, the grid or the chords",
        )


def _no_chord(model: LineModel, setup: Setup, name: str) -> str:
    """Why an outside note has no room, where that is for want of a chord like those it was heard over."""
    element = next(e for e in model.elements if e.name == name)
    uses = [model.uses[k] for k in element.uses]
    if element.plans or not uses or not all(use.over for use in uses):
        return ""
    slots = {(slot.chord, slot.frame.tonic.number) for slot in setup.plan.slots}
    if any(
        like.fits(chord, tonic + use.above)
        for use in uses
        for like in use.over
        for chord, tonic in slots
    ):
        return ""
    notes = model.analysis.notes
    heard = dict.fromkeys(str(notes[i].chord) for use in uses for i in use.notes)
    return f" (the lick has it over {join_words(heard)}, and no chord here is like that)"


def _frees(model: LineModel, request: LineRequest, name: str) -> bool:
    """Whether the other shares can be had without this one."""
    others = {other: share for other, share in (request.mix or {}).items() if other != name}
    return model.reaches(request.with_(mix=others))
