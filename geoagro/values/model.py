"""The base of everything that a user writes in a design file: strict, frozen, with lengths in metres."""

from __future__ import annotations

import re
import unicodedata
from datetime import date
from typing import Annotated, Any, get_args

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationInfo, field_validator

_METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254, "yd": 0.9144}


def metres(value: Any) -> Any:
    """Read 4.5, "4.5 m", "450 cm" or "15 ft" as metres; leave anything else for the caller to refuse.

    >>> metres("15 ft")
    4.572
    """
    if not isinstance(value, str):
        return value
    match = re.fullmatch(r"\s*([-+]?[0-9.]+(?:e[-+]?\d+)?)\s*([a-z]+)\s*", value.lower())
    if not match or match[2] not in _METRES:
        raise ValueError(f"'{value}' is not a length; write 4.5, '4.5 m', '450 cm' or '15 ft'")
    return round(float(match[1]) * _METRES[match[2]], 9)


def plain_name(value: str) -> str:
    r"""Bring a name to one line, as it stands on sheets and in tables; refuse what can't be shown.

    >>> plain_name("two\n  lines\n")
    'two lines'
    """
    text = " ".join(value.split())
    refuse_unseen(text)
    if not text:
        raise ValueError("must not be blank; give it a name")
    if len(text) > LONGEST_NAME:
        raise ValueError(f"has {len(text):,} letters; at most {LONGEST_NAME} fit on a sheet")
    return text


def visible(text: str) -> str:
    r"""Write control characters and halves of letters as their numbers, so that none steers a terminal or breaks a file.

    >>> visible("a\x1b[31mb\tc\n")
    'a\\x1b[31mb\tc\n'
    """
    return "".join(c if c in "\t\n" or unicodedata.category(c) not in {"Cc", "Cs"} else ascii(c)[1:-1] for c in text)


_TURNING = frozenset(map(chr, (*range(0x202A, 0x202F), *range(0x2066, 0x206A))))
_UNSEEN = ("Cf", "Cc", "Zs", "Zl", "Zp")


def refuse_unseen(text: str) -> None:
    """Raise ValueError for control characters and halves of letters, which no file or page can hold.

    Also for marks that turn the direction of writing (Unicode's bidirectional embeddings, overrides and isolates), which
    make a name read as another one, and for text in which nothing can be seen.
    """
    for place, letter in enumerate(text, 1):
        kind = unicodedata.category(letter)
        if kind == "Cs" or (kind == "Cc" and letter not in "\t\n\r"):
            raise ValueError(f"holds a control character (U+{ord(letter):04X}, letter {place}); take it out")
        if letter in _TURNING:
            raise ValueError(
                f"holds a mark that turns the direction of writing (U+{ord(letter):04X}, letter {place}); take it out"
            )
    if text.strip() and all(unicodedata.category(letter) in _UNSEEN for letter in text):
        raise ValueError(f"holds nothing that can be seen (U+{ord(text.strip()[0]):04X}); write a name or leave it out")


def _in_our_time(value: date) -> date:
    if not EARLIEST <= value <= LATEST:
        raise ValueError(f"{value} must lie between {EARLIEST} and {LATEST}")
    return value


def _no_dust(value: float) -> float:
    if value < NEAREST_M:
        raise ValueError(f"must be at least {NEAREST_M:g} m (got {value:g})")
    return value


LONGEST_NAME = 200
"""Letters; longer ones run off every sheet and are too long for a file's name. Our own choice."""

EARLIEST, LATEST = date(1900, 1, 1), date(2200, 12, 31)
"""Days that calendars, time zones and date columns of all outputs can hold, centuries to spare. Our own choice."""

FARTHEST_M = 100_000.0
"""No length in a design of a field is longer than this. Our own choice."""

NEAREST_M = 0.001
"""No plants stand nearer to each other than this. Our own choice."""

MOST_WEEKS = 10_400
"""Two hundred years, as long as the oldest trees of the library bear: no plan looks farther. Our own choice."""

Metres = Annotated[
    float,
    BeforeValidator(metres, json_schema_input_type=float | str),
    Field(allow_inf_nan=False, ge=-FARTHEST_M, le=FARTHEST_M),
]
Length = Annotated[Metres, Field(gt=0)]
Distance = Annotated[Metres, Field(ge=0)]
Spacing = Annotated[Length, AfterValidator(_no_dust)]
Share = Annotated[float, Field(ge=0, le=1)]
PercentShare = Annotated[float, Field(ge=0, le=100)]
"""A part of a whole, in percent."""
Percent = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Bearing = Annotated[float, Field(ge=0, lt=360)]
Name = Annotated[str, AfterValidator(plain_name)]
Day = Annotated[date, AfterValidator(_in_our_time)]
Weeks = Annotated[int, Field(ge=0, le=MOST_WEEKS)]
Count = Annotated[int, Field(ge=1, le=100_000)]


class Model(BaseModel):
    """A frozen record that refuses unknown keys, numbers that aren't finite, and `true` where a number is meant."""

    model_config = ConfigDict(extra="forbid", frozen=True, validate_default=True, allow_inf_nan=False)

    @field_validator("*", mode="before")
    @classmethod
    def _truth_is_no_number(cls, value: Any, info: ValidationInfo) -> Any:
        if isinstance(value, bool) and info.field_name is not None:
            annotation = cls.model_fields[info.field_name].annotation
            if annotation is not bool and not _holds_bool(annotation):
                raise ValueError(f"must not be {str(value).lower()}; give a value")
        return value


def _holds_bool(annotation: Any) -> bool:
    return annotation is bool or any(_holds_bool(part) for part in get_args(annotation))
