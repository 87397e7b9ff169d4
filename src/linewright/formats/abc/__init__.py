"""ABC 2.1: our own reader and writer of its melodic part."""

from linewright.formats.abc.book import BookTune, split_book
from linewright.formats.abc.reader import read_abc
from linewright.formats.abc.text import MAX_SIZE, decode
from linewright.formats.abc.writer import write_abc

__all__ = ["MAX_SIZE", "BookTune", "decode", "read_abc", "split_book", "write_abc"]
