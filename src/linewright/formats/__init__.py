"""Reading and writing licks: text tab, ABC, MusicXML, MIDI, MEI, JSON."""

from linewright.formats.registry import (
    FORMATS,
    Format,
    Imported,
    ReadOptions,
    find_format,
    read_all_bytes,
    read_bytes,
    sniff,
    write_bytes,
)

__all__ = [
    "FORMATS",
    "Format",
    "Imported",
    "ReadOptions",
    "find_format",
    "read_all_bytes",
    "read_bytes",
    "sniff",
    "write_bytes",
]
