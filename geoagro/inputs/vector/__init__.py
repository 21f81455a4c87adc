"""Boundaries, tracks, lines and points from any vector file."""
