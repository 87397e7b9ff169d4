"""What a file is, by content first and by extension second; one way in and one way out."""

import subprocess
import sys
from fractions import Fraction

import pytest

from linewright.errors import InputError, OptionError, ReadError, TooLarge
from linewright.formats import (
    FORMATS,
    ReadOptions,
    find_format,
    read_all_bytes,
    read_bytes,
    sniff,
    write_bytes,
)
from linewright.fretboard import instrument
from linewright.score import Lick, Meter, Note, bars_for
from linewright.theory import Pitch

TAB = b"""e|-----------------|
B|-----------------|
G|---------0-------|
D|-----0-2---2-0---|
A|-0-2-------------|
E|-----------------|
"""
ABC = b"X:1\nT:Class warm-up\nM:4/4\nL:1/8\nK:G\nGABc dedB|\n"
BOOK = ABC + b"\nX:2\nT:Broken\nM:4/4\nK:H\n???\n\nX:3\nT:Third\nM:2/4\nL:1/8\nK:D\nDEFG|\n"


def lick():
    guitar = instrument("guitar")
    places = [(5, 0), (5, 2), (4, 0), (4, 2)]
    notes = tuple(
        Note(Fraction(n), Fraction(1), pitch, *place)
        for n, (place, pitch) in enumerate(
            zip(places, map(Pitch.parse, ("A2", "B2", "D3", "E3")), strict=True)
        )
    )
    return Lick(notes, bars_for(Meter(4, 4), Fraction(4)), title="Four notes", instrument=guitar)


@pytest.mark.parametrize(
    ("data", "name"),
    [
        (TAB, "tab"),
        (b"Title: Class warm-up\nKey: G\n\n" + TAB, "tab"),
        (ABC, "abc"),
        (b"%abc-2.1\n" + ABC, "abc"),
        (b"\xef\xbb\xbf" + ABC, "abc"),
        (ABC.decode().encode("utf-16"), "abc"),
        (b"K:G\nGABc|\n", "abc"),
        (b'<?xml version="1.0"?>\n<!DOCTYPE score-partwise>\n<score-partwise/>', "musicxml"),
        (b"<score-timewise/>", "musicxml"),
        ('<?xml version="1.0" encoding="UTF-16"?><score-partwise/>'.encode("utf-16"), "musicxml"),
        (b'{"linewright": 1}', "json"),
        (b"MThd\x00\x00\x00\x06", "midi"),
        (b"PK\x03\x04rest", "mxl"),
    ],
)
def test_content_tells_the_format_whatever_the_name(data, name):
    assert sniff(data).name == name
    assert sniff(data, "misnamed.mid").name == name


@pytest.mark.parametrize(
    ("filename", "name"),
    [
        ("a.TAB", "tab"),
        ("b.txt", "tab"),
        ("c.abc", "abc"),
        ("d.xml", "musicxml"),
        ("e.json", "json"),
    ],
)
def test_the_extension_decides_when_the_content_does_not(filename, name):
    assert sniff(b"hello", filename).name == name


@pytest.mark.parametrize(
    ("data", "filename"),
    [(b"hello", None), (b"hello", "notes.docx"), (b"\x00\x01\x02", None), (b"<html></html>", None)],
)
def test_an_unknown_file_lists_what_is_accepted(data, filename):
    with pytest.raises(ReadError) as caught:
        sniff(data, filename)
    for form in FORMATS.values():
        assert form.can_read == (form.extensions[0] in str(caught.value))


@pytest.mark.parametrize("text", ["e|--0-2-3-|\n", "Key: G\ne|---3---|\nB|-3---1-|\n"])
def test_a_tab_with_strings_missing_is_told_which_lines_it_needs(text):
    assert sniff(text.encode()).name == "tab"
    with pytest.raises(ReadError, match=r"string line.*one line for each string"):
        read_bytes(text.encode())


def test_mei_is_written_and_not_read():
    with pytest.raises(ReadError, match="written but not read"):
        sniff(b'<mei xmlns="http://www.music-encoding.org/ns/mei"/>')
    with pytest.raises(OptionError, match="written but not read"):
        read_bytes(b"<mei/>", format="mei")


def test_a_recording_is_told_where_recordings_go():
    with pytest.raises(ReadError) as told:
        sniff(b"RIFF\x00\x00\x00\x00WAVEfmt ", "try.wav")
    assert told.value.message == "this is in no format Linewright knows"
    assert "as a take" in told.value.accepted


