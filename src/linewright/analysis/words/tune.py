"""What is said of the notes: frame, neighbours, changes, motion, figures, outside notes."""

from __future__ import annotations

from itertools import pairwise
from typing import Final

from linewright.analysis.figures import Figure
from linewright.analysis.model import Analysis
from linewright.analysis.prose import article, capital, interval, join_words, whole
from linewright.analysis.prose import frame_words as frame_words_of
from linewright.analysis.usage import usage_words
from linewright.analysis.words.sentence import Sentence, listed, note_name, percent

__all__ = [
    "figure_words",
    "frame_words",
    "motion_words",
    "neighbour_words",
    "outside_words",
    "span_words",
]


#: Facts that the sentence on all notes of a degree has in it: from where, to where, on which beat.
_TOLD: Final = (" is always reached from ", " always goes to ", " falls on a beat ")


def frame_words(analysis: Analysis) -> tuple[Sentence, ...]:
    """What it hangs on, and where home comes from."""
    reason = analysis.tonic_reason
    home = (
        whole(reason)
        if reason.startswith((f"{analysis.tonic} is home", "no note is clearly home"))
        else f"Home is {analysis.tonic}: {reason}."
    )
    return Sentence(analysis.verdict), Sentence(home)


def neighbour_words(analysis: Analysis) -> tuple[Sentence, ...]:
    """Why not the near rivals."""
    return tuple(Sentence(whole(reading.reason)) for reading in analysis.rivals)


def span_words(analysis: Analysis) -> tuple[Sentence, ...]:
    """Each stretch of one frame, where there is more than one."""
    if len(analysis.spans) < 2:
        return ()
    lick = analysis.lick
    said: list[Sentence] = []
    for span in analysis.spans:
        where = lick.place(lick.notes[span.first].onset)
        over = f" over {span.chord}" if span.chord else ""
        what = frame_words_of(span.frame) if span.frame else "nothing that can be named"
        # Back on the frame of the whole after another one.
        is_back = bool(said) and span.frame is not None and span.frame == analysis.frame
        verb = "comes home to" if is_back else "hangs on"
        notes = tuple(range(span.first, span.last + 1))
        said.append(Sentence(f"From {where}{over}", f" it {verb} {what}.", notes))
    return tuple(said)


def motion_words(analysis: Analysis) -> tuple[Sentence, ...]:
    """Steps, skips and leaps; range; ends."""
    moves = analysis.motion
    if len(analysis.lick.melody) < 3:
        return ()
    chordal = analysis.frame is not None and analysis.frame.collection.is_arpeggio
    steps = "steps from one chord tone to the next" if chordal else "scale steps"
    shares = [
        (moves.steps, steps), (moves.skips, "skips"), (moves.leaps, "leaps"),
        (moves.repeats, "repeated notes"),
    ]  # fmt: skip
    shares = [(share, name) for share, name in shares if share]
    shares.sort(key=lambda item: -item[0])
    if moves.range == 0:
        return (Sentence(f"One note, {note_name(moves.first or '')}, is repeated throughout."),)
    if len(shares) == 1:
        first = f"It moves only by {shares[0][1]}"
    else:
        first = "It moves by " + join_words(f"{name} ({percent(share)})" for share, name in shares)
    first += f", over a range of {interval(moves.range)}."
    ends = []
    if moves.first and moves.last:
        if moves.first == moves.last:
            ends.append(f"It begins and ends on {note_name(moves.first)}")
        else:
            ends.append(
                f"It begins on {note_name(moves.first)} and ends on {note_name(moves.last)}"
            )
    if moves.last_bar and len([b for b in analysis.lick.bars if b.number]) > 1:
        ends.append(f"the last bar {moves.last_bar}")
    said = (first, whole("; ".join(ends))) if ends else (first,)
    return tuple(map(Sentence, said))


def figure_words(analysis: Analysis) -> tuple[Sentence, ...]:
    """Each figure exactly, then as the idea to keep."""
    said = []
    lick = analysis.lick
    for number, figure in enumerate(analysis.figures, start=1):
        about = f"f{number}"
        notes = tuple(i for first, last in figure.occurrences for i in range(first, last + 1))
        where = lick.place(lick.notes[notes[0]].onset)
        head = f"From {where}, {article(figure.kind)} {figure.kind}"
        again = _where_again(analysis, figure)
        said.append(Sentence(head, f": {figure.tight.words}{again}.", notes, about))
        if figure.loose.words:
            said.append(Sentence(whole(f"The idea: {figure.loose.words}"), about=about))
    return tuple(said)


def _where_again(analysis: Analysis, figure: Figure) -> str:
    """Where a figure comes back that stands apart."""
    lick = analysis.lick
    if figure.is_run or all(a[1] + 1 >= b[0] for a, b in pairwise(figure.occurrences)):
        return ""
    places = [lick.place(lick.notes[first].onset) for first, _ in figure.occurrences[1:]]
    shown = listed(places[:3]) + (" and on" if len(places) > 3 else "")
    return f" ({shown})"


def outside_words(analysis: Analysis) -> tuple[Sentence, ...]:
    """Each outside note in turn, then how each outside degree is used."""
    if analysis.frame is None:
        return ()
    if not analysis.outside_notes:
        return (Sentence("No note lies outside the frame."),)
    lick = analysis.lick
    said = []
    for note in analysis.outside_notes:
        degree = note.degree.name
        where = lick.place(lick.notes[note.index].onset)
        what = f": {note.function}; {note.reason}."
        said.append(Sentence(f"{capital(degree)} in {where}", what, (note.index,), degree))
    for usage in analysis.usage:
        degree = usage.degree.name
        if len(usage.notes) > 1:
            text = f"{usage_words(usage)}."
            head = f"The {degree}"
            said.append(Sentence(head, text.removeprefix(head), usage.notes, degree))
        # What the sentence before has said of all its notes is not said again.
        news = [fact for fact in usage.facts if not any(told in fact for told in _TOLD)]
        said += [Sentence(whole(fact), "", usage.notes, degree) for fact in news]
    return tuple(said)
