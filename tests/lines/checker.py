"""A checker of made lines that shares no code with the line maker.

Everything is worked out again, plainly, from the analysis of the source, the request and the
line's notes. ``broken(...)`` returns what is wrong, in words; an empty list for a sound line.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from fractions import Fraction

from linewright.analysis import Analysis
from linewright.lines import Line
from linewright.score import Lick
from linewright.theory import ChordSymbol

Pcs = frozenset[int]
FrameAt = Callable[[ChordSymbol | None], tuple[int, Pcs]]
UNITS = {
    "eighths": Fraction(1, 2), "quarters": Fraction(1), "triplets": Fraction(1, 3),
    "sixteenths": Fraction(1, 4),
}  # fmt: skip
REACH = {
    "guitar": 4, "mandolin": 6, "octave mandolin": 5, "mandola": 5, "tenor banjo": 5, "bass": 4,
    "five-string banjo": 4, "five-string bass": 4, "ukulele": 5, "baritone ukulele": 4,
}  # fmt: skip


def tune_of(lick: Lick) -> list[int]:
    """Indexes of the highest note of each moment."""
    kept: dict[Fraction, int] = {}
    for index, note in enumerate(lick.notes):
        other = kept.get(note.onset)
        if other is None or note.midi > lick.notes[other].midi:
            kept[note.onset] = index
    return [kept[onset] for onset in sorted(kept)]


def on_beat(lick: Lick, index: int) -> bool:
    note = lick.notes[index]
    bar = max((b for b in lick.bars if b.onset <= note.onset), key=lambda b: b.onset)
    offset = note.onset - bar.onset
    if bar.number == 0:
        offset += bar.meter.length - bar.duration
    beats, at = [], Fraction(0)
    for length in bar.meter.beats:
        beats.append(at)
        at += length
    return offset in beats


Usage = tuple[int, int, int, bool]
ChordTest = Callable[[ChordSymbol | None, int], bool]


def usages(analysis: Analysis) -> dict[Usage, list[ChordTest]]:
    """(degree in semitones, rise in, rise out, on the beat) of every outside note with neighbours,
    and for each time it is heard what says whether a pitch may stand so over a chord.
    """
    lick, tune = analysis.lick, tune_of(analysis.lick)
    found: dict[Usage, list[ChordTest]] = {}
    for a, b, c in zip(tune, tune[1:], tune[2:], strict=False):
        x, y, z = lick.notes[a], lick.notes[b], lick.notes[c]
        if y.midi % 12 in frame_numbers(analysis):
            continue
        if y.onset - x.end >= 1 or z.onset - y.end >= 1:
            continue
        above = (y.midi - analysis.tonic.number) % 12
        use = (above, y.midi - x.midi, z.midi - y.midi, on_beat(lick, b))
        found.setdefault(use, []).append(chord_test(analysis, a, b, c))
    return found


#: Kind of chord heard -> the kinds like it; a plain major chord says nothing of its seventh.
LIKE = {
    "7": {"7", "no 3rd"}, "maj": {"maj", "maj7", "7", "no 3rd"}, "maj7": {"maj", "maj7", "no 3rd"},
    "min": {"min", "no 3rd"}, "dim": {"dim"},
}  # fmt: skip


def kind(chord: ChordSymbol) -> str:
    """A chord's kind, from the semitones of its tones above its root."""
    tones = {(n - chord.root.number) % 12 for n in chord.numbers}
    if 3 in tones and 4 not in tones:
        return "dim" if 6 in tones else "min"
    if 10 in tones:
        return "7"
    if 4 not in tones:
        return "no 3rd"
    return "maj7" if 11 in tones else "maj"


def chord_test(analysis: Analysis, a: int, b: int, c: int) -> ChordTest:
    """Over which chords the outside note ``b`` of the lick, between ``a`` and ``c``, may stand."""
    lick, pitch = analysis.lick, analysis.lick.notes[b].midi
    does = {note.index: note.function for note in analysis.outside_notes}
    heard = lick.chord_at(lick.notes[b].onset)
    if does[b] == "borrowed chord tone":
        return lambda chord, midi: chord is not None and midi % 12 in chord.numbers
    if heard is None:
        return lambda chord, midi: True
    between_frame = all(does.get(n) in (None, "passing") for n in (a, c))
    above = (pitch - heard.root.number) % 12
    altered = kind(heard) == "7" and above in (1, 3, 6, 8) and pitch % 12 not in heard.numbers
    home = heard.root.number == analysis.tonic.number
    leapt_to = abs(pitch - lick.notes[a].midi) > 2
    if between_frame and (
        does[b] in ("passing", "neighbour")
        or (does[b] == "approach" and not (leapt_to and altered and not home))
    ):
        return lambda chord, midi: True
    blue = does[b] == "blue note" and (home or between_frame)
    if altered and not blue and does[b] != "enclosure":
        return lambda chord, midi: (
            chord is not None and kind(chord) == "7" and (midi - chord.root.number) % 12 == above
        )
    names = {span.symbol.text for span in lick.chords if span.symbol is not None}
    if kind(heard) == "no 3rd" or len(names) == 1:
        return lambda chord, midi: True
    like = LIKE[kind(heard)]
    if blue and kind(heard) in ("7", "maj"):
        like = {"7", "maj", "no 3rd"}
    return lambda chord, midi: chord is None or kind(chord) in like


