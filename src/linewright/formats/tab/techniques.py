"""Rows of picking strokes, palm mutes and let-ring signs above the strings."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from linewright.formats.tab.layout import Row
from linewright.formats.tab.rhythm import BarDraft
from linewright.score import Mark

__all__ = ["apply_techniques"]

_STROKES: Final[dict[str, str]] = {
    "d": "down", "D": "down", "n": "down", "↓": "down", "⊓": "down", "П": "down",
    "u": "up", "U": "up", "v": "up", "V": "up", "↑": "up",
}  # fmt: skip
_SPAN_RE: Final = re.compile(r"(?:(p\.?m\.?)|let ring|l\.?r\.?)-*\|?", re.IGNORECASE)


def apply_techniques(row: Row, bars: Sequence[BarDraft]) -> str | None:
    """Put the row's marks on the attacks they stand above; a remark when some stand above none."""
    spans = [(m.start(), m.end(), _STROKES[m[0]]) for m in re.finditer(r"\S", row.text)
             if m[0] in _STROKES and not _SPAN_RE.search(row.text)]  # fmt: skip
    for match in _SPAN_RE.finditer(row.text):
        spans.append((match.start(), match.end(), "palm mute" if match[1] else "let ring"))
    lost = 0
    attacks = [
        (bar.start + attack.column, bar.start + attack.end, attack)
        for bar in bars
        for attack in bar.attacks
        if not attack.is_tie
    ]
    at = 0
    for start, end, name in spans:
        while at < len(attacks) and attacks[at][1] <= start:
            at += 1
        under = at
        while under < len(attacks) and attacks[under][0] < end:
            for sign in attacks[under][2].signs:
                if sign.fret is not None:
                    sign.marks.append(Mark(name))
            under += 1
        lost += under == at
    return f"Line {row.line}: {lost} signs stand above no note and were left out." if lost else None
