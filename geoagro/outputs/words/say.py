"""Words and numbers as a reader of one language writes them.

English is what stands in the code; another language is a file `locale/<language>.po` beside this one, made
from `locale/geoagro.pot` with any gettext editor. A sentence without a translation stays English. Numbers
and days follow the locale even where no catalog exists. A catalog that says so in its head (`UNREVIEWED`) hasn't been read
by a native practitioner; whoever writes for people says that, too.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from numbers import Real
from pathlib import Path
from typing import Any

from babel import Locale, UnknownLocaleError
from babel.dates import format_date, format_interval, format_skeleton
from babel.messages.pofile import read_po
from babel.numbers import NumberFormatError, format_decimal, parse_decimal

from geoagro.errors import DesignError, OutputError
from geoagro.outputs.words.recognised import MORE, Recogniser, again, recogniser_of
from geoagro.values.measures import hectare_decimals
from geoagro.values.words import FORMS, HUGE, CropName, Month, Sentence, between, decimals_asked

CATALOGS = Path(__file__).with_name("locale")
NOTHING = "–"
_COUNTS = ("zero", "one", "two", "few", "many", "other")
"""Kinds of counts that languages know (Unicode plural rules), in the order in which forms are given."""
_FIRST_DAY = re.compile(r"(?<!\d)1(?=\s?[\u2013-]|\s[a-zéû])")
CROP = "crop"
"""What names of the library's crops are about, as catalogs say it: no other word is taken for a crop, and none for theirs."""
_ABOUT = "\x04"
"""Between what a message is about and the message, as gettext joins them."""
UNREVIEWED = "Not yet reviewed by a native practitioner."


