"""Marks in the field, and what was really planted."""
