"""The plain-text tab: reader and writer. docs/tab.md teaches the form by example."""

from linewright.formats.tab.read import read_tab
from linewright.formats.tab.write import write_tab

__all__ = ["read_tab", "write_tab"]
