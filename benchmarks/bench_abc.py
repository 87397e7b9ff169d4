"""Import of Ryan's Mammoth Collection (1,059 ABC tunes): our reader against music21's own parser."""

from __future__ import annotations

import random
import time
import warnings
from collections.abc import Callable

from benchmarks.abc_agreement import corpus
from linewright.errors import ChoiceNeeded
from linewright.formats.abc import decode, read_abc, split_book

SAMPLE = 25
TARGET = 20.0


def run() -> list[tuple[str, float, float, float, float]]:
    """Rows of (what, our tunes a second, music21's, ratio, target).

    Both start from text and end with the tune as notes (a lick, a stream). music21 is slow, so
    it reads a seeded sample of the same files. Seconds are processor time, the better of two
    rounds, so that other work on the machine does not count.
    """
    import music21

    paths = sorted((corpus() / "ryansMammoth").glob("*.abc"))
    texts = [decode(path.read_bytes()) for path in paths]
    sample = random.Random(1882).sample(texts, SAMPLE)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        music21.converter.parseData(texts[0], format="abc")  # imports and tables, not timed
        ours = theirs = float("inf")
        for _ in range(2):
            ours = min(ours, _seconds(lambda: _read_all(texts)))
            theirs = min(theirs, _seconds(lambda: _music21_all(sample)))
    fast, slow = len(texts) / ours, SAMPLE / theirs
    return [("ABC tunes read a second, Ryan's Mammoth", fast, slow, fast / slow, TARGET)]


def _seconds(work: Callable[[], None]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def _read_all(texts: list[str]) -> None:
    for text in texts:
        for tune in split_book(text):
            try:
                read_abc(tune.text)
            except ChoiceNeeded as choice:
                read_abc(tune.text, voice=choice.options[0])


def _music21_all(texts: list[str]) -> None:
    import music21

    for text in texts:
        music21.converter.parseData(text, format="abc")


if __name__ == "__main__":
    for what, ours, theirs, ratio, target in run():
        print(f"{what}: {ours:.0f} against {theirs:.1f}, {ratio:.0f} times (target {target:.0f})")
