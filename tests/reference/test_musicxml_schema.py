"""Every score written is valid against the MusicXML 4.0 schema.

Source: the W3C Music Notation Community Group's musicxml.xsd, version 4.0 (2021), as shipped in
the ``musicxml`` package on PyPI.
"""

import io
import zipfile
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from hypothesis import given, settings
from lxml import etree

from linewright.formats.musicxml import write_musicxml, write_mxl
from strategies import GUITAR, licks

NAMES = {
    "xml.xsd": ("http://www.w3.org/XML/1998/namespace", ("lang", "space")),
    "xlink.xsd": (
        "http://www.w3.org/1999/xlink",
        ("href", "type", "role", "title", "show", "actuate"),
    ),
}


class _AttributeSchemas(etree.Resolver):
    """The two schemas that musicxml.xsd imports from the web, as far as it refers to them."""

    def resolve(self, url, public_id, context):
        namespace, names = NAMES[url.rpartition("/")[2]]
        attributes = "".join(f'<xs:attribute name="{name}" type="xs:string"/>' for name in names)
        return self.resolve_string(
            '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"'
            f' targetNamespace="{namespace}">{attributes}</xs:schema>',
            context,
        )


@cache
def schema() -> etree.XMLSchema:
    package = Path(find_spec("musicxml").submodule_search_locations[0])
    text = (package / "generate_classes" / "musicxml_4_0.xsd").read_bytes()
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_AttributeSchemas())
    return etree.XMLSchema(etree.fromstring(text, parser))


def check(score: bytes) -> None:
    document = etree.fromstring(score, etree.XMLParser(load_dtd=False, no_network=True))
    assert schema().validate(document), schema().error_log.filter_from_errors()


@settings(max_examples=60, deadline=None)
@given(licks(swing=True))
def test_scores_without_places_are_valid(lick):
    check(write_musicxml(lick))


@settings(max_examples=60, deadline=None)
@given(licks(swing=True, instrument=GUITAR))
def test_scores_with_strings_and_frets_are_valid(lick):
    check(write_musicxml(lick))


def test_the_schema_does_refuse_something():
    assert not schema().validate(etree.fromstring(b"<score-partwise><part/></score-partwise>"))


@settings(max_examples=5, deadline=None)
@given(licks(max_bars=1))
def test_the_compressed_form_holds_a_valid_score(lick):
    archive = zipfile.ZipFile(io.BytesIO(write_mxl(lick)))
    check(archive.read("score.musicxml"))
    assert archive.namelist()[:2] == ["mimetype", "META-INF/container.xml"]
