"""What was measured of a rule and what is allowed, in the same words on the page and in a terminal."""

from __future__ import annotations

from typing import Final

__all__ = ["allowed", "late", "measured"]

#: Rules of which there has to be enough; of the others there may not be too much.
_LEAST: Final = frozenset(("flow", "figure", "often", "chords"))
_ONE: Final = {"notes": "note", "leaps": "leap", "bars": "bar", "times": "time"}


def measured(
    key: str, value: float | None, limit: float | None, unit: str, *, passed: bool | None
) -> str:
    """What was measured; a dash where the take cannot tell."""
    if value is None:
        return "–"
    if key == "mean":
        return late(value)
    if key == "flow" and passed and limit is not None:
        return _amount(max(value, limit), unit)  # its last beat apart
    if key == "drift":
        way = "" if abs(value) < 0.5 else " slower" if value > 0 else " faster"
        return _amount(abs(value), "ms") + way
    return _amount(value, unit)


def allowed(key: str, limit: float | None, unit: str) -> str:
    """What the step allows or asks for."""
    if limit is None:
        return "–"
    kind = key.split(" ")[0]
    which = "" if kind == "tempo" else "at least " if kind in _LEAST else "at most "
    return which + _amount(limit, unit)


def late(ms: float) -> str:
    """A distance from the click: ``12 ms late``."""
    if abs(ms) < 0.5:
        return "on time"
    return f"{abs(ms):.0f} ms {'late' if ms > 0 else 'early'}"


def _amount(value: float, unit: str) -> str:
    if unit.startswith("share"):
        return f"{100 * value:.0f} %{unit.removeprefix('share')}"
    # Less than a millisecond is not heard.
    whole = unit == "ms" or abs(value) >= 10 or value == int(value)
    shown = f"{value:.0f}" if whole else f"{value:.1f}"
    return f"{shown} {_ONE.get(unit, unit) if shown == '1' else unit}".strip()
