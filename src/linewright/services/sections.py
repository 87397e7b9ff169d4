"""The sentences of a lesson, section by section, with the notes that each of them is about.

Every sentence comes from :func:`linewright.analysis.words.paragraphs`, word for word, so that the
page says what the command line and the handout say. Here they are only dealt out to the figures
and outside degrees they belong to.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from linewright.analysis import Analysis
from linewright.analysis.words import Sentence, paragraphs

__all__ = [
    "FigureView",
    "OutsideGroup",
    "Section",
    "figure_views",
    "outside_groups",
    "tell",
]


@dataclass(frozen=True)
class Section:
    """A part of the lesson: its key (as in ``Paragraph``), heading and sentences."""

    key: str
    heading: str
    said: tuple[Sentence, ...]


@dataclass(frozen=True)
class FigureView:
    """A figure: its number as bracketed over the staff, what it is called, its notes, and what is
    said of it: first exactly what is there, then the idea.
    """

    number: int
    name: str
    notes: tuple[int, ...]
    said: tuple[Sentence, ...]


@dataclass(frozen=True)
class OutsideGroup:
    """An outside degree: its notes, a sentence for each, and what is said of its use."""

    degree: str
    note: str
    notes: tuple[int, ...]
    each: tuple[Sentence, ...]
    usage: tuple[Sentence, ...]


def tell(analysis: Analysis) -> dict[str, Section]:
    """The sections that have something to say, by key, in the order a lesson says them."""
    return {part.key: Section(part.key, part.heading, part.said) for part in paragraphs(analysis)}


# -- figures and outside notes ---------------------------------------------------------------
def figure_views(analysis: Analysis, sections: Mapping[str, Section]) -> tuple[FigureView, ...]:
    """The figures with their sentences, in order."""
    told = sections["figures"].said if "figures" in sections else ()
    views = []
    for number, figure in enumerate(analysis.figures, start=1):
        said = tuple(sentence for sentence in told if sentence.about == f"f{number}")
        views.append(FigureView(number, figure.name, said[0].notes, said))
    return tuple(views)


def outside_groups(analysis: Analysis, sections: Mapping[str, Section]) -> tuple[OutsideGroup, ...]:
    """The outside notes by degree, in order of first appearance, with what is said of them."""
    outside = analysis.outside_notes
    if "outside" not in sections or not outside:
        return ()
    said = sections["outside"].said
    each, used = said[: len(outside)], said[len(outside) :]
    return tuple(
        OutsideGroup(
            degree=usage.degree.name,
            note=analysis.notes[usage.notes[0]].pitch.pitch_class.name,
            notes=usage.notes,
            each=tuple(s for s in each if s.notes[0] in usage.notes),
            usage=tuple(s for s in used if set(s.notes) <= set(usage.notes)),
        )
        for usage in analysis.usage
    )
