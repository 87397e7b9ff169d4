"""Reading printed pages in tests."""

from __future__ import annotations

from pathlib import Path

import pypdfium2


def page_texts(pdf: bytes | Path) -> list[str]:
    """The text of each page, a line of type a line."""
    with pypdfium2.PdfDocument(pdf) as document:
        found = []
        for page in document:
            text = page.get_textpage()
            found.append(text.get_text_bounded())
            text.close()
            page.close()
        return found


def page_sizes(pdf: bytes | Path) -> list[tuple[float, float]]:
    """Width and height of each page in points."""
    with pypdfium2.PdfDocument(pdf) as document:
        return [document.get_page_size(number) for number in range(len(document))]
