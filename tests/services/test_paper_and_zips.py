"""Handouts, files in every format, and the whole library out and in."""

import pytest

from linewright.errors import OptionError, TooLarge
from linewright.formats import FORMATS, read_bytes
from linewright.services import zips
from linewright.services.bring import bring_in
from linewright.services.paper import download, handout
from linewright.services.shelf import About, change, keep
from linewright.services.zips import export_all, import_all
from linewright.store import Library
from papers import page_sizes
from samples import PORCH

# ISO 216 (A4: 210 x 297 mm) and ANSI/ASME Y14.1 (letter: 8.5 x 11 in), in points of 1/72 in.
SIZES = {"a4": (595.28, 841.89), "letter": (612, 792)}


@pytest.fixture(scope="module")
def lick():
    return bring_in(PORCH.encode()).lick


@pytest.mark.parametrize("paper", SIZES)
def test_a_handout_is_a_pdf_of_the_paper_asked_for(lick, paper):
    file = handout(lick, paper=paper)
    assert (file.name, file.media_type) == (f"porch-step-{paper}.pdf", "application/pdf")
    assert page_sizes(file.data)[0] == pytest.approx(SIZES[paper], abs=0.5)


def test_there_is_no_other_paper(lick):
    with pytest.raises(OptionError):
        handout(lick, paper="a3")


@pytest.mark.parametrize("name", [form.name for form in FORMATS.values() if form.can_write])
def test_a_lick_downloads_in_every_format(lick, name):
    file = download(lick, name)
    assert file.name == f"porch-step{FORMATS[name].extensions[0]}"
    if FORMATS[name].can_read:
        again = read_bytes(file.data, file.name)
        assert [n.midi for n in again.notes] == [n.midi for n in lick.notes]


def test_file_names_are_plain_on_every_system(lick):
    for title, expected in [
        ('../../etc/pass"wd\r\n', "etc-pass-wd.json"),
        ("Ää 漢字", "lick.json"),
        ("x" * 300, "x" * 60 + ".json"),
    ]:
        assert download(lick.with_(title=title), "json").name == expected


def test_everything_goes_out_and_comes_in_again(library):
    first = keep(library, bring_in(PORCH.encode()), About(tags=("a", "b")))
    second = keep(library, bring_in(PORCH.encode(), tonic="C"), About(title="Other"))
    change(library, first.id, About(title="Porch, again"))
    data = export_all(library)
    with Library.open(":memory:") as other:
        assert import_all(other, data).added == (first.id, second.id)
        for before in library.all():
            after = other.get(before.id)
            assert (after.entry, after.lick, after.given_tonic) == (
                before.entry,
                before.lick,
                before.given_tonic,
            )


def test_a_huge_zip_is_refused_by_its_size(library, monkeypatch):
    monkeypatch.setattr(zips, "MAX_ZIP_BYTES", 10)
    with pytest.raises(TooLarge):
        import_all(library, b"PK" + b"0" * 20)