def common_grid(lick: Lick) -> str:
    """The grid whose note is the commonest of the lick's tune, among those its beats divide into."""
    lengths = [lick.notes[i].duration for i in tune_of(lick)]
    best, most = "eighths", 0
    for name, unit in UNITS.items():  # eighths first: they win a draw
        fits = all((length / unit).denominator == 1 for length in lick.meter.beats)
        if fits and lengths.count(unit) > most:
            best, most = name, lengths.count(unit)
    return best


def frame_numbers(analysis: Analysis) -> Pcs:
    """Pitch classes of the frame; of all the notes heard where there is none."""
    if analysis.frame is None:
        return frozenset(note.midi % 12 for note in analysis.lick.notes)
    return analysis.frame.numbers


def home_frame(analysis: Analysis, line: Line) -> FrameAt:
    """The lick's frame on the line's tonic, whatever the chord."""
    key = line.progression.key
    tonic = key.tonic.number if key else analysis.tonic.number
    moved = tonic - analysis.tonic.number
    pcs = frozenset((n + moved) % 12 for n in frame_numbers(analysis))
    return lambda chord: (tonic, pcs)


def broken(
    analysis: Analysis,
    line: Line,
    *,
    frame_at: FrameAt | None = None,
    degrees: set[int] | None = None,
    low: int | None = None,
    high: int | None = None,
    is_part: bool = False,
) -> list[str]:
    """What a line does that it must not.

    ``degrees`` are the outside degrees asked for (semitones above the tonic; None: all that the
    lick has); ``low`` and ``high`` the range; ``is_part`` a cut from a longer line, whose edges
    are not judged.
    """
    request, lick = line.request, line.lick
    tune = tune_of(lick)
    notes = [lick.notes[i] for i in tune]
    reasons = [line.notes[i] for i in tune]
    found: list[str] = []

    # bars
    grid = common_grid(analysis.lick) if request.grid == "own" else request.grid
    steady = grid in UNITS
    pinned_bars = {
        start + k
        for start, pin in request.pins.items()
        for k in range(sum(1 for b in pin.bars if b.number and b.is_full))
    }
    patterns = set()
    for bar in analysis.lick.bars:
        source = [analysis.lick.notes[i] for i in tune_of(analysis.lick)]
        patterns.add(
            tuple(
                (n.onset - bar.onset, min(n.end, bar.end) - n.onset)
                for n in source
                if bar.onset <= n.onset < bar.end
            )
        )
    for bar in lick.bars:
        if bar.duration != bar.meter.length:
            found.append(f"bar {bar.number} is not full")
        inside = [n for n in notes if bar.onset <= n.onset < bar.end]
        if bar.number in pinned_bars:
            continue
        if steady:
            at = bar.onset
            for note in inside:
                if note.onset != at:
                    found.append(f"bar {bar.number} has a hole at {at}")
                at = note.end
            if at != bar.end:
                found.append(f"bar {bar.number} ends at {at}")
            unit = UNITS[grid]
            if any(n.duration != unit for n in inside[:-1]):
                found.append(f"bar {bar.number} is not steady")
        elif tuple((n.onset - bar.onset, n.duration) for n in inside) not in patterns:
            found.append(f"bar {bar.number} has a rhythm that no bar of the lick has")

    # frame notes, and outside notes as learned
    at_chord = frame_at or home_frame(analysis, line)
    learned = usages(analysis)
    for k, note in enumerate(notes):
        if reasons[k].pinned:
            continue
        tonic, pcs = at_chord(lick.chord_at(note.onset))
        outside = note.midi % 12 not in pcs
        if outside != (reasons[k].role == "outside"):
            found.append(f"note {k + 1} is labelled {reasons[k].role}")
        if not outside:
            continue
        above = (note.midi - tonic) % 12
        if degrees is not None and above not in degrees:
            found.append(f"note {k + 1} ({note.pitch}) was not asked for")
        if k in (0, len(notes) - 1):
            if not is_part:
                found.append(f"note {k + 1} ({note.pitch}) is outside at an end")
            continue
        use = (
            above, note.midi - notes[k - 1].midi, notes[k + 1].midi - note.midi,
            on_beat(lick, tune[k]),
        )  # fmt: skip
        if use not in learned:
            found.append(f"note {k + 1} ({note.pitch}) is used as {use}, never heard in the lick")
            continue
        chord = lick.chord_at(note.onset)
        if not any(goes(chord, note.midi) for goes in learned[use]):
            found.append(f"note {k + 1} ({note.pitch}) is over {chord}, not as the lick has it")

    # leaps, range, ends
    for k, (a, b) in enumerate(itertools.pairwise(notes)):
        if reasons[k].pinned and reasons[k + 1].pinned:
            continue
        if abs(b.midi - a.midi) > request.leap:
            found.append(f"a leap of {b.midi - a.midi} into note {k + 2}")
    for k, note in enumerate(notes):
        if reasons[k].pinned:
            continue
        if (low is not None and note.midi < low) or (high is not None and note.midi > high):
            found.append(f"note {k + 1} ({note.pitch}) is out of range")

    # quotation
    source = [analysis.lick.notes[i].midi for i in tune_of(analysis.lick)]
    size = request.quote + 1
    words = {
        tuple(source[i + j + 1] - source[i + j] for j in range(size - 1))
        for i in range(len(source) - size + 1)
    }
    for i in range(len(notes) - size + 1):
        if all(r.pinned for r in reasons[i : i + size]):
            continue
        run = tuple(notes[i + j + 1].midi - notes[i + j].midi for j in range(size - 1))
        if run in words:
            found.append(f"notes {i + 1} to {i + size} quote the lick")

    if not any(on_two(source[i : i + 5]) for i in range(len(source) - 4)):
        found += swings(line)
    found += hand_breaks(line)
    found += label_breaks(line)
    for start, pin in request.pins.items():
        found += pin_breaks(line, start, pin)
    return found


