"""The parse: the cheapest explanation of a melody by figures and plain notes.

The cost of a parse is a sum over its spans, so the cheapest one is found exactly by dynamic
programming over the notes. The dictionary of returning cells is chosen around it: entries
come in by their promise and go out when the parse is cheaper without them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from linewright.analysis.figures.cells import adjacent_cells
from linewright.analysis.figures.distant import Entry, entries
from linewright.analysis.figures.places import Places
from linewright.analysis.figures.plain import PlainCode, plain_code
from linewright.analysis.figures.prices import Candidate, Detail
from linewright.analysis.figures.runs import runs
from linewright.analysis.figures.views import Views

__all__ = ["Parsed", "best_spans", "candidates", "parse"]

_ROUNDS = 3


@dataclass(frozen=True, slots=True)
class Parsed:
    """One figure of the parse: its spans as (first note, notes past the last) and how they are
    made; ``saving`` in bits, everything paid.
    """

    kind: str
    detail: Detail
    spans: tuple[Candidate, ...]
    saving: float


def candidates(views: Views, plain: PlainCode, *, arpeggio_frame: bool = False) -> list[Candidate]:
    """Every self-contained candidate that saves anything before its place is paid."""
    found = [*adjacent_cells(views, plain), *runs(views, plain, arpeggio_frame=arpeggio_frame)]
    return [c for c in found if c.saving > 0]


def best_spans(
    count: int, spans: Iterable[tuple[int, int, float]]
) -> tuple[float, list[tuple[int, int, float]]]:
    """The set of spans that do not overlap and save most in all (weighted interval scheduling).

    Parameters
    ----------
    count : int
        Number of notes.
    spans : iterable of (first, end, saving)

    Returns
    -------
    tuple
        The total saving and the spans chosen, in order.
    """
    ending: dict[int, list[tuple[int, int, float]]] = defaultdict(list)
    for span in spans:
        ending[span[1]].append(span)
    best = [0.0] * (count + 1)
    chosen: list[tuple[int, int, float] | None] = [None] * (count + 1)
    for end in range(1, count + 1):
        best[end] = best[end - 1]
        for span in ending.get(end, ()):
            total = best[span[0]] + span[2]
            if total > best[end] + 1e-9:
                best[end], chosen[end] = total, span
    out = []
    at = count
    while at > 0:
        span_here = chosen[at]
        if span_here is None:
            at -= 1
        else:
            out.append(span_here)
            at = span_here[0]
    return best[count], out[::-1]


def parse(views: Views, *, arpeggio_frame: bool = False) -> list[Parsed]:
    """The figures of a melody, in order of their first note."""
    if views.count < 4:
        return []
    plain = plain_code(views)
    alone = candidates(views, plain, arpeggio_frame=arpeggio_frame)
    figures: list[Parsed] = []
    dictionary: list[Entry] | None = None
    for _ in range(_ROUNDS):
        places = Places(views, len(figures))
        if dictionary is None:
            dictionary = entries(views, plain, places)
        found = _with_dictionary(views.count, alone, dictionary, places)
        if len(found) == len(figures):
            return found
        figures = found
    return figures


def _solve(
    count: int, alone: Sequence[Candidate], dictionary: Sequence[Entry], places: Places
) -> tuple[float, list[Parsed]]:
    """The cheapest parse with every entry of the dictionary paid for."""
    keyed: dict[tuple[int, int], tuple[float, Candidate, int]] = {}
    offers = [(c, -1, c.saving - places.bits(c.start, c.end)) for c in alone]
    for number, entry in enumerate(dictionary):
        first = entry.detail.copies[0].start
        for c in entry.uses:
            place = (
                places.bits(c.start, c.end)
                if c.start == first
                else places.again_bits(first, c.start, c.end)
            )
            offers.append((c, number, c.saving - place))
    for candidate, entry_number, saving in offers:
        key = candidate.start, candidate.end
        if saving > 0 and (key not in keyed or keyed[key][0] < saving):
            keyed[key] = saving, candidate, entry_number
    total, spans = best_spans(count, [(*key, value[0]) for key, value in keyed.items()])
    parsed: list[Parsed] = []
    used: dict[int, list[Candidate]] = defaultdict(list)
    gains: dict[int, float] = defaultdict(float)
    for start, end, saving in spans:
        _, candidate, number = keyed[start, end]
        if number < 0:
            parsed.append(Parsed(candidate.kind, candidate.detail, (candidate,), saving))
        else:
            used[number].append(candidate)
            gains[number] += saving
    for number, chosen in used.items():
        entry = dictionary[number]
        parsed.append(Parsed(entry.kind, entry.detail, tuple(chosen), gains[number] - entry.price))
    return total - sum(e.price for e in dictionary), sorted(parsed, key=lambda p: p.spans[0].start)


def _with_dictionary(
    count: int, alone: Sequence[Candidate], dictionary: Sequence[Entry], places: Places
) -> list[Parsed]:
    kept = list(dictionary)
    best, parsed = _solve(count, alone, kept, places)
    while kept:
        worth = {p.detail: p for p in parsed if _occurrences(p) > 1}
        fair = [e for e in kept if e.detail in worth and worth[e.detail].saving > 0]
        if len(fair) < len(kept):
            kept = fair
            best, parsed = _solve(count, alone, kept, places)
            continue
        weakest = sorted(kept, key=lambda e: worth[e.detail].saving)[:6]
        for entry in weakest:
            fewer = [e for e in kept if e is not entry]
            total, other = _solve(count, alone, fewer, places)
            if total >= best:
                kept, best, parsed = fewer, total, other
                break
        else:
            break
    return parsed


def _occurrences(parsed: Parsed) -> int:
    return sum(len(span.detail.copies) for span in parsed.spans)
