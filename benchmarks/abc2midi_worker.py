"""What abc2midi plays for texts given as JSON lines on standard input, as JSON lines back.

Run in a process of its own by :mod:`benchmarks.abc_agreement`. Every text is played in a fresh
fork: abc2midi keeps state from one tune to the next (a tune it could not finish changes how it
plays the following ones), and it may abort the process.
"""

from __future__ import annotations

import json
import os
import sys

import symusic

#: abc2midi starts each further note of a chord so many ticks (of 480) after the one before it.
CHORD_SPREAD = 10


def pitches(text: str) -> list[int] | str:
    """MIDI numbers in order of time, high to low where notes are struck together."""
    try:
        score = symusic.Score.from_abc(text.rstrip() + "\n")
    except RuntimeError:
        return "abc2midi refused it"
    tracks = [track for track in score.tracks if len(track.notes)]
    if not tracks:
        return "abc2midi: no notes"
    groups: list[list[int]] = []
    before = -100
    for time, pitch in sorted((n.time, n.pitch) for n in tracks[0].notes):
        if time - before <= CHORD_SPREAD:
            groups[-1].append(pitch)
        else:
            groups.append([pitch])
        before = time
    return [pitch for group in groups for pitch in sorted(group, reverse=True)]


def in_a_fork(text: str) -> list[int] | str:
    """:func:`pitches` in a child process, its chatter thrown away."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        sink = os.open(os.devnull, os.O_WRONLY)
        os.dup2(sink, 1)
        os.dup2(sink, 2)
        os.close(reading)
        with os.fdopen(writing, "w") as pipe:
            json.dump(pitches(text), pipe)
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading) as pipe:
        answer = pipe.read()
    os.waitpid(child, 0)
    return json.loads(answer) if answer else "abc2midi crashed"


def main() -> None:
    """Answer each line of standard input."""
    for line in sys.stdin:
        sys.stdout.write(json.dumps(in_a_fork(json.loads(line))) + "\n")


if __name__ == "__main__":
    main()
