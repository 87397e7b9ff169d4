"""Write a lick as MEI 5, the Music Encoding Initiative's XML: the one score the engraver is fed."""

from linewright.formats.mei.document import write_mei

__all__ = ["write_mei"]
