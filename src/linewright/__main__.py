"""``python -m linewright``."""

from linewright.cli import run

run()
