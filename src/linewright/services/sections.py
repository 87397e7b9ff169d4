"""The sentences of a lesson, section by section, each tied to the notes that it speaks of.

Every sentence comes from :func:`linewright.analysis.words.paragraphs`, word for word, so that the
page says what the command line and the handout say. Here they are only dealt out: to the figure,
the outside note, the span or the spot each of them is about.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from linewright.analysis import Analysis
from linewright.analysis.words import Paragraph, paragraphs

__all__ = [
    "FigureView",
    "OutsideGroup",
    "Said",
    "Section",
    "figure_views",
    "outside_groups",
    "tell",
]


@dataclass(frozen=True)
class Said:
    """A sentence. With ``notes``, ``head`` is the part of it that a page makes a button of,
    which shows those notes; ``rest`` is what follows, spaces and all.
    """

    head: str
    rest: str = ""
    notes: tuple[int, ...] = ()

    @property
    def text(self) -> str:
        """The whole sentence."""
        return self.head + self.rest


@dataclass(frozen=True)
class Section:
    """A part of the lesson: its key (as in ``Paragraph``), heading and sentences."""

    key: str
    heading: str
    said: tuple[Said, ...]


@dataclass(frozen=True)
class FigureView:
    """A figure: its number as bracketed over the staff, what it is called, its notes, and what is
    said of it: first exactly what is there, then the idea.
    """

    number: int
    name: str
    notes: tuple[int, ...]
    said: tuple[Said, ...]


@dataclass(frozen=True)
class OutsideGroup:
    """An outside degree: its notes, a sentence for each, and what is said of its use."""

    degree: str
    note: str
    notes: tuple[int, ...]
    each: tuple[Said, ...]
    usage: tuple[Said, ...]


def tell(analysis: Analysis) -> dict[str, Section]:
    """The sections that have something to say, by key, in the order a lesson says them."""
    return {part.key: _section(part, analysis) for part in paragraphs(analysis)}


def _section(part: Paragraph, analysis: Analysis) -> Section:
    about = _ABOUT.get(part.key)
    notes = list(about(part, analysis)) if about else []
    said = []
    for place, sentence in enumerate(part.sentences):
        mark, own = notes[place] if place < len(notes) else ("", ())
        said.append(_said(sentence, mark, own))
    return Section(part.key, part.heading, tuple(said))


def _said(sentence: str, mark: str, notes: tuple[int, ...]) -> Said:
    """A sentence cut before ``mark``, where it has it."""
    at = sentence.find(mark) if mark else -1
    if not notes or at <= 0:
        return Said(sentence)
    return Said(sentence[:at], sentence[at:], notes)


#: Where a sentence is cut, and the notes it is about, for each sentence of a paragraph in turn.
_Links = Iterator[tuple[str, tuple[int, ...]]]


def _spans(_: Paragraph, analysis: Analysis) -> _Links:
    for span in analysis.spans:
        yield " it hangs", tuple(range(span.first, span.last + 1))


def _rhythm(part: Paragraph, analysis: Analysis) -> _Links:
    rhythm = analysis.rhythm
    for sentence in part.sentences:
        yield (", in ", rhythm.syncopated) if " syncopated, in " in sentence else ("", ())


def _chords(part: Paragraph, analysis: Analysis) -> _Links:
    harmony = analysis.harmony
    changes = iter(harmony.changes)
    for place, sentence in enumerate(part.sentences):
        if place == 0:
            tones = tuple(r.index for r in harmony.relations if r.role != "tension")
            yield " are chord tones", tones
        elif sentence.startswith("The others are"):
            yield " are heard", tuple(r.index for r in harmony.relations if r.role == "tension")
        elif (change := next(changes, None)) is None:
            yield "", ()
        else:
            # A held note stands on both sides of its change.
            mark = " one note" if change.held else " it "
            yield mark, (change.last, change.first) if not change.held else (change.last,)


def _hand(part: Paragraph, analysis: Analysis) -> _Links:
    hand = analysis.hand
    for sentence in part.sentences:
        spot: tuple[int, ...] = ()
        if hand is not None and hand.hardest is not None and sentence.startswith("The hardest"):
            spot = (hand.hardest,)
        elif hand is not None and sentence.startswith("Picked down"):
            spot = tuple(crossing.note for crossing in hand.crossings)
        yield ": " if sentence.startswith("The hardest") else ", it crosses", spot


_ABOUT = {"spans": _spans, "rhythm": _rhythm, "chords": _chords, "hand": _hand}


# -- figures and outside notes ---------------------------------------------------------------
def figure_views(analysis: Analysis, sections: Mapping[str, Section]) -> tuple[FigureView, ...]:
    """The figures with their sentences, in order."""
    sentences = [said.text for said in sections["figures"].said] if "figures" in sections else []
    shares = _dealt(sentences, [1 + bool(f.loose.words) for f in analysis.figures])
    views = []
    for number, (figure, own) in enumerate(zip(analysis.figures, shares, strict=True), start=1):
        notes = tuple(
            index for first, last in figure.occurrences for index in range(first, last + 1)
        )
        said = tuple(
            _said(text, ": ", notes) if place == 0 else Said(text) for place, text in enumerate(own)
        )
        views.append(FigureView(number, figure.name, notes, said))
    return tuple(views)


def outside_groups(analysis: Analysis, sections: Mapping[str, Section]) -> tuple[OutsideGroup, ...]:
    """The outside notes by degree, in order of first appearance, with what is said of them."""
    outside = analysis.outside_notes
    if "outside" not in sections or not outside:
        return ()
    sentences = [said.text for said in sections["outside"].said]
    counts = [1] * len(outside) + [int(len(u.notes) > 1) + len(u.facts) for u in analysis.usage]
    shares = _dealt(sentences, counts)
    by_note = {
        note.index: Said(*_cut(own), (note.index,))
        for note, own in zip(outside, shares, strict=False)
        if own
    }
    groups = []
    for usage, own in zip(analysis.usage, shares[len(outside) :], strict=True):
        groups.append(
            OutsideGroup(
                degree=usage.degree.name,
                note=analysis.notes[usage.notes[0]].pitch.pitch_class.name,
                notes=usage.notes,
                each=tuple(by_note[i] for i in usage.notes if i in by_note),
                usage=tuple(map(Said, own)),
            )
        )
    return tuple(groups)


def _cut(own: Iterable[str]) -> tuple[str, str]:
    head, colon, rest = " ".join(own).partition(": ")
    return head, colon + rest


def _dealt(sentences: list[str], counts: list[int]) -> list[tuple[str, ...]]:
    """The sentences shared out in order, so many to each."""
    taken = iter(sentences)
    return [tuple(text for _, text in zip(range(count), taken, strict=False)) for count in counts]
