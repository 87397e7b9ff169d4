"""Linewright: what a lick is made of, and practice made from it."""

__version__ = "0.1.0"
