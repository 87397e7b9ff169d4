"""The wishes for one line as a page or a program sends them: plain values, checked, in words.

A line depends on nothing but its lick and its wishes, so wishes are also an address: they are
written as a query string and read back from one. Held bars come from an earlier line; the
lines before are told by their own wishes, oldest first (:class:`Steps`).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final
from urllib.parse import parse_qsl, urlencode

from linewright.errors import OptionError

__all__ = [
    "MOST_BARS",
    "Steps",
    "Wishes",
    "intensity_of",
    "parse_steps",
    "parse_wishes",
    "span_of",
    "steps_text",
    "wishes_query",
]

#: Longest line a page or the JSON API makes at once.
MOST_BARS: Final = 128
_MOST_STEPS: Final = 24
_LONGEST: Final = 30_000
#: In front of an element's name in a query: ``m.b5=12`` wishes 12 % of the notes.
_SHARE: Final = "m."


@dataclass(frozen=True)
class Wishes:
    """What one line is asked to be.

    Parameters
    ----------
    over : str
        Chords as symbols, numbers or a form's name; empty for the lick's own.
    bars : int or None
        None is as long as the chords, or as the lick.
    mix : tuple of (str, float), or None
        Element and its share from 0 to 1, by name; None is the lick's own mix.
    leap, grid, seed, follow, start, landing, tempo, quote, strict, swing, intensity
        As in :class:`linewright.lines.LineRequest`.
    low, high : str or None
        Lowest and highest note; either alone leaves the other as the lick has it.
    lick_in : (int, int) or None
        First and last bar in which the lick itself stands.
    hold : tuple of int
        Bars kept from the line before.
    """

    over: str = ""
    bars: int | None = None
    mix: tuple[tuple[str, float], ...] | None = None
    leap: int = 7
    grid: str = "own"
    seed: int = 0
    follow: str | None = None
    start: str | None = None
    landing: str | None = None
    tempo: float | None = None
    quote: int = 5
    strict: bool = False
    swing: bool | None = None
    intensity: tuple[float, float] | None = None
    low: str | None = None
    high: str | None = None
    lick_in: tuple[int, int] | None = None
    hold: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if self.bars is not None and not 1 <= self.bars <= MOST_BARS:
            raise OptionError(f"{self.bars} bars", accepted=f"Use 1 to {MOST_BARS} bars")
        if len(self.over) > 2000:
            raise OptionError("these chords are too long to read", accepted="Use 2000 characters")

    def with_(self, **changes: object) -> Wishes:
        """A copy with fields replaced."""
        return replace(self, **changes)  # type: ignore[arg-type]


#: The lines a line came from by held bars, oldest first, and the line itself at the end.
Steps = tuple[Wishes, ...]


def parse_wishes(pairs: Iterable[tuple[str, str]]) -> Wishes:
    """Read the fields of a query or form; those it does not know are left alone.

    Raises
    ------
    OptionError
        Naming the field, what it held, and what it takes.
    """
    fields: dict[str, str] = {}
    mix: dict[str, float] = {}
    hold: set[int] = set()
    for name, value in pairs:
        text = value.strip()
        if name == "hold":
            hold.update(_bars(text))
        elif name.startswith(_SHARE) and text:
            mix[name.removeprefix(_SHARE)] = _percent(name.removeprefix(_SHARE), text)
        elif text:
            fields[name] = text
    return Wishes(
        over=" ".join(fields.get("over", "").split()),
        bars=_whole(fields, "bars", 1, MOST_BARS),
        mix=tuple(sorted(mix.items())) or None,
        leap=_whole(fields, "leap", 1, 24, 7) or 7,
        grid=fields.get("grid", "own"),
        seed=_whole(fields, "seed", 0, 2**53, 0) or 0,
        follow=fields.get("follow"),
        start=_short(fields, "start"),
        landing=_short(fields, "landing"),
        tempo=_tempo(fields),
        quote=_whole(fields, "quote", 2, 1000, 5) or 5,
        strict=bool(_word(fields, "strict", _YES_NO)),
        swing=_word(fields, "swing", _YES_NO),
        intensity=intensity_of(fields["intensity"]) if "intensity" in fields else None,
        low=_short(fields, "low"),
        high=_short(fields, "high"),
        lick_in=span_of(fields["lick_in"]) if "lick_in" in fields else None,
        hold=tuple(sorted(hold)),
    )


def wishes_query(wishes: Wishes) -> str:
    """The query that :func:`parse_wishes` reads back; what is as usual is left out.

    >>> wishes_query(Wishes(over="1 4 5", bars=4, mix=(("b5", 0.1),)))
    'over=1+4+5&bars=4&m.b5=10'
    """
    usual = Wishes()
    pairs: list[tuple[str, str]] = []
    for name in (
        "over", "bars", "leap", "grid", "seed", "follow", "start", "landing", "quote", "low", "high",
    ):  # fmt: skip
        value = getattr(wishes, name)
        if value != getattr(usual, name):
            pairs.append((name, str(value)))
    if wishes.strict:
        pairs.append(("strict", "yes"))
    if wishes.swing is not None:
        pairs.append(("swing", "yes" if wishes.swing else "no"))
    if wishes.intensity is not None:
        first, last = wishes.intensity
        pairs.append(("intensity", f"{first * 100:g}-{last * 100:g}"))
    if wishes.tempo is not None:
        pairs.append(("tempo", f"{wishes.tempo:g}"))
    if wishes.lick_in is not None:
        pairs.append(("lick_in", f"{wishes.lick_in[0]}-{wishes.lick_in[1]}"))
    pairs += [(f"{_SHARE}{name}", f"{share * 100:.10g}") for name, share in wishes.mix or ()]
    if wishes.hold:
        pairs.append(("hold", ",".join(map(str, wishes.hold))))
    return urlencode(pairs)


def parse_steps(pairs: Sequence[tuple[str, str]]) -> Steps:
    """The wishes of a query with those of the lines before it, which its field ``from`` tells.

    A line before that only held the same bars is left out: they came to it unchanged.
    """
    now = parse_wishes(pairs)
    if not now.hold:
        return (now,)
    told = next((value for name, value in pairs if name == "from" and value), "")
    if len(told) > _LONGEST:
        raise OptionError("the lines before are too many to read", accepted="Keep one as a lick")
    before = [
        parse_wishes(parse_qsl(part, max_num_fields=200)) for part in told.split("!", _MOST_STEPS)
    ]
    return trimmed((*before, now) if told else (now,))


def trimmed(steps: Steps) -> Steps:
    """The steps without those that matter no more; raises OptionError for held bars of nothing."""
    *before, now = steps
    if not now.hold:
        return (now,)
    if not before:
        raise OptionError(
            "there is no line before to hold bars of", accepted="Make a line first, then hold"
        )
    while len(before) > 1 and set(now.hold) <= set(before[-1].hold):
        before.pop()
    if not before[-1].hold:
        before = before[-1:]
    if len(before) >= _MOST_STEPS:
        raise OptionError(
            f"bars were held {len(before)} times over",
            accepted="Keep a line as a lick, go on there",
        )
    return (*before, now)


def steps_text(steps: Steps) -> str:
    """What the field ``from`` holds for a line that comes after these."""
    return "!".join(wishes_query(step) for step in steps)


def span_of(text: str) -> tuple[int, int]:
    """Read bars ``7-8`` or ``7``."""
    match = re.fullmatch(r"(\d{1,3})(?:\s*(?:-|–|to)\s*(\d{1,3}))?", text.strip(), re.ASCII)
    first, last = (int(match[1]), int(match[2] or match[1])) if match else (0, 0)
    if not 1 <= first <= last:
        raise OptionError(f"{text!r:.40} is not a span of bars", accepted="Write it as 7-8")
    return first, last


def intensity_of(text: str) -> tuple[float, float]:
    """Read ``40-160``: how much of the mix, in percent, stands at the start and at the end.

    >>> intensity_of("40-160")
    (0.4, 1.6)
    """
    match = re.fullmatch(r"(\d{1,4})\s*%?\s*(?:-|–|to)\s*(\d{1,4})\s*%?", text.strip(), re.ASCII)
    first, last = (int(match[1]), int(match[2])) if match else (0, 0)
    if not first + last or max(first, last) > 1000:
        raise OptionError(
            f"{text!r:.40} does not say how the mix grows",
            accepted="Write percents at the start and at the end, as in 40-160",
        )
    return first / 100, last / 100


def _bars(text: str) -> set[int]:
    """Bars as ``1-2, 5``."""
    found: set[int] = set()
    for part in filter(None, (part.strip() for part in text.split(","))):
        first, last = span_of(part)
        if last > MOST_BARS:
            raise OptionError(f"there is no bar {last} to hold", accepted=f"Use 1 to {MOST_BARS}")
        found.update(range(first, last + 1))
    return found


_FIELDS: Final[Mapping[str, str]] = {"bars": "bars", "leap": "the leap", "quote": "the quotation"}


def _whole(
    fields: Mapping[str, str], name: str, low: int, high: int, usual: int | None = None
) -> int | None:
    if name not in fields:
        return usual
    text = fields[name]
    if not re.fullmatch(r"\d{1,16}", text, re.ASCII) or not low <= int(text) <= high:
        raise OptionError(
            f"{text!r:.40} for {_FIELDS.get(name, 'the ' + name)}",
            accepted=f"Use a whole number from {low} to {high}",
        )
    return int(text)


def _percent(name: str, text: str) -> float:
    if not re.fullmatch(r"\d{1,3}(\.\d{0,10})?", text, re.ASCII) or float(text) > 100:
        raise OptionError(
            f"{text!r:.40} as the share of {name[:40]}", accepted="Use 0 to 100, in percent"
        )
    return float(text) / 100


def _tempo(fields: Mapping[str, str]) -> float | None:
    if "tempo" not in fields:
        return None
    text = fields["tempo"]
    if not re.fullmatch(r"\d{1,4}(\.\d{1,3})?", text, re.ASCII) or not 10 <= float(text) <= 1000:
        raise OptionError(f"a tempo of {text!r:.40}", accepted="Use 10 to 1000 quarters a minute")
    return float(text)


_YES_NO: Final[Mapping[str, bool]] = {"yes": True, "no": False}


def _word(fields: Mapping[str, str], name: str, words: Mapping[str, bool]) -> bool | None:
    if name not in fields:
        return None
    if fields[name] not in words:
        raise OptionError(f"{fields[name]!r:.40} for {name}", accepted=f"Use {' or '.join(words)}")
    return words[fields[name]]


def _short(fields: Mapping[str, str], name: str) -> str | None:
    text = fields.get(name)
    if text is not None and len(text) > 8:
        raise OptionError(f"{text!r:.40} is no note or degree", accepted="Write it as 1, b3 or G4")
    return text