class Words:
    """Translates sentences and writes numbers for one locale.

    `own_crops` and `own_places` are names that the design's writer gave to crops and plantings, and to the field and its
    parts: they stay as written, whatever word of ours they may equal. `crop_names` says what a crop is called whose code is
    another word.

    >>> Words("de").number(1234.5, 1)
    '1.234,5'
    >>> Words("en")("Rows")
    'Rows'
    >>> Words("es").crop("maize"), Words("es", own_crops=["Maize"]).crop("Maize")
    ('maíz', 'Maize')
    >>> Words("fr", crop_names={"bean": "common bean"}).crop("bean")
    'haricot commun'
    """

    def __init__(
        self,
        locale: str = "en",
        *,
        catalogs: Path = CATALOGS,
        where: str = "locale",
        own_crops: Iterable[str] = (),
        crop_names: Mapping[str, str] | None = None,
        own_places: Iterable[str] = (),
    ) -> None:
        try:
            self.locale = Locale.parse(locale.replace("-", "_"))
        except (UnknownLocaleError, ValueError) as error:
            raise DesignError(
                f"{where}: '{locale}' is not a language. Write a code such as en, en_GB, es, fr or pt_BR."
            ) from error
        path = _nearest_catalog(self.locale, catalogs)
        self._texts, self.is_reviewed = ({}, True) if path is None else _catalog(path)
        self._recogniser: Recogniser | None = None
        self._own_crops, self._own_places = frozenset(own_crops), frozenset(own_places)
        self._crop_names = {code.replace("_", " "): name.replace("_", " ") for code, name in (crop_names or {}).items()}
        self.has_texts = path is not None or self.locale.language == "en"
        """False where sentences stay English, as nobody has translated them."""

    def __call__(self, text: str, /, **values: Any) -> str:
        """Give the sentence in this language, with {names} filled in; numbers and days in it follow the locale.

        A `Sentence` brings its values along; a `CropName` is said as one.
        """
        if isinstance(text, CropName):
            return self.crop(text)
        if isinstance(text, Sentence):
            values = {**text.values, **values}
        message = text.message if isinstance(text, Sentence) else text
        about = text.about if isinstance(text, Sentence) else ""
        chosen = self._texts.get(_key(message, about), message)
        if not values:
            return chosen
        shown = {name: _Shown(value, self) for name, value in values.items()}
        try:
            return chosen.format(**shown)
        except (KeyError, IndexError, ValueError) as error:
            raise OutputError(
                f"The translation of '{text}' into {self.locale} can't be filled in ({error}); correct the .po file."
            ) from error

    def again(self, text: str) -> str:
        """Give a text that a file keeps in English in this language, as far as its message is known; else as it stands.

        >>> Words("es").again("heights of a.tif, band 1, cells of 0.5 m, EPSG:32633")
        'alturas de a.tif, banda 1, celdas de 0,5 m, EPSG:32633'
        """
        if isinstance(text, Sentence) or not self._texts:
            return self(text) if isinstance(text, Sentence) else text
        if self._recogniser is None:
            self._recogniser = recogniser_of(frozenset(key for key in self._texts if _ABOUT not in key))
        return again(text, self._recogniser, self)

    def says(self, text: str) -> bool:
        """Tell whether the text has words of its own in this language; where there is no catalog, English is what is said."""
        return not self._texts or text in self._texts

    def crop(self, name: str) -> str:
        """Give the name of a crop, by its name or code: of the library in this language, a name of the user's own as it stands.

        >>> Words("en").crop("sweet_potato")
        'sweet potato'
        """
        if isinstance(name, Sentence):
            return self(name)
        plain = "".join(name).replace("_", " ")
        if plain not in self._own_crops:
            plain = self._crop_names.get(plain, plain)
        if plain in self._own_crops:
            return plain
        told = self._texts.get(_key(plain, CROP), self._texts.get(_key(plain.lower(), CROP), plain))
        return "+".join(map(self.crop, plain.split("+"))) if told == plain and "+" in plain else told

    def is_own_place(self, name: str) -> bool:
        """Tell whether this is a name of the design's for the field, a part of it or what was drawn in it."""
        return name in self._own_places

    def crops(self, names: Iterable[str]) -> str:
        """List crops by their names, with commas."""
        return ", ".join(self.crop(name) for name in names)

    def listed(self, parts: Iterable[str]) -> str:
        """List texts that may have commas of their own, with semicolons as the language sets them.

        >>> Words("en").listed(["a, b", "c"]), Words("fr").listed(["a, b", "c"])
        ('a, b; c', 'a, b\u202f; c')
        """
        told, *rest = [*parts] or [""]
        for one in rest:
            told = self(MORE, one=told, other=one)
        return told

    def title(self, text: str) -> str:
        """Begin a text with a capital, leaving the rest as it is."""
        return text[:1].upper() + text[1:]

    def brief(self, value: float) -> str:
        """Write a number with no more decimals than it needs.

        >>> Words("de").brief(4.5), Words("de").brief(1200.0)
        ('4,5', '1.200')
        """
        exact = Decimal(f"{value:.6g}").normalize()
        exponent = exact.as_tuple().exponent
        return self.number(value, max(-exponent, 0) if isinstance(exponent, int) else 0)

    def number(self, value: float | None, decimals: int = 0) -> str:
        """Write a number with so many decimals, halves rounded up; a dash where there is none."""
        if value is None or (isinstance(value, float) and not math.isfinite(value)):
            return NOTHING
        if abs(value) >= HUGE:
            return f"{float(value):g}"
        step = Decimal(1).scaleb(-decimals)
        exact = Decimal(str(value)).quantize(step, rounding=ROUND_HALF_UP)
        pattern = "#,##0" + ("." + "0" * decimals if decimals else "")
        text = format_decimal(exact if exact else abs(exact), format=pattern, locale=self.locale)
        return str(text).replace("\u202f", "\u00a0")

    def form(self, value: float | str, forms: Sequence[str]) -> str:
        """Choose the form of a word that goes with a number, or a number as written: one for each kind of count, or two.

        >>> Words("en").form(1, ["bed", "beds"]), Words("fr").form(0, ["planche", "planches"])
        ('bed', 'planche')
        """
        try:
            count = parse_decimal(value, locale=self.locale) if isinstance(value, str) else Decimal(str(value))
            whole = count.to_integral_value()
            kind = self.locale.plural_form(whole if count == whole else count)
        except (NumberFormatError, ArithmeticError, ValueError):
            return forms[-1]
        kinds = [one for one in _COUNTS if one in self.locale.plural_form.tags or one == "other"]
        return forms[kinds.index(kind)] if len(forms) == len(kinds) else forms[0 if kind == "one" else -1]

    def hectares(self, area_m2: float | None, sd_m2: float = math.nan) -> str:
        """Write square metres as hectares, without the unit, to the decimals that their standard deviation bears.

        They are rounded to 0.1 m2 first, as in every table.
        """
        if area_m2 is None or not math.isfinite(area_m2):
            return NOTHING
        return self.number(round(area_m2, 1) / 10_000, hectare_decimals(sd_m2))

    def day(self, day: date | None) -> str:
        """Write a day in full; a dash where there is none."""
        return NOTHING if day is None else self._as_said(format_date(day, format="long", locale=self.locale))

    def short_day(self, day: date | None) -> str:
        """Write a day in short, for tables and notes, e.g. Mar 1, 2027; a dash where there is none."""
        return (
            NOTHING
            if day is None or _is_no_day(day)
            else self._as_said(format_skeleton("yMMMd", day, locale=self.locale))
        )

    def days(self, first: date | None, last: date | None) -> str:
        """Write a span of days, what both share once, e.g. Mar 1 – 9, 2027; a dash where there is none."""
        if first is None or last is None or _is_no_day(first) or _is_no_day(last) or first == last:
            return self.short_day(first)
        return self._as_said(format_interval(first, last, "yMMMd", locale=self.locale))

    def weekday(self, day: date) -> str:
        """Write a day in short with its weekday, e.g. Mon, Mar 1, 2027."""
        return self._as_said(format_skeleton("yMMMEd", day, locale=self.locale))

    def _as_said(self, days: Any) -> str:
        """Write the first of a month as French does, which the locale's data leave out.

        >>> Words("fr").short_day(date(2027, 3, 1)), Words("fr").short_day(date(2027, 3, 11))
        ('1er mars 2027', '11 mars 2027')
        """
        return _FIRST_DAY.sub("1er", str(days)) if self.locale.language == "fr" else str(days)

    def month(self, day: date) -> str:
        """Write a month in short with its year, e.g. Mar 2027."""
        return str(format_skeleton("yMMM", day, locale=self.locale))

    def month_name(self, day: date) -> str:
        """Write a month in short, e.g. Mar."""
        return str(format_skeleton("MMM", day, locale=self.locale))

    @property
    def tag(self) -> str:
        """The language as files and pages name it, e.g. pt-BR."""
        return str(self.locale).replace("_", "-")

    @property
    def is_right_to_left(self) -> bool:
        """Tell whether the language runs from right to left."""
        return str(self.locale.text_direction) == "rtl"


