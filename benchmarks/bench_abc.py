"""Import of Ryan's Mammoth Collection (1,059 ABC tunes): our reader against music21's own parser."""

from __future__ import annotations

import random
import time
import warnings

from benchmarks.abc_agreement import corpus
from linewright.errors import ChoiceNeeded
from linewright.formats.abc import decode, read_abc, split_book

SAMPLE = 25
TARGET = 20.0


def run() -> list[tuple[str, float, float, float, float]]:
    """Rows of (what, our tunes a second, music21's, ratio, target).

    Both start from the file's bytes on disk and end with the tune as notes (a lick, a stream).
    music21 is slow, so it reads a seeded sample of the same files.
    """
    paths = sorted((corpus() / "ryansMammoth").glob("*.abc"))
    start = time.perf_counter()
    count = 0
    for path in paths:
        for tune in split_book(decode(path.read_bytes())):
            try:
                read_abc(tune.text)
            except ChoiceNeeded as choice:
                read_abc(tune.text, voice=choice.options[0])
            count += 1
    ours = count / (time.perf_counter() - start)

    import music21

    sample = random.Random(1882).sample(paths, SAMPLE)
    texts = [decode(path.read_bytes()) for path in sample]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        music21.converter.parseData(texts[0], format="abc")  # imports and tables, not timed
        start = time.perf_counter()
        for text in texts:
            music21.converter.parseData(text, format="abc")
        theirs = SAMPLE / (time.perf_counter() - start)
    return [("ABC tunes read a second, Ryan's Mammoth", ours, theirs, ours / theirs, TARGET)]


if __name__ == "__main__":
    for what, ours, theirs, ratio, target in run():
        print(f"{what}: {ours:.0f} against {theirs:.1f}, {ratio:.0f} times (target {target:.0f})")
