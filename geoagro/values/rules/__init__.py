"""Sections of the design file that one piece of work asks for."""
