"""The handout: the right paper, every sentence on it, nothing run off the page."""

from __future__ import annotations

import io
import re
from fractions import Fraction

import pytest
from pypdf import PdfReader

from linewright.analysis import Analysis, analyze
from linewright.analysis.words import paragraphs
from linewright.errors import OptionError
from linewright.page import handout_pdf
from linewright.page.signs import musical
from linewright.score import ChordSpan, Instrument, Lick, Mark, Meter, Note, Tempo, bars_for
from linewright.services.demo_library import demo_licks
from linewright.theory import ChordSymbol, Key, Pitch
from papers import page_sizes, page_texts

F = Fraction
GUITAR = Instrument("guitar", tuple(map(Pitch.parse, ("E4", "B3", "G3", "D3", "A2", "E2"))))


def blues(bars: int = 2, **fields) -> Lick:
    rows = (
        ("1", "G3", 3, 0), ("1/2", "D4", 2, 3), ("1/2", "Db4", 2, 2), ("1/2", "C4", 2, 1),
        ("1/2", "Bb3", 3, 3), ("3", "G3", 3, 0), ("2", "F3", 4, 3),
    )  # fmt: skip
    notes, at = [], F(0)
    while at < 4 * bars:
        for length, pitch, string, fret in rows:
            marks = (Mark("pull-off"),) if pitch == "Db4" else ()
            notes.append(Note(at, F(length), Pitch.parse(pitch), string, fret, marks))
            at += F(length)
    fields = {
        "title": "Porch step", "style": "blues", "tempo": Tempo(F(96)), "instrument": GUITAR
    } | fields  # fmt: skip
    return Lick(
        tuple(notes), bars_for(Meter(4, 4), at, key=Key.parse("Gm")),
        chords=(ChordSpan(F(0), at, ChordSymbol.parse("G7")),), **fields,
    )  # fmt: skip


def read(pdf: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(pdf))


def words(pdf: bytes) -> str:
    return " ".join(" ".join(page_texts(pdf)).split())


@pytest.fixture(scope="module")
def analysis() -> Analysis:
    return analyze(blues())


@pytest.mark.parametrize(
    ("paper", "size"),
    [("a4", (210 / 25.4 * 72, 297 / 25.4 * 72)), ("letter", (8.5 * 72, 11 * 72))],
)
def test_the_paper_is_as_its_standard_says(analysis: Analysis, paper: str, size: tuple) -> None:
    # ISO 216: A4 is 210 by 297 mm. ANSI/ASME Y14.1: letter is 8.5 by 11 in.
    for found in page_sizes(handout_pdf(analysis, paper=paper)):
        assert found == pytest.approx(size, abs=0.5)


def test_everything_the_analysis_says_is_on_it(analysis: Analysis) -> None:
    pdf = handout_pdf(analysis)
    text = words(pdf).lower()
    assert "porch step" in text
    assert "blues · key of g minor · 4/4 · 96 beats a minute · guitar" in text
    assert analysis.rivals
    assert analysis.outside_notes
    said = [
        analysis.verdict,
        analysis.tonic_reason,
        *(reading.reason for reading in analysis.rivals),
        *(note.reason for note in analysis.outside_notes),
        *(note.function for note in analysis.outside_notes),
    ]
    tabled = len(analysis.outside_notes)
    for part in paragraphs(analysis):
        said += [part.heading, *part.sentences[tabled if part.key == "outside" else 0 :]]
    for sentence in said:
        assert " ".join(musical(sentence).lower().split()) in text
    assert "page 1 of 1" in text
    assert read(pdf).metadata.title == "Porch step"
    assert len(page_sizes(pdf)) == 1


def test_figures_stand_beside_the_tag_that_their_bracket_has() -> None:
    pitches = [
        "C5",
        "B4",
        "A4",
        "G4",
        "B4",
        "A4",
        "G4",
        "F4",
        "A4",
        "G4",
        "F4",
        "E4",
        "G4",
        "F4",
        "E4",
        "D4",
    ]
    tune = Lick(
        tuple(Note(F(i, 2), F(1, 2), Pitch.parse(p)) for i, p in enumerate(pitches)),
        bars_for(Meter(4, 4), F(8), key=Key.parse("C")), title="Falling",
    )  # fmt: skip
    analysis = analyze(tune)
    (figure,) = analysis.figures
    text = words(handout_pdf(analysis))
    assert re.search(rf"\bf1 From bar 1, beat 1, a sequence: {re.escape(figure.tight.words)}", text)
    assert f"The idea: {figure.loose.words}" in text
    assert "f1 sequence" in text  # in the score


def test_of_what_was_decided_while_reading_only_the_rhythm_is_printed() -> None:
    remarks = (
        "Nothing was counted, so the rhythm was inferred from the columns",
        "Line 9 left out",
    )
    text = words(handout_pdf(analyze(blues(remarks=remarks))))
    assert "the rhythm was inferred" in text
    assert "Line 9" not in text


