"""Bytes to text, size limits, and the escapes of ABC text strings (ABC 2.1, 8.2)."""

from __future__ import annotations

import codecs
import re
import unicodedata
from html.entities import html5
from typing import Final

from linewright.errors import ReadError, TooLarge

__all__ = ["MAX_SIZE", "check_size", "decode", "escape", "lines_of", "strip_comment", "unescape"]

#: Characters (or bytes) a file may have.
MAX_SIZE: Final = 8_000_000
#: Control characters that no text holds (tab, line ends, form feed and the DOS end of file may).
_BINARY: Final = re.compile("[\x00-\x08\x0b\x0e-\x19\x1b-\x1f\x7f]")
_COMMENT: Final = re.compile(r"(?:[^\\%]|\\.)*", re.DOTALL)

#: ABC's accent sign -> combining character.
_COMBINING: Final = {
    "`": "\u0300", "'": "\u0301", "^": "\u0302", "~": "\u0303", '"': "\u0308", ",": "\u0327",
    "c": "\u0327", "v": "\u030c", "u": "\u0306", "H": "\u030b", ".": "\u0307", "=": "\u0304",
    ";": "\u0328", "r": "\u030a",
}  # fmt: skip
_LIGATURES: Final = {
    "ss": "ß", "ae": "æ", "AE": "Æ", "oe": "œ", "OE": "Œ", "/o": "ø", "/O": "Ø", "/d": "đ",
    "/D": "Đ", "/l": "ł", "/L": "Ł", "aa": "å", "AA": "Å", "DH": "Ð", "dh": "ð", "TH": "Þ",
    "th": "þ",
}  # fmt: skip
_ESCAPE: Final = re.compile(
    r"\\(?:u([0-9a-fA-F]{4})|([\\%&])|(ss|ae|AE|oe|OE|aa|AA|DH|dh|TH|th|/[oOdDlL])"
    r"|([`'^~\",cvuH.=;r])([A-Za-z]))|&([A-Za-z]{2,8};)"
)


def decode(data: bytes) -> str:
    """Text of a text file: UTF-8, UTF-16 with its byte order mark, else Latin-1.

    Raises TooLarge past :data:`MAX_SIZE` bytes and ReadError for bytes that are no text.
    """
    check_size(len(data))
    wide = data[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
    try:
        text = data.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    check_binary(text)
    return text


def check_size(size: int) -> None:
    """Raise TooLarge when an input passes the limit."""
    if size > MAX_SIZE:
        raise TooLarge(
            f"the ABC text has {size:,} characters",
            accepted=f"Up to {MAX_SIZE:,} are read; split the collection into smaller files",
        )


def check_binary(text: str) -> None:
    """Raise ReadError when the text holds control characters no ABC file has."""
    found = _BINARY.search(text)
    if found is not None:
        line = text.count("\n", 0, found.start()) + 1
        raise ReadError(
            f"this is not text: there is a control character (code {ord(found[0])})",
            line=line,
            accepted="A text tab or ABC is plain text, saved as UTF-8",
        )


def lines_of(text: str) -> list[str]:
    """Lines without their ends, whatever the ends are (LF, CRLF or a lone CR)."""
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")


def strip_comment(line: str) -> str:
    r"""The line up to its comment: the first ``%`` that is not written ``\%``."""
    if "%" not in line:
        return line
    match = _COMMENT.match(line)
    return match[0] if match else line


def unescape(text: str) -> str:
    r"""A text string as a reader sees it.

    >>> unescape(r"Caf\'e 100\% &eacute; \u00df")
    'Café 100% é ß'
    """
    if "\\" not in text and "&" not in text:
        return text
    return _ESCAPE.sub(_replacement, text)


def _replacement(match: re.Match[str]) -> str:
    code, plain, ligature, accent, letter, entity = match.groups()
    if code:
        char = chr(int(code, 16))
        return match[0] if _BINARY.match(char) or 0xD800 <= ord(char) <= 0xDFFF else char
    if plain:
        return str(plain)
    if ligature:
        return _LIGATURES[ligature]
    if accent:
        return unicodedata.normalize("NFC", letter + _COMBINING[accent])
    return html5.get(entity, match[0])


def escape(text: str) -> str:
    r"""A text string as ABC writes it: one line, with ``\``, ``%`` and ``&`` protected."""
    return re.sub(r"[\\%&]", r"\\\g<0>", " ".join(text.split()))
