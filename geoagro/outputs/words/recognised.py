"""Sentences that were kept in English, in a layout's or a survey's file, told again in the reader's language.

Files hold plain English, which programs and other people's tools can rely on. The message that such a text was made from is
found by the catalog: what stands between its fixed words are the values. A text that no message fits stays as it is.

A value is told again by its place: what stands for a name (`NAMES`) stays as it is, whatever message it may equal, what stands
for a crop (`CROPS`) is told as one if the library has it, and only the rest may be a message itself.
"""

from __future__ import annotations

import re
import string
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Protocol

from geoagro.values.words import FORMS, say

_NUMBER = r"-?(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?|–"
_WRITTEN = re.compile(r"-?(?:\d{1,3}(?:,\d{3})+|\d{1,3})(?:\.\d+)?")
"""A number as English sentences have it; one of four digits without a mark is a name."""
_LEAST_LETTERS = 6
"""A message with fewer fixed letters fits nearly anything, and isn't looked for."""
_JOINTS = (", ", "; ", " ")
NAMES = frozenset([
    "bed", "beds", "code", "column", "columns", "design", "e", "fields", "file", "files", "group", "guide", "key", "keys", "label", "label2", "layer",
    "layers", "line", "list", "listed", "name", "named", "names", "numbers", "option", "parcel", "part", "path", "point",
    "project", "role", "row", "rows", "sections", "stake", "stem", "survey", "table", "title", "zone",
])  # fmt: skip
"""Places for names of the user's and of files, for addresses and for numbers of things."""
CROPS = frozenset(["a", "b", "crop", "crops", "dug", "neighbour", "one", "other", "planting", "plantings"])
"""Places for crops, and for plantings, which are named after theirs unless the user names them."""


PAIR = say("{one} and {other}")
"""Two crops, as a text names them; too short a message to be looked for."""
MORE = say("{one}; {other}")
"""A list whose parts may have commas, as a language sets its marks."""


class Speaker(Protocol):
    """Says messages, numbers and days in one language."""

    def __call__(self, text: str, /, **values: str) -> str:
        """Give the message in this language."""

    def number(self, value: float, decimals: int) -> str:
        """Write a number."""

    def short_day(self, day: date) -> str:
        """Write a day."""

    def month(self, day: date) -> str:
        """Write a month."""

    def crop(self, name: str) -> str:
        """Name a crop of the library; another name stays."""

    def is_own_place(self, name: str) -> bool:
        """Tell whether the design's writer gave this name to a part of the field."""


@dataclass(frozen=True)
class Found:
    """A message with what stood in its places."""

    message: str
    values: dict[str, str]


class Recogniser:
    """Finds the message of an English text.

    >>> known = Recogniser(["{n} row(s) missing: {rows}.", "Rows"])
    >>> known.find("2 row(s) missing: 4, 7.")
    Found(message='{n} row(s) missing: {rows}.', values={'n': '2', 'rows': '4, 7'})
    >>> known.find("Rows"), known.find("something else")
    (Found(message='Rows', values={}), None)
    """

    def __init__(self, messages: Iterable[str]) -> None:
        self.fixed, self.open = set[str](), list[tuple[int, str, str, re.Pattern[str]]]()
        for message in messages:
            parts = _parts(message)
            if parts is None or not any(name for _, name, _ in parts):
                self.fixed.add(message)
            elif (letters := sum(map(str.isalpha, "".join(text for text, _, _ in parts)))) >= _LEAST_LETTERS:
                longest = max((text for text, _, _ in parts), key=len)
                self.open.append((letters, message, longest, _pattern(parts)))
        self.open.sort(key=lambda one: (-one[0], one[1]))

    def find(self, text: str) -> Found | None:
        """Give the message with most fixed letters that fits the whole text; None where none does."""
        if text in self.fixed:
            return Found(text, {})
        for _, message, longest, pattern in self.open:
            if longest in text and (match := pattern.fullmatch(text)):
                return Found(message, match.groupdict())
        return None


def again(text: str, recogniser: Recogniser, speaker: Speaker) -> str:
    """Say a text, or several that were put one after the other, in the speaker's language; what isn't known stays."""
    if found := recogniser.find(text):
        values = {place: _told(place, value, recogniser, speaker) for place, value in found.values.items()}
        return speaker(found.message, **values)
    for joint in _JOINTS:
        for place in reversed([m.start() for m in re.finditer(re.escape(joint), text)]):
            head, rest = text[:place], text[place + len(joint) :]
            if (joint != " " or head.endswith((".", ":"))) and recogniser.find(head):
                parts = {"one": again(head, recogniser, speaker), "other": again(rest, recogniser, speaker)}
                return speaker(MORE, **parts) if joint == "; " else parts["one"] + joint + parts["other"]
    return text


def _told(place: str, text: str, recogniser: Recogniser, speaker: Speaker) -> str:
    """Say what stood in a place, as its kind asks for."""
    if place in CROPS and not re.fullmatch(_NUMBER, text):
        if text.count(" and ") == 1 and ", " not in text and speaker.crop(text) == text.replace("_", " "):
            one, other = text.split(" and ")
            return speaker(PAIR, one=speaker.crop(one), other=speaker.crop(other))
        return ", ".join(speaker.crop(name) for name in text.split(", "))
    if speaker.is_own_place(text) or (place in NAMES and not _WRITTEN.fullmatch(text)):
        return text
    return _value(text, recogniser, speaker)


def _value(text: str, recogniser: Recogniser, speaker: Speaker) -> str:
    """Say what stood in a message's place: a number, a day, a month, a message, or a name, after which more may follow."""
    if _WRITTEN.fullmatch(text):
        plain = text.replace(",", "")
        return speaker.number(float(plain), len(plain.partition(".")[2]))
    if re.fullmatch(r"\d{4}-(0[1-9]|1[0-2])", text):
        return speaker.month(date.fromisoformat(f"{text}-01"))
    try:
        return speaker.short_day(date.fromisoformat(text))
    except ValueError:
        pass
    for place in (m.start() for m in re.finditer(", ", text)):
        if recogniser.find(text[place + 2 :]):
            return text[: place + 2] + again(text[place + 2 :], recogniser, speaker)
    return again(text, recogniser, speaker)


def _parts(message: str) -> list[tuple[str, str | None, str]] | None:
    """Give fixed texts, each with the name and format of what follows it; None where braces mean something else."""
    try:
        parts = [(text, name, form or "") for text, name, form, _ in string.Formatter().parse(message)]
    except ValueError:
        return None
    return parts if all(name is None or name.isidentifier() for _, name, _ in parts) else None


def _pattern(parts: list[tuple[str, str | None, str]]) -> re.Pattern[str]:
    seen, out = set[str](), []
    for text, name, form in parts:
        out.append(re.escape(text))
        if name and FORMS in form:
            out.append(f"(?:{'|'.join(map(re.escape, form.split(FORMS)))})")
        elif name in seen:
            out.append(f"(?P={name})")
        elif name:
            seen.add(name)
            out.append(f"(?P<{name}>{_NUMBER if form else '.+?'})")
    return re.compile("".join(out), re.DOTALL)


@lru_cache(maxsize=4)
def recogniser_of(messages: frozenset[str]) -> Recogniser:
    """Make one once for a catalog."""
    return Recogniser(messages)
