"""Text that people read: marked where it stands, kept with its values, and put into a language last."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from numbers import Integral, Real
from typing import Any

import numpy as np

FORMS = "|"
"""Between the forms of a word that hang on a number, as in {n:bed|beds}."""


def say(text: str) -> str:
    """Return the text as it is; `scripts/refresh_words.py` finds it by this call and puts it into the catalog.

    >>> say("Rows")
    'Rows'
    """
    return text


def meant(about: str, text: str) -> Sentence:
    """Mark a word that means several things, with what it is about here; catalogs keep each meaning by itself.

    >>> meant("stratum", "high")
    'high'
    """
    made = Sentence(text)
    made.about = about
    return made


class CropName(str):
    """A crop's name: those of the library are written in the reader's language, a name of the user's own as it stands."""

    __slots__ = ()

    def __str__(self) -> str:
        """Keep the kind: whoever makes a text of it still knows that it names a crop."""
        return self


class Sentence(str):
    """A sentence in English that remembers its message and values, so that a writer can say it in another language.

    In tables and files for programs it is a plain text. Values are numbers, days, names, other sentences, or a tuple of
    these, which is listed with commas. {n} and {x:.1f} write numbers with thousands marks, as `Words` does. {n:bed|beds}
    chooses a word by the number, for one and for more; a translation may have as many as its language knows.

    >>> Sentence("{n} beds of {crops}", n=1200, crops=(CropName("bean"), CropName("maize")))
    '1,200 beds of bean, maize'
    >>> Sentence("{n} {n:bed|beds}", n=1), Sentence("{n} {n:bed|beds}", n=2)
    ('1 bed', '2 beds')
    """

    message: str
    values: Mapping[str, Any]
    about: str
    """Which meaning of the message this is, where it has several; else empty."""

    def __new__(cls, message: str, **values: Any) -> Sentence:
        """Fill in the values as English has them."""
        shown = {name: _English(value) for name, value in values.items()}
        made = super().__new__(cls, message.format(**shown) if values else message)
        made.message, made.values, made.about = message, values, ""
        return made

    @classmethod
    def of(cls, text: str) -> Sentence:
        """Take a fixed text, or a sentence, as one: what the catalog holds of it is said in the reader's language."""
        return text if isinstance(text, Sentence) else cls(text)

    def __str__(self) -> str:
        """Keep the kind: a table's text is still a sentence that can be said otherwise."""
        return self

    def __reduce__(self) -> tuple[Any, ...]:
        """Copy and pickle with message and values."""
        return _again, (self.message, dict(self.values), self.about)


def crop_names(names: Iterable[str]) -> tuple[CropName, ...]:
    """Give names (or codes) of crops as the values of a sentence.

    >>> crop_names(["sweet_potato"])
    ('sweet potato',)
    """
    return tuple(CropName(name.replace("_", " ")) for name in names)


def _again(message: str, values: Mapping[str, Any], about: str) -> Sentence:
    return meant(about, message) if about else Sentence(message, **values)


class Month:
    """A month of a year; English tables write it as 2027-03."""

    def __init__(self, day: np.datetime64) -> None:
        self.first: date = day.astype("datetime64[M]").astype("datetime64[D]").item()

    def __str__(self) -> str:
        """Give year and month."""
        return self.first.isoformat()[:7]


class Sentences(tuple[str, ...]):
    """Sentences that stand one after the other; each is whole by itself."""

    __slots__ = ()


def in_a_row(*sentences: str) -> str:
    """Put whole sentences one after the other; empty ones are left out.

    >>> in_a_row(Sentence("One bed."), "", Sentence("{n} rows.", n=2))
    'One bed. 2 rows.'
    """
    kept = Sentences(Sentence.of(text) for text in sentences if text)
    return kept[0] if len(kept) == 1 else Sentence("{all}", all=kept) if kept else ""


def decimals_asked(value: Real | float, spec: str) -> int:
    """Decimals of a number within a sentence: as its spec says, like .1f, or as many as it needs (g); else none, or three.

    >>> decimals_asked(2.5, "g"), decimals_asked(2.0, ".1f"), decimals_asked(2, ""), decimals_asked(2.0, "")
    (1, 1, 0, 3)
    """
    if spec.endswith("g"):
        text = f"{float(value):{spec}}"
        return 0 if "e" in text else len(text.partition(".")[2])
    return int(spec[1:-1]) if spec else (0 if isinstance(value, Integral) else 3)


class _English:
    """A value inside a sentence, as English writes it."""

    def __init__(self, value: Any) -> None:
        self.value = value

    def __format__(self, spec: str) -> str:
        value = self.value
        if FORMS in spec:
            one, *_, more = spec.split(FORMS)
            return one if str(value) in ("1", "1.0") else more
        if not isinstance(value, bool) and isinstance(value, Real):
            return english_number(
                float(value) if not isinstance(value, Integral) else int(value), decimals_asked(value, spec)
            )
        if isinstance(value, tuple):
            return between(value).join(format(_English(one)) for one in value)
        return "".join(value) if isinstance(value, str) else str(value)


def between(values: tuple[Any, ...]) -> str:
    """Give what stands between the parts of a list: nothing but a space between sentences."""
    return " " if isinstance(values, Sentences) else ", "


HUGE = 1e15
"""From here on numbers are written with a power of ten: marks of missing data, never a measure."""


def english_number(value: float, decimals: int = 0) -> str:
    """Write a number with thousands marks and so many decimals, halves rounded up.

    >>> english_number(1234.5), english_number(0.25, 1)
    ('1,235', '0.3')
    """
    if not math.isfinite(value):
        return "–"
    if abs(value) >= HUGE:
        return f"{float(value):g}"
    exact = _halves_up(value, decimals)
    return f"{exact if exact else abs(exact):,}"


def halves_up(value: float, decimals: int = 0) -> float:
    """Round a number that a file holds as pages round what they show: halves up, as the number is written.

    >>> halves_up(2.675, 2), halves_up(5.12075, 4)
    (2.68, 5.1208)
    """
    return float(_halves_up(value, decimals)) if math.isfinite(value) else value


def _halves_up(value: float, decimals: int) -> Decimal:
    return Decimal(str(value)).quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP)
