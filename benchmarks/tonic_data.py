"""music21's tune collections as licks with the key their K: fields claim, and excerpts of them.

Read once by Linewright's own ABC reader and kept in the system's temporary folder.
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
from pathlib import Path

from linewright.analysis.tonic_evidence import TONIC_MODES
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


def chosen(tunes: list[Labelled]) -> list[Labelled]:
    """Every minor, Dorian and Mixolydian tune, and as many major ones as minor."""
    rng = random.Random(SEED)
    majors = [tune for tune in tunes if tune.mode == "major"]
    others = [tune for tune in tunes if tune.mode != "major"]
    wanted = sum(tune.mode == "minor" for tune in others)
    return [*rng.sample(majors, min(wanted, len(majors))), *others]


def excerpts(tune: Labelled, bars: int | str, count: int = 1) -> list[Lick]:
    """Seeded windows of whole bars with at least four notes; the whole tune when it is short."""
    if bars == "whole":
        return [tune.lick]
    numbers = [bar.number for bar in tune.lick.bars if bar.number]
    starts = list(range(numbers[0], numbers[-1] - int(bars) + 2)) if numbers else []
    random.Random(f"{SEED} {tune.name} {bars}").shuffle(starts)
    found: list[Lick] = []
    for start in starts:
        piece = tune.lick.slice(start, start + int(bars) - 1)
        if len(piece.melody) >= 4:
            found.append(piece)
        if len(found) == count:
            break
    return found or [tune.lick]


def phrases(tune: Labelled, bars: int | str) -> list[Lick]:
    """The tune's last bars, or, beside the whole tune, its two halves."""
    numbers = [bar.number for bar in tune.lick.bars if bar.number]
    last = tune.lick.bar_at(tune.lick.notes[-1].onset).number
    if bars == "whole":
        middle = len(numbers) // 2
        spans = [(1, middle), (middle + 1, numbers[-1])] if len(numbers) >= 8 else []
    else:
        spans = [(last - int(bars) + 1, last)] if last >= int(bars) else []
    found = [tune.lick.slice(*span) for span in spans]
    return [piece for piece in found if len(piece.melody) >= (8 if bars == "whole" else 4)]


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
