"""The typefaces that come with the program, for pictures and printed pages alike."""

from pathlib import Path

FONTS = Path(__file__).with_name("fonts")
"""Folder of the bundled fonts; system fonts are never asked for, so that pages are the same everywhere."""