def _key(message: str, about: str) -> str:
    return f"{about}{_ABOUT}{message}" if about else message


def _is_no_day(day: date) -> bool:
    return str(day) == "NaT"  # what tables hold where there is none; a date by its type


class _Shown:
    """A value inside a sentence: {area:.1f} asks for one decimal, written as the locale does."""

    def __init__(self, value: Any, words: Words) -> None:
        self.value, self.words = value, words

    def __format__(self, spec: str) -> str:
        if FORMS in spec:
            return self.words.form(self.value, spec.split(FORMS))
        if not isinstance(self.value, bool) and isinstance(self.value, Real):
            return self.words.number(float(self.value), decimals_asked(self.value, spec))
        if isinstance(self.value, tuple):
            return between(self.value).join(format(_Shown(one, self.words)) for one in self.value)
        if isinstance(self.value, (Sentence, CropName)):
            return self.words(self.value)
        if isinstance(self.value, Month):
            return self.words.month(self.value.first)
        return self.words.short_day(self.value) if isinstance(self.value, date) else str(self.value)


def _nearest_catalog(locale: Locale, catalogs: Path) -> Path | None:
    """Catalog of a locale: its own, that of its language, or the first of another country with the same language."""
    others = sorted(path.stem for path in catalogs.glob(f"{locale.language}_*.po"))
    names = (str(locale), locale.language, *others)
    return next((path for name in names if (path := catalogs / f"{name}.po").is_file()), None)


@lru_cache(maxsize=8)
def _catalog(path: Path) -> tuple[dict[str, str], bool]:
    """Texts by their English, and whether a native practitioner has read them."""
    with path.open("rb") as file:
        catalog = read_po(file)
    texts = {_key(str(m.id), m.context or ""): str(m.string) for m in catalog if m.id and m.string and not m.fuzzy}
    return texts, UNREVIEWED not in (catalog.header_comment or "")


ENGLISH = Words()
"""What stands in the code."""