def test_empty_and_huge_files_are_refused_at_the_door():
    with pytest.raises(ReadError, match="empty"):
        read_bytes(b"")
    with pytest.raises(TooLarge, match="At most"):
        read_bytes(b"X" * (50 * 1024 * 1024), "big.abc")


def test_find_format_takes_names_and_extensions():
    assert find_format("MusicXML") is find_format(".xml") is FORMATS["musicxml"]
    with pytest.raises(OptionError, match="tab, abc"):
        find_format("pdf")


def test_no_two_formats_share_an_extension_or_a_name():
    extensions = [e for form in FORMATS.values() for e in form.extensions]
    assert len(extensions) == len(set(extensions))
    assert all(form.name == name for name, form in FORMATS.items())
    assert all(e.startswith(".") and e == e.lower() for e in extensions)


@pytest.mark.parametrize("name", [n for n, form in FORMATS.items() if form.can_write])
def test_every_format_writes_and_those_that_read_give_the_notes_back(name):
    data = write_bytes(lick(), name)
    form = FORMATS[name]
    assert data
    if form.can_read:
        assert sniff(data) is form
        back = read_bytes(data, f"lick{form.extensions[0]}")
        assert [n.midi for n in back.notes] == [n.midi for n in lick().notes]
        assert [n.onset for n in back.notes] == [n.onset for n in lick().notes]
        assert [i.lick for i in read_all_bytes(data)] == [back]
    else:
        assert data.startswith(b"<")


def test_a_book_gives_every_tune_and_every_failure():
    items = list(read_all_bytes(BOOK, "book.abc"))
    assert [item.number for item in items] == [1, 2, 3]
    assert [item.title for item in items] == ["Class warm-up", "Broken", "Third"]
    assert [item.lick is not None for item in items] == [True, False, True]
    assert isinstance(items[1].error, InputError)


def test_a_single_file_that_fails_comes_back_with_its_error():
    (item,) = read_all_bytes(b"MThd broken")
    assert item.lick is None
    assert isinstance(item.error, ReadError)


def test_bars_and_tune_are_picked():
    assert read_bytes(BOOK, options=ReadOptions(tune=3)).title == "Third"
    two_bars = b"X:1\nT:Two\nM:2/4\nL:1/8\nK:G\nGABc|dedB|\n"
    assert len(read_bytes(two_bars, options=ReadOptions(bars=(2, 2))).notes) == 4
    with pytest.raises(InputError, match="bars 1 to 2"):
        read_bytes(two_bars, options=ReadOptions(bars=(5, 6)))


def test_an_instrument_asked_for_moves_a_tab_and_labels_the_rest():
    drop = instrument("guitar", "drop D")
    low = TAB.replace(b"E|-----------------|", b"E|-0---------------|").replace(
        b"A|-0-2-", b"A|---2-"
    )
    assert read_bytes(low).notes[0].pitch.name == "E2"
    assert read_bytes(low, options=ReadOptions(instrument=drop)).notes[0].pitch.name == "D2"
    mandolin = instrument("mandolin")
    tune = read_bytes(ABC, options=ReadOptions(instrument=mandolin))
    assert tune.instrument == mandolin
    assert tune.notes[0].pitch.name == "G4"
    with pytest.raises(ReadError, match="do not fit"):
        read_bytes(write_bytes(lick(), "json"), options=ReadOptions(instrument=mandolin))


def test_asking_what_exists_imports_no_heavy_library():
    heavy = "{'music21', 'mido', 'defusedxml', 'numpy', 'verovio', 'pydantic'}"
    code = (
        "import sys, linewright.formats as f; f.sniff(b'X:1\\nK:G\\n');"
        f"print(sorted({heavy} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("code", ["utf-8", "utf-8-sig", "utf-16"])
def test_a_text_saved_as_unicode_reads_the_same(code):
    """An editor's "Unicode" is UTF-16 with a byte order mark (common practice)."""
    text = "e|---|\nB|---|\nG|-2-|\nD|---|\nA|---|\nE|---|\n"
    assert read_bytes(text.encode(code), "lick.tab").notes[0].fret == 2


def test_a_picture_named_as_a_tab_is_no_text():
    with pytest.raises(ReadError, match="not text") as caught:
        read_bytes(b"\x89PNG\r\n\x1a\n" + bytes(64), "lick.tab")
    assert "text tab" in str(caught.value)
