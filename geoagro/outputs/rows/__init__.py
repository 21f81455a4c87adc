"""Rows alone: layers, pictures, comparison."""
