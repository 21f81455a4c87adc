"""How long work tells where it is: a function that the caller gives, so that no room prints."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[str, float], None]
"""Called with what is being done and the share of it done so far (0 to 1)."""


def silent(_what: str, _share: float) -> None:
    """Tell nobody."""
