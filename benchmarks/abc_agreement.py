"""Our ABC reader against abc2midi (inside symusic) on music21's three old collections.

Run ``python -m benchmarks.abc_agreement [--list] [--limit N]``. For every tune the pitches our
reader gives with ``repeats="play"`` are compared with the notes abc2midi plays. To compare like
with like, both are given the same text with three things changed by plain text rules that do not
use our scanner:

* signs that abc2midi plays as extra notes and that are ornaments to us (T, ~, M, P, roll, trill);
* text in quotes, which abc2midi may turn into an accompaniment;
* ``[|]``, which abc2midi takes for a chord that never ends, becomes a plain bar line.

abc2midi plays each grace note as a note of its own just before its main note, so our graces are
put in the same place. Notes struck together are compared high to low. Where abc2midi splits
voices over tracks, the first track with notes is taken and our first voice is read.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from linewright.errors import ChoiceNeeded, LinewrightError
from linewright.formats.abc import decode, read_abc, split_book
from linewright.score import Lick

COLLECTIONS = ("oneills1850", "ryansMammoth", "airdsAirs")
#: Ornaments abc2midi plays out.
_ORNAMENT = re.compile(r"![^!|\s]{1,20}!|[T~MPRSO](?=[\^_=.uv({\[HL]*[A-Ga-gz])")


@dataclass(frozen=True)
class Case:
    """One tune: where it comes from and the text both programs read."""

    collection: str
    file: str
    number: int
    title: str
    text: str


def corpus() -> Path:
    """Folder of music21's corpus, found without importing music21."""
    import importlib.util

    spec = importlib.util.find_spec("music21")
    if spec is None or spec.origin is None:
        raise SystemExit("music21 is not installed")
    return Path(spec.origin).parent / "corpus"


def plain(text: str) -> str:
    """The tune without the signs abc2midi plays as extra notes, and without quoted text."""
    done = []
    header = True
    for line in text.split("\n"):
        if header or line.startswith("%") or re.match(r"[A-Za-z]:(?![|:])", line):
            header = header and not line.startswith("K:")
            done.append(line)
            continue
        line = re.sub(r'"[^"]*"', "", line)
        line = re.sub(r"\[\|\](?=\s*[:|\[])", "", line).replace("[|]", "|")
        done.append(_ORNAMENT.sub("", line))
    return "\n".join(done)


def cases(collections: tuple[str, ...] = COLLECTIONS) -> Iterator[Case]:
    """Every tune of the collections."""
    for collection in collections:
        for path in sorted((corpus() / collection).glob("*.abc")):
            for tune in split_book(decode(path.read_bytes())):
                yield Case(collection, path.name, tune.number, tune.title, plain(tune.text))


def our_pitches(text: str) -> list[int] | str:
    """Pitches as we read them, graces before their note; an error's words if we refuse."""
    try:
        try:
            lick = read_abc(text, repeats="play")
        except ChoiceNeeded as choice:
            lick = read_abc(text, repeats="play", voice=choice.options[0])
    except LinewrightError as error:
        return str(error)
    return sequence(lick)


def sequence(lick: Lick) -> list[int]:
    """MIDI numbers in playing order, graces before their note."""
    found: list[int] = []
    for note in lick.notes:
        found.extend(grace.pitch.midi for grace in note.grace)
        found.append(note.midi)
    return found


def reference(texts: list[str], workers: int = 2) -> list[list[int] | str]:
    """abc2midi's pitches for many texts; its refusal or crash as words."""
    root = Path(__file__).resolve().parent.parent
    command = [sys.executable, "-m", "benchmarks.abc2midi_worker"]
    shares = [texts[k::workers] for k in range(workers)]

    def answer(share: list[str]) -> list[list[int] | str]:
        lines = "".join(json.dumps(text) + "\n" for text in share)
        done = subprocess.run(
            command, input=lines, capture_output=True, text=True, check=True, cwd=root
        )
        return [json.loads(line) for line in done.stdout.splitlines()]

    with ThreadPoolExecutor(workers) as pool:
        answers = list(pool.map(answer, shares))
    return [answers[i % workers][i // workers] for i in range(len(texts))]


@dataclass(frozen=True)
class Verdict:
    """Whether two readings agree, whether only without graces, and where they part in words."""

    equal: bool
    bare: bool
    words: str = ""


def compare(chosen: list[Case], workers: int = 2) -> list[Verdict]:
    """Hold our reading of each tune against abc2midi's.

    abc2midi drops grace notes that are longer than their main note has time for; tunes that
    differ are compared once more with all graces taken out of the text.
    """
    verdicts: list[Verdict] = []
    again: list[int] = []
    for case, expected in zip(chosen, reference([c.text for c in chosen], workers), strict=True):
        ours = our_pitches(case.text)
        verdicts.append(Verdict(ours == expected, False, _first(ours, expected)))
        if ours != expected and "{" in case.text:
            again.append(len(verdicts) - 1)
    bare = [re.sub(r"\{[^{}]*\}", "", chosen[i].text) for i in again]
    for index, text, expected in zip(again, bare, reference(bare, workers), strict=True):
        if our_pitches(text) == expected:
            verdicts[index] = Verdict(True, True)
    return verdicts


def main(arguments: list[str] | None = None) -> int:
    """Print the agreement per collection; with ``--list`` every tune that differs."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--list", action="store_true", help="name every tune that differs")
    parser.add_argument("--limit", type=int, default=0, help="read only so many tunes")
    options = parser.parse_args(arguments)
    chosen = list(cases())[: options.limit or None]
    verdicts = compare(chosen)
    total = Counter(case.collection for case in chosen)
    equal: Counter[str] = Counter()
    for case, verdict in zip(chosen, verdicts, strict=True):
        equal[case.collection] += verdict.equal
        if options.list and not verdict.equal:
            print(f"{case.collection}/{case.file} {case.number} {case.title}: {verdict.words}")
    for collection in total:
        share = equal[collection] / total[collection]
        print(f"{collection:14} {equal[collection]:5} of {total[collection]:5}  {share:7.2%}")
    share = sum(equal.values()) / max(1, sum(total.values()))
    print(f"{'all':14} {sum(equal.values()):5} of {sum(total.values()):5}  {share:7.2%}")
    bare = sum(verdict.bare for verdict in verdicts)
    print(f"of these {bare} agree once grace notes are taken out of both")
    return 0 if share >= 0.98 else 1


def _first(ours: list[int] | str, theirs: list[int] | str) -> str:
    """Where two readings part, in a few words."""
    if isinstance(ours, str) or isinstance(theirs, str):
        return f"ours {str(ours)[:120]} / theirs {str(theirs)[:60]}"
    at = next((i for i, (a, b) in enumerate(zip(ours, theirs, strict=False)) if a != b), -1)
    at = min(len(ours), len(theirs)) if at < 0 else at
    return (
        f"{len(ours)} against {len(theirs)} notes, from note {at + 1}:"
        f" {ours[at : at + 5]} / {theirs[at : at + 5]}"
    )


if __name__ == "__main__":
    sys.exit(main())
