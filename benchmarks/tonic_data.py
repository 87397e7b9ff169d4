"""music21's tune collections as licks with the key their K: fields claim, and excerpts of them.

Read once by Linewright's own ABC reader and kept in the system's temporary folder. An excerpt is
a span of bars; its evidence is read from the whole tune's grid, once for each span in a run, and
is what :func:`tonic_evidence` finds in the lick cut there (:func:`agreement` holds them together).
"""

from __future__ import annotations

import hashlib
import importlib.util
import pickle
import random
import re
import tempfile
from collections import Counter, defaultdict
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import isclose
from pathlib import Path

from linewright.analysis.tonic_evidence import TonicEvidence, evidence_of, tonic_evidence
from linewright.analysis.tonic_modes import TONIC_MODES
from linewright.errors import LinewrightError
from linewright.formats.abc import read_abc, split_book
from linewright.score import Lick

FOLDERS = {
    "O'Neill's": "oneills1850",
    "Ryan's": "ryansMammoth",
    "Aird's": "airdsAirs",
    "Essen": "essenFolksong",
    "Nottingham": "nottingham-dataset",
}
#: Essen's K: fields give the tonic of its EsAC source, nearly never a mode (a tune in G minor
#: stands as "K: G" with written flats), so its "major" says nothing. Nottingham ships two tunes.
#: Both give their tunes labelled otherwise, and are scored together.
GROUPS = {
    "O'Neill's": ("O'Neill's",),
    "Ryan's": ("Ryan's",),
    "Aird's": ("Aird's",),
    "Essen and Nottingham": ("Essen", "Nottingham"),
}
SEED = 20
LENGTHS = ("whole", 4, 2)
#: First and last bar, or None for a whole tune.
Span = tuple[int, int] | None


@dataclass(frozen=True)
class Labelled:
    """A tune and what its K: field says."""

    group: str
    name: str
    lick: Lick
    tonic: int
    mode: str

    @cached_property
    def shingles(self) -> frozenset[tuple[int, ...]]:
        """Runs of eight melodic intervals, repeated notes passed over."""
        pitches = [self.lick.notes[i].midi for i in self.lick.melody]
        moves = [b - a for a, b in pairwise(pitches) if a != b]
        return frozenset(tuple(moves[i : i + 8]) for i in range(len(moves) - 7))

    def cut(self, span: Span) -> Lick:
        """The lick in a span."""
        return self.lick if span is None else self.lick.slice(*span)

    def evidence(self, span: Span) -> TonicEvidence:
        """The evidence in a span, gathered once."""
        found = self._seen.get(span)
        if found is None:
            found = self._seen[span] = evidence_of(*self._window(span))
        return found

    def size(self, span: Span) -> int:
        """Number of melody notes in a span."""
        return len(self._window(span)[0])

    @cached_property
    def _seen(self) -> dict[Span, TonicEvidence]:
        return {}

    def _window(self, span: Span) -> tuple[list[int], list[int], list[int], list[int]]:
        """Pitches, lengths in ticks, bar numbers and levels, as of the lick cut there."""
        grid, bars = self.lick.grid, self.lick.bars
        chosen = [i for i, b in enumerate(bars) if span is None or span[0] <= b.number <= span[1]]
        start, end = grid.starts[chosen[0]], grid.starts[chosen[-1] + 1]
        shift = max(0, bars[chosen[0]].number - 1) if span else 0
        tune = [i for i in grid.melody if start <= grid.onsets[i] < end]
        return (
            [grid.midis[i] for i in tune],
            [min(grid.ends[i], end) - grid.onsets[i] for i in tune],
            [bars[grid.bars[i]].number - shift for i in tune],
            [grid.levels[i] for i in tune],
        )


def load() -> dict[str, list[Labelled]]:
    """Every tune in the four modes, by group; at least eight notes."""
    found = importlib.util.find_spec("music21")
    corpus = Path(found.submodule_search_locations[0]) / "corpus"
    stamp = hashlib.sha256()
    for path in sorted(Path(__import__("linewright").__file__).parent.glob("formats/abc/*.py")):
        stamp.update(path.read_bytes())
    stamp.update(Path(__file__).read_bytes())
    cache = Path(tempfile.gettempdir()) / f"linewright-tunes-{stamp.hexdigest()[:12]}.pickle"
    if cache.exists():
        return pickle.loads(cache.read_bytes())
    tunes = {
        group: [tune for name in names for tune in _read_folder(group, corpus / FOLDERS[name])]
        for group, names in GROUPS.items()
    }
    cache.write_bytes(pickle.dumps(tunes))
    return tunes


