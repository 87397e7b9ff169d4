"""From a stranger's bytes to a MusicXML tree that is safe to walk, and back into a .mxl.

Nothing here trusts the input: the size is capped before and after unpacking, entity declarations
and external references are refused (defusedxml), nesting and element counts are limited while
parsing, so that neither an entity bomb, a zip bomb nor a very deep tree gets further.
"""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
import zipfile
import zlib
from typing import Any, Final

from linewright.errors import ReadError, TooLarge
from linewright.formats.limits import MAX_UNPACKED_BYTES, check_size

__all__ = ["pack", "score_root"]

_MAX_DEPTH: Final = 64  # MusicXML nests about twelve deep
_MAX_ELEMENTS: Final = 600_000
_MAX_RATIO: Final = 200  # music text packs ten to forty times
_MAX_ENTRIES: Final = 1000
_CONTAINER: Final = "META-INF/container.xml"
_ROOT_NAME: Final = "score.musicxml"
_MEDIA_TYPE: Final = "application/vnd.recordare.musicxml"
_ACCEPTED: Final = "A MusicXML score (.musicxml, .xml or .mxl) is expected"


def score_root(data: bytes) -> ET.Element:
    """The ``score-partwise`` element of a MusicXML file, plain or compressed."""
    check_size(data)
    if data.startswith(b"PK"):
        data = _unpack(data)
    root = _parse(data)
    name = _local(root)
    if name == "score-timewise":
        return _partwise(root)
    if name != "score-partwise":
        raise ReadError(f"the XML is a <{name[:40]}>, not a score", accepted=_ACCEPTED)
    return root


# -- XML ---------------------------------------------------------------------------------
class _LimitedBuilder(ET.TreeBuilder):
    """Builds the tree, giving up past a depth or a number of elements."""

    def __init__(self) -> None:
        super().__init__()
        self._depth = 0
        self._count = 0

    def start(self, tag: Any, attrs: Any, /) -> Any:
        self._depth += 1
        self._count += 1
        if self._depth > _MAX_DEPTH:
            raise TooLarge(
                f"the XML is nested more than {_MAX_DEPTH} elements deep", accepted=_ACCEPTED
            )
        if self._count > _MAX_ELEMENTS:
            raise TooLarge(
                f"the score has more than {_MAX_ELEMENTS:,} elements",
                accepted="Bring in one part or a few bars",
            )
        return super().start(_plain(tag), attrs)

    def end(self, tag: Any, /) -> Any:
        self._depth -= 1
        return super().end(_plain(tag))


def _plain(tag: str) -> str:
    """A tag without its namespace: a few programs write one, the format has none."""
    return tag.rpartition("}")[2]


def _local(element: ET.Element) -> str:
    return str(element.tag)


def _parse(data: bytes) -> ET.Element:
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import DefusedXMLParser

    parser = DefusedXMLParser(target=_LimitedBuilder())
    try:
        parser.feed(data)
        root = parser.close()
    except DefusedXmlException as error:
        raise ReadError(
            "the XML declares entities or refers to other files, which a score never needs",
            accepted="Save it again from the program it came from",
        ) from error
    except ET.ParseError as error:
        line, column = error.position
        raise ReadError(
            f"the XML is broken: {str(error).partition(':')[0]}",
            line=line,
            column=column + 1,
            accepted=_ACCEPTED,
        ) from error
    except (ValueError, LookupError) as error:  # an unknown or multi-byte encoding
        raise ReadError(f"the XML cannot be decoded: {error}", accepted=_ACCEPTED) from error
    if not isinstance(root, ET.Element):
        raise ReadError("the XML holds no element", accepted=_ACCEPTED)
    return root


def _partwise(root: ET.Element) -> ET.Element:
    """A score written measure by measure, turned into one written part by part."""
    turned = ET.Element("score-partwise", root.attrib)
    parts: dict[str, ET.Element] = {}
    for child in root:
        if child.tag != "measure":
            turned.append(child)
            continue
        for piece in child.findall("part"):
            name = piece.get("id", "")
            if name not in parts:
                parts[name] = ET.SubElement(turned, "part", {"id": name})
            measure = ET.SubElement(parts[name], "measure", child.attrib)
            measure.extend(list(piece))
    return turned


# -- zip ---------------------------------------------------------------------------------
def _unpack(data: bytes) -> bytes:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            if len(archive.infolist()) > _MAX_ENTRIES:
                raise TooLarge(
                    f"the .mxl file holds more than {_MAX_ENTRIES} files", accepted=_ACCEPTED
                )
            return _member(archive, _root_name(archive))
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        OSError,
        KeyError,
        ValueError,
        RuntimeError,  # encrypted
        NotImplementedError,  # a compression method this Python lacks
    ) as error:
        raise ReadError(
            f"the .mxl file is not an intact zip archive ({error})", accepted=_ACCEPTED
        ) from error


def _root_name(archive: zipfile.ZipFile) -> str:
    names = archive.namelist()
    if _CONTAINER in names:
        for element in _parse(_member(archive, _CONTAINER)).iter("rootfile"):
            path = element.get("full-path", "")
            if path in names and element.get("media-type", _MEDIA_TYPE).startswith(_MEDIA_TYPE):
                return path
    for name in names:
        if name.lower().endswith((".musicxml", ".xml")) and not name.startswith("META-INF/"):
            return name
    raise ReadError("the zip archive holds no score", accepted=_ACCEPTED)


def _member(archive: zipfile.ZipFile, name: str) -> bytes:
    info = archive.getinfo(name)
    bomb = info.file_size > _MAX_RATIO * max(info.compress_size, 1) and info.file_size > 1 << 20
    if info.file_size > MAX_UNPACKED_BYTES or bomb:
        raise _unpacks_too_far()
    with archive.open(info) as member:  # the directory may lie about the size
        content = member.read(MAX_UNPACKED_BYTES + 1)
    if len(content) > MAX_UNPACKED_BYTES:
        raise _unpacks_too_far()
    return content


def _unpacks_too_far() -> TooLarge:
    return TooLarge(
        "the .mxl file unpacks to far more than a score",
        accepted=f"At most {MAX_UNPACKED_BYTES:,} bytes, {_MAX_RATIO} times the packed size, are read",
    )


def pack(score: bytes) -> bytes:
    """A score's bytes as a compressed .mxl, the same bytes for the same score."""
    container = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<container><rootfiles>'
        f'<rootfile full-path="{_ROOT_NAME}" media-type="{_MEDIA_TYPE}+xml"/>'
        "</rootfiles></container>\n"
    ).encode()
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as archive:
        # MusicXML 4.0, "Compressed .mxl files": a first, uncompressed entry names the media type.
        entries = (
            ("mimetype", _MEDIA_TYPE.encode(), zipfile.ZIP_STORED),
            (_CONTAINER, container, zipfile.ZIP_DEFLATED),
            (_ROOT_NAME, score, zipfile.ZIP_DEFLATED),
        )
        for name, content, method in entries:
            info = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            info.compress_type = method
            archive.writestr(info, content)
    return target.getvalue()
