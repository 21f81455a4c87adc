"""Flat geometry in metres, shared by the rooms: no CRS and no files exist here."""