def _read_folder(group: str, folder: Path) -> list[Labelled]:
    tunes = []
    for path in sorted(folder.glob("*.abc")):
        for tune in split_book(path.read_text("utf-8", errors="replace")):
            try:
                lick = read_abc(tune.text)
            except LinewrightError:
                continue
            claimed = re.search(r"(?m)^K:\s*([A-G])", tune.text)
            key = lick.key
            if key is None or claimed is None or key.mode not in TONIC_MODES:
                continue
            if len(lick.notes) >= 8:
                name = f"{path.stem}:{tune.number} {tune.title}"
                tunes.append(Labelled(group, name, lick, key.tonic.number, key.mode))
    return tunes


def labelled(tunes: list[Labelled]) -> list[Labelled]:
    """Those whose label names a mode: of Essen and Nottingham not the majors."""
    return [t for t in tunes if t.mode != "major" or t.group != "Essen and Nottingham"]


def chosen(tunes: list[Labelled]) -> list[Labelled]:
    """Every minor, Dorian and Mixolydian tune, and as many major ones as minor."""
    rng = random.Random(SEED)
    majors = [tune for tune in tunes if tune.mode == "major"]
    others = [tune for tune in tunes if tune.mode != "major"]
    wanted = sum(tune.mode == "minor" for tune in others)
    return [*rng.sample(majors, min(wanted, len(majors))), *others]


def excerpts(tune: Labelled, bars: int | str, count: int = 1) -> list[Span]:
    """Seeded windows of whole bars with at least four notes; the whole tune when it is short."""
    if bars == "whole":
        return [None]
    numbers = [bar.number for bar in tune.lick.bars if bar.number]
    starts = list(range(numbers[0], numbers[-1] - int(bars) + 2)) if numbers else []
    random.Random(f"{SEED} {tune.name} {bars}").shuffle(starts)
    found: list[Span] = []
    for start in starts:
        span = start, start + int(bars) - 1
        if tune.size(span) >= 4:
            found.append(span)
        if len(found) == count:
            break
    return found or [None]


def phrases(tune: Labelled, bars: int | str) -> list[Span]:
    """The tune's last bars, or, beside the whole tune, its two halves."""
    numbers = [bar.number for bar in tune.lick.bars if bar.number]
    last = tune.lick.bar_at(tune.lick.notes[-1].onset).number
    if bars == "whole":
        middle = len(numbers) // 2
        spans = [(1, middle), (middle + 1, numbers[-1])] if len(numbers) >= 8 else []
    else:
        spans = [(last - int(bars) + 1, last)] if last >= int(bars) else []
    return [span for span in spans if tune.size(span) >= (8 if bars == "whole" else 4)]


def agreement(pieces: list[tuple[Labelled, Span]]) -> int:
    """How many spans were compared with the licks cut there; raises at the first that differs."""
    for tune, span in pieces:
        ours, cut = tune.evidence(span), tonic_evidence(tune.cut(span))
        for mine, theirs in ((ours.singles, cut.singles), (ours.pairs, cut.pairs)):
            same = [entry[:-1] for entry in mine] == [entry[:-1] for entry in theirs]
            if not same or not all(
                isclose(a[-1], b[-1], abs_tol=1e-9) for a, b in zip(mine, theirs, strict=True)
            ):
                raise ValueError(f"{tune.name}, bars {span}: the excerpt's evidence differs")
    return len(pieces)


def without_doubles(training: list[Labelled], test: list[Labelled]) -> list[Labelled]:
    """Training tunes that share less than a quarter of their shingles with any test tune.

    The collections print some tunes in common; a tune must not teach its own answer.
    """
    where = defaultdict(list)
    for place, tune in enumerate(test):
        for shingle in tune.shingles:
            where[shingle].append(place)
    kept = []
    for tune in training:
        shared = Counter(p for s in tune.shingles for p in where.get(s, ()))
        if max(shared.values(), default=0) < 0.25 * max(1, len(tune.shingles)):
            kept.append(tune)
    return kept