def on_two(row: list[int]) -> bool:
    """Whether five notes go to and fro between two, as in B C B C B."""
    return len(row) == 5 and row[0] == row[2] == row[4] != row[1] == row[3]


def swings(line: Line) -> list[str]:
    """Five new frame notes in a row, of no figure, that go to and fro between two."""
    tune = tune_of(line.lick)
    found = []
    for i in range(len(tune) - 4):
        row = tune[i : i + 5]
        plain = all(line.notes[k].role == "frame" and not line.notes[k].pinned for k in row)
        if plain and on_two([line.lick.notes[k].midi for k in row]):
            found.append(f"notes {i + 1} to {i + 5} go to and fro")
    return found


def hand_breaks(line: Line) -> list[str]:
    """Places that do not sound the note, and shifts too far for the time."""
    lick = line.lick
    assert lick.instrument is not None
    reach = REACH[lick.instrument.name]
    tempo = line.request.tempo or (lick.tempo.quarter_bpm if lick.tempo else 100)
    found = []
    tune = list(tune_of(lick))
    gaps = [
        float(lick.notes[b].onset - lick.notes[a].onset) * 60 / float(tempo)
        for a, b in itertools.pairwise(tune)
    ]
    limit = max(1, min(12, int(min(gaps, default=1.0) / 0.045 + 1e-9)))
    possible: set[int] | None = None
    for i in tune:
        note = lick.notes[i]
        if line.notes[i].pinned:
            possible = None  # a kept bar is fingered as it was
            continue
        if note.string is None or note.fret is None:
            found.append(f"{note.pitch} has no place")
            continue
        if lick.instrument.midi_at(note.string, note.fret) != note.midi:
            found.append(f"{note.pitch} does not lie at {note.string}/{note.fret}")
        covers = (
            set(range(1, 25))
            if note.fret == 0
            else set(range(max(1, note.fret - reach + 1), note.fret + 1))
        )
        if possible is not None:
            reached = {p for p in covers if any(abs(p - q) <= limit for q in possible)}
            if not reached:
                found.append(f"{note.pitch} at fret {note.fret} is out of the hand's reach")
                reached = covers
            covers = reached
        possible = covers
    return found


def label_breaks(line: Line) -> list[str]:
    """Shares that are not those of the labels; reasons missing."""
    found = []
    free = [r for r in line.notes if not r.pinned]
    for name, got in line.got.items():
        if name.startswith("f") and name[1:].isdigit():
            count = sum(r.figure == name for r in free)
        elif name[-1].isdigit():
            count = sum(r.role == "outside" and r.degree == name for r in free)
        else:
            continue
        if abs(count / max(1, len(free)) - got) > 1e-9:
            found.append(f"{name} is said to have {got:.3f} and has {count / len(free):.3f}")
    if any(not r.why for r in line.notes):
        found.append("a note has no reason")
    return found


def pin_breaks(line: Line, start: int, pin: Lick) -> list[str]:
    """A pinned lick whose full bars do not stand in the line note for note."""
    found = []
    full = [b for b in pin.bars if b.number and b.is_full]
    for k, bar in enumerate(full):
        there = next(b for b in line.lick.bars if b.number == start + k)
        kept = [
            (n.onset - bar.onset, min(n.end, bar.end) - n.onset, n.midi)
            for n in pin.notes
            if bar.onset <= n.onset < bar.end
        ]
        stands = [
            (n.onset - there.onset, n.duration, n.midi)
            for n in line.lick.notes
            if there.onset <= n.onset < there.end
        ]
        if kept != stands:
            found.append(f"bar {start + k} is not the pinned bar")
    return found
