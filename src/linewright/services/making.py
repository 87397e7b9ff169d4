"""Making lines from a lick."""

from __future__ import annotations

from collections.abc import Iterable

from linewright.errors import OptionError
from linewright.lines import Line, LineRequest, line_model
from linewright.services.bring import BroughtIn

__all__ = ["make_line", "parse_mix", "with_lick_in"]


def make_line(brought: BroughtIn, request: LineRequest) -> Line:
    """One line in the character of a lick."""
    return line_model(brought.analysis).sample(request)


def with_lick_in(request: LineRequest, brought: BroughtIn, first: int, last: int) -> LineRequest:
    """The request with the lick itself standing in bars ``first`` to ``last``."""
    lick = brought.analysis.lick
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
