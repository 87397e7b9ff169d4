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
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from linewright.errors import ChoiceNeeded, LinewrightError
from linewright.formats.abc import decode, read_abc, split_book
from linewright.score import Lick

COLLECTIONS = ("oneills1850", "ryansMammoth", "airdsAirs")
#: Decorations by name, and letters for ornaments that abc2midi plays out.
_NAMED = re.compile(r"![^!|\s]{1,20}!")
_ORNAMENT = re.compile(r"[T~MPRSO](?=[\^_=.uv({\[HL]*[A-Ga-gz])")


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
        done.append(_ORNAMENT.sub("", _NAMED.sub("", line)))
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


#: Comparisons in the order they are tried, and what is changed in the text both programs get.
WAYS = ("as it is", "grace notes taken out", "repeat signs made explicit", "both")


@dataclass(frozen=True)
class Verdict:
    """The first of :data:`WAYS` in which two readings agree, or where they part in words."""

    way: str | None
    words: str = ""


def without_graces(text: str) -> str:
    """The text without grace notes: abc2midi drops those its main note has no time for."""
    return re.sub(r"\{[^{}]*\}", "", text)


_SIGN = re.compile(
    r"(?P<both>::|:\|+:)|(?P<end>:\|+\]?)|(?P<start>\|+:)|(?P<double>\|\||\|\]|\[\|)"
    r"|(?P<ending>\[[123]|\|\s*[123](?!\d))"
)


def explicit(text: str) -> str:
    """The text with a start sign before every repeated strain that lacks one, and none after the
    last ending.

    abc2midi looks for a missing start sign too, but not past an ending (it then leaves the repeat
    out or goes back too far), and it takes ``:|`` after a second ending for a third time.
    """
    head, key, body = text.partition("\nK:")
    line, _, music = body.partition("\n")
    done: list[str] = []
    at = 0
    start_at = 0  # index in ``done`` where a start sign would go
    opened = first = True
    ended = 0  # the ending being read
    for sign in _SIGN.finditer(music):
        done.append(music[at : sign.start()])
        at = sign.end()
        kind, mark = sign.lastgroup, sign[0]
        after_digit = re.match(r"\s*[123](?!\d)", music[at : at + 4])
        if kind == "ending":
            if not opened and not ended:
                done.insert(start_at, "|:")
                opened = True
            ended = int(mark[-1])
        elif kind in ("end", "both"):
            if not opened and not ended:
                done.insert(start_at, "|:")
            if after_digit and kind == "end":
                ended, at = int(after_digit[0]), at + len(after_digit[0])
                done.append(mark + after_digit[0].strip())
                continue
            again = kind == "end" and re.match(r"\s*\\?\s*\[[123]", music[at : at + 80])
            if ended > 1 and not again:
                mark = "||" + ("|:" if kind == "both" else "")
            done.append(mark)
            if not again:
                start_at, opened, ended, first = len(done), kind == "both", 0, False
            continue
        elif kind == "start":
            opened, ended = True, 0
        elif kind == "double" and (ended > 1 or not first):
            done.append(mark)
            start_at, opened, ended, first = len(done), False, 0, False
            continue
        if first and kind in ("ending",):
            first = False
        done.append(mark)
    done.append(music[at:])
    return f"{head}{key}{line}\n{''.join(done)}"


def compare(chosen: list[Case], workers: int = 2) -> list[Verdict]:
    """Hold our reading of each tune against abc2midi's, in the ways of :data:`WAYS` in turn."""
    changes = (
        lambda text: text,
        without_graces,
        explicit,
        lambda text: explicit(without_graces(text)),
    )
    verdicts = [Verdict(None)] * len(chosen)
    left = list(range(len(chosen)))
    for way, change in zip(WAYS, changes, strict=True):
        texts = [change(chosen[i].text) for i in left]
        for index, text, expected in zip(left, texts, reference(texts, workers), strict=True):
            ours = our_pitches(text)
            if ours == expected:
                verdicts[index] = Verdict(way)
            elif way == WAYS[0]:
                verdicts[index] = Verdict(None, _first(ours, expected))
        left = [i for i in left if verdicts[i].way is None]
    return verdicts


def main(arguments: list[str] | None = None) -> int:
    """Print the agreement per collection; with ``--list`` every tune that differs."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--list", action="store_true", help="name every tune that differs")
    parser.add_argument("--limit", type=int, default=0, help="read only so many tunes")
    options = parser.parse_args(arguments)
    chosen = list(cases())[: options.limit or None]
    verdicts = compare(chosen)
    for case, verdict in zip(chosen, verdicts, strict=True):
        if options.list and verdict.way is None:
            print(f"{case.collection}/{case.file} {case.number} {case.title}: {verdict.words}")
    print(f"{'':14} {'tunes':>6}" + "".join(f"  {way:>26}" for way in WAYS))
    pairs = list(zip(chosen, verdicts, strict=True))
    for collection in dict.fromkeys(case.collection for case in chosen):
        _row(collection, [v for c, v in pairs if c.collection == collection])
    return 0 if _row("all", verdicts) >= 0.98 else 1


def _row(name: str, verdicts: list[Verdict]) -> float:
    """Print the shares that agree in each way or an earlier one; the last share."""
    agreed, cells = 0, ""
    for way in WAYS:
        agreed += sum(verdict.way == way for verdict in verdicts)
        cells += f"  {agreed:>16} = {agreed / len(verdicts):7.2%}"
    print(f"{name:14} {len(verdicts):>6}{cells}")
    return agreed / len(verdicts)


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
