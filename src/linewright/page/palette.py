"""The page's colours: Okabe and Ito (2008), safe for colour-blind readers; never the only mark."""

from __future__ import annotations

from typing import Final

__all__ = ["FIGURE", "FRAME", "INK", "LINES", "OUTSIDE", "PAPER", "QUIET", "SERIF"]

FRAME: Final = "#0072B2"  # blue
OUTSIDE: Final = "#D55E00"  # vermillion
FIGURE: Final = "#009E73"  # bluish green
INK: Final = "#1a1a1a"
LINES: Final = "#808080"  # tablature lines behind fret numbers
QUIET: Final = "#595959"  # 7:1 on white
PAPER: Final = "#ffffff"
#: Families of the engraved text: the first is the one that typst carries.
SERIF: Final = "Libertinus Serif, Linux Libertine, Georgia, Times New Roman, serif"
