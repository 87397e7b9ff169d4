"""Write a lick as MEI 5, the Music Encoding Initiative's XML: the one score the engraver is fed."""

from linewright.formats.mei.document import MeiSheet, mei_sheet, write_mei

__all__ = ["MeiSheet", "mei_sheet", "write_mei"]
