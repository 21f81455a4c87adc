"""The offline map page."""
