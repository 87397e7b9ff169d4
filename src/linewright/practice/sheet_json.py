"""A plan sheet as JSON values, nothing lost, and back; the keys are documented in docs/plan.md.

What :func:`~linewright.practice.plan_to_dict` gives is for reading; this is for keeping: its music
is in Linewright's own lossless JSON.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields
from fractions import Fraction
from typing import Any, Final, TypeVar

from linewright.errors import LinewrightError, ReadError
from linewright.formats.lickjson import lick_from_dict, lick_to_dict
from linewright.practice.as_json import day_to_dict, done_to_dict
from linewright.practice.model import Allowed, Day, Done, FigureRule, UseRule, Work
from linewright.practice.sheet import Piece, PlanSheet, StepSheet
from linewright.theory import PitchClass

__all__ = ["VERSION", "done_from_dict", "sheet_from_dict", "sheet_to_dict"]

#: Version of the form; a reader refuses a later one.
VERSION: Final = 1
#: Rules that are lists of values of their own.
_LISTS: Final = ("only", "figures", "uses")
_Value = TypeVar("_Value")


def sheet_to_dict(sheet: PlanSheet) -> dict[str, Any]:
    """A plan sheet as plain JSON values."""
    tonic = {} if sheet.tonic is None else {"tonic": sheet.tonic}
    return {
        "plan": VERSION,
        "title": sheet.title,
        "level": sheet.level,
        "length": sheet.length,
        "seed": sheet.seed,
        "beat": str(sheet.beat),
        "lick": lick_to_dict(sheet.lick),
        "steps": [_step_out(step) for step in sheet.steps],
        "schedule": [day_to_dict(day) for day in sheet.schedule],
        "cautions": list(sheet.cautions),
        **tonic,
    }


def _step_out(step: StepSheet) -> dict[str, Any]:
    return {
        "number": step.number,
        "key": step.key,
        "title": step.title,
        "purpose": step.purpose,
        "drills": [_piece_out(piece) for piece in step.drills],
        "examples": [_piece_out(piece) for piece in step.examples],
        "tempo_ladder": list(step.tempo_ladder),
        "done": _done_out(step.done),
        "rules": list(step.rules),
        "if_not": list(step.if_not),
    }


def _piece_out(piece: Piece) -> dict[str, Any]:
    return {
        "title": piece.title,
        "words": piece.words,
        "lick": lick_to_dict(piece.lick),
        "outside": [{"note": index, "degree": degree} for index, degree in piece.outside],
        "reasons": list(piece.reasons),
    }


def sheet_from_dict(data: Any) -> PlanSheet:
    """Read :func:`sheet_to_dict` back.

    Raises
    ------
    ReadError
        For anything else, or a form of a later version.
    """
    if not isinstance(data, Mapping) or data.get("plan") != VERSION:
        raise ReadError(
            "this is not a practice plan that can be read",
            accepted=f'A plan is an object with "plan": {VERSION}',
        )
    return _read(data, _sheet)


def done_from_dict(data: Any) -> Done:
    """The rules of a step, from what ``done`` holds in the JSON of a plan; ReadError otherwise."""
    return _read(data, _done)


def _read(data: Any, kernel: Callable[[Any], _Value]) -> _Value:
    try:
        return kernel(data)
    except (KeyError, TypeError, ValueError, AttributeError, ArithmeticError) as error:
        raise ReadError(
            f"this practice plan is damaged ({type(error).__name__}: {str(error)[:80]})",
            accepted="Make the plan again",
        ) from error
    except LinewrightError as error:
        raise ReadError(f"this practice plan is damaged: {error}") from error


def _sheet(data: Mapping[str, Any]) -> PlanSheet:
    steps = tuple(_step(step) for step in data["steps"])
    if not steps or [step.number for step in steps] != list(range(1, len(steps) + 1)):
        raise ValueError("its steps are not numbered from 1")
    return PlanSheet(
        _text(data["title"]),
        _text(data["level"]),
        _text(data["length"]),
        int(data["seed"]),
        Fraction(_text(data["beat"])),
        lick_from_dict(data["lick"]),
        steps,
        tuple(_day(day) for day in data["schedule"]),
        tuple(map(_text, data["cautions"])),
        _tonic(data.get("tonic")),
    )


def _step(data: Mapping[str, Any]) -> StepSheet:
    ladder = tuple(int(bpm) for bpm in data["tempo_ladder"])
    if not ladder:
        raise ValueError("a step has no tempo")
    return StepSheet(
        int(data["number"]),
        _text(data["key"]),
        _text(data["title"]),
        _text(data["purpose"]),
        tuple(_piece(piece) for piece in data["drills"]),
        tuple(_piece(piece) for piece in data["examples"]),
        ladder,
        _done(data["done"]),
        tuple(map(_text, data["rules"])),
        tuple(map(_text, data["if_not"])),
    )


def _piece(data: Mapping[str, Any]) -> Piece:
    lick = lick_from_dict(data["lick"])
    outside = tuple((int(item["note"]), _text(item["degree"])) for item in data["outside"])
    reasons = tuple(map(_text, data["reasons"]))
    if any(not 0 <= index < len(lick.notes) for index, _ in outside):
        raise ValueError("an outside note that is not there")
    if reasons and len(reasons) != len(lick.notes):
        raise ValueError("reasons for other notes")
    return Piece(_text(data["title"]), _text(data["words"]), lick, outside, reasons)


def _done_out(done: Done) -> dict[str, Any]:
    """As it is shown, with whatever plain values there are besides."""
    plain = {field.name: getattr(done, field.name) for field in fields(Done)}
    return {name: value for name, value in plain.items() if name not in _LISTS} | {
        name: value for name, value in done_to_dict(done).items() if name in _LISTS
    }


def _done(data: Mapping[str, Any]) -> Done:
    """Values that were not thought of when the plan was made have their defaults."""
    plain: dict[str, Any] = {}
    for field in fields(Done):
        if field.name in _LISTS or (field.name not in data and field.default is not MISSING):
            continue
        value = data[field.name]
        is_text = field.name in ("statement", "timing_source")
        if isinstance(value, str) != is_text or isinstance(value, (bool, dict, list)):
            raise TypeError(f"{field.name} is {value!r:.40}")
        if value is None and field.name != "chord_tones":
            raise TypeError(f"{field.name} is missing")
        plain[field.name] = value
    return Done(
        **plain,
        only=tuple(
            Allowed(_maybe(item["over"]), _text(item["tonic"]), tuple(map(_text, item["degrees"])))
            for item in data["only"]
        ),
        figures=tuple(FigureRule(**item) for item in data["figures"]),
        uses=tuple(UseRule(**item) for item in data["uses"]),
    )


def _day(data: Mapping[str, Any]) -> Day:
    work = tuple(
        Work(
            int(item["step"]),
            int(item["minutes"]),
            (int(item["from_bpm"]), int(item["to_bpm"])),
            bool(item["new"]),
        )
        for item in data["work"]
    )
    return Day(int(data["day"]), work, _text(data["words"]))


def _tonic(value: Any) -> str | None:
    return None if value is None else PitchClass.parse(_text(value)).name


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r:.40} is not text")
    return value


def _maybe(value: Any) -> str | None:
    return None if value is None else _text(value)
