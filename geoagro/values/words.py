"""A mark for text that people read: what a translator's catalog is collected from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


def say(text: str) -> str:
    """Return the text as it is; `scripts/words` finds it by this call and puts it into the catalog.

    >>> say("Rows")
    'Rows'
    """
    return text


@dataclass(frozen=True)
class Told:
    """A sentence whose words are made where it is printed: the message, and what stands in its {places}.

    As text it is English; `Words` writes it in the reader's language, values that are `Told` themselves included.
    """

    text: str
    values: tuple[tuple[str, Any], ...] = ()

    def __str__(self) -> str:
        return self.text.format(**{name: _Plain(value) for name, value in self.values}) if self.values else self.text


class _Plain:
    """A value within an English sentence; what isn't a number takes no format."""

    def __init__(self, value: Any) -> None:
        self.value = value

    def __format__(self, spec: str) -> str:
        return format(self.value, spec) if spec else str(self.value)


def tell(text: str, **values: Any) -> Told:
    """Make a sentence for people from a message with {places}; the message goes into the catalog as with `say`.

    >>> str(tell("{count} tapes within {far:.2f} m", count=3, far=0.2249))
    '3 tapes within 0.22 m'
    """
    return Told(text, tuple(values.items()))
