"""Texts that can be translated."""
