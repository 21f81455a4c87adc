"""Flat geometry in metres, shared by the rooms: nothing here reads files or changes a CRS."""