def test_it_says_how_to_practise_without_harm(analysis: Analysis) -> None:
    text = words(handout_pdf(analysis))
    for care in ("stop when it hurts", "rest your hands", "volume", "a teacher or a clinician"):
        assert care in text


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_no_heading_is_left_behind_and_no_page_is_ruled_lines_alone(paper: str) -> None:
    for name, brought in list(demo_licks())[::4]:
        headings = {part.heading for part in paragraphs(brought.analysis)} | {
            "On the neck",
            "Notes",
        }
        pages = page_texts(handout_pdf(brought.analysis, paper=paper))
        assert len(pages) <= 2, name
        for page in pages:
            lines = [line.strip() for line in page.splitlines() if line.strip()]
            body = [line for line in lines if not line.startswith(("page ", brought.lick.title))]
            assert body[-1] not in headings - {"Notes"}, name
            assert body[0] != "Notes", name


def test_a_short_licks_lesson_fits_one_page_of_either_paper(analysis: Analysis) -> None:
    for paper in ("a4", "letter"):
        assert len(page_sizes(handout_pdf(analysis, paper=paper))) == 1


def test_a_long_lick_flows_over_pages_and_each_is_numbered() -> None:
    pages = page_texts(handout_pdf(analyze(blues(48))))
    count = len(pages)
    assert count > 1
    for number, page in enumerate(pages, start=1):
        assert f"page {number} of {count}" in " ".join(page.split())


@pytest.mark.parametrize("bars", [16, 120])
def test_no_text_runs_off_the_page(bars: int) -> None:
    reader = read(handout_pdf(analyze(blues(bars, title="Long " * 40))))
    for page in reader.pages:
        width, height = float(page.mediabox.width), float(page.mediabox.height)
        places = []

        def see(text, cm, tm, font, size, places=places) -> None:
            if text.strip():
                x = tm[4] * cm[0] + tm[5] * cm[2] + cm[4]
                y = tm[4] * cm[1] + tm[5] * cm[3] + cm[5]
                places.append((x, y))

        page.extract_text(visitor_text=see)
        assert places
        assert all(0 <= x <= width and 0 <= y <= height for x, y in places)


@pytest.mark.parametrize(
    "title",
    [
        '#panic("x") *bold* _it_ $x$ @ref <label> \\ // `code`',
        '"]) #read("/etc/passwd") [',
        "Zażółć – 日本 – \x00\x07\ud800\u2028 –",
        "<script>alert(1)</script>&amp;",
        "",
    ],
)
def test_a_title_is_text_and_never_markup(title: str) -> None:
    text = words(handout_pdf(analyze(blues(title=title, style=title, source=title))))
    for part in ("#panic", "*bold*", "#read", "<script>"):
        assert (part in title) <= (part in text)
    assert "root:" not in text


def test_only_the_fonts_typst_carries_are_embedded(analysis: Analysis) -> None:
    reader = read(handout_pdf(analysis))
    names = {
        str(font["/BaseFont"])
        for page in reader.pages
        for font in (f.get_object() for f in page["/Resources"]["/Font"].get_object().values())
    }
    assert names
    assert all("Libertinus" in n or "DejaVu" in n or "NewComputerModern" in n for n in names)


def test_a_lick_without_strings_has_no_neck_but_a_lesson() -> None:
    tune = Lick(
        tuple(Note(F(i), F(1), Pitch.parse(p)) for i, p in enumerate(("G4", "A4", "B4", "D5"))),
        bars_for(Meter(4, 4), F(4), key=Key.parse("G")),
    )
    text = words(handout_pdf(analyze(tune)))
    assert "On the neck" not in text
    assert "What it hangs on" in text


def test_when_nothing_fits_it_says_so() -> None:
    run = Lick(
        tuple(Note(F(i, 2), F(1, 2), Pitch.parse(p)) for i, p in enumerate(
            ("C4", "C#4", "D4", "Eb4", "E4", "F4", "F#4", "G4", "Ab4", "A4", "Bb4", "B4")
        )),
        bars_for(Meter(4, 4), F(8)),
    )  # fmt: skip
    analysis = analyze(run)
    assert analysis.frame is None
    text = words(handout_pdf(analysis)).lower()
    assert " ".join(musical(analysis.verdict).lower().split()) in text


def test_it_is_the_same_every_time(analysis: Analysis) -> None:
    assert handout_pdf(analysis) == handout_pdf(analysis)


@pytest.mark.parametrize("options", [{"paper": "a5"}, {"lines": -1}, {"lines": 100}])
def test_what_cannot_be_printed_is_said(analysis: Analysis, options: dict) -> None:
    with pytest.raises(OptionError):
        handout_pdf(analysis, **options)
