"""Steps that hang on the recipe alone: worked out once for all fields that share it, and for all that ask."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from pydantic import BaseModel

P = ParamSpec("P")
R = TypeVar("R")


def remembered(most: int) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Keep a function's last `most` results by the content of its arguments; whoever gets one mustn't change it.

    Arguments are records of the design, numbers, texts and days, or mappings and sequences of these; what was raised isn't
    kept.

    >>> @remembered(2)
    ... def total(numbers: list[int]) -> int:
    ...     print("worked out")
    ...     return sum(numbers)
    >>> total([1, 2]), total([1, 2])
    worked out
    (3, 3)
    """

    def keep(function: Callable[P, R]) -> Callable[P, R]:
        results: OrderedDict[str, R] = OrderedDict()

        @wraps(function)
        def asked(*args: P.args, **kwargs: P.kwargs) -> R:
            key = _text((args, kwargs))
            if key in results:
                results.move_to_end(key)
                return results[key]
            result = results[key] = function(*args, **kwargs)
            if len(results) > most:
                results.popitem(last=False)
            return result

        return asked

    return keep


def _text(value: Any) -> str:
    if isinstance(value, BaseModel):
        return f"{type(value).__name__}{value.model_dump_json()}"
    if isinstance(value, Mapping):
        return f"{{{','.join(f'{key!r}:{_text(one)}' for key, one in value.items())}}}"
    if isinstance(value, list | tuple):
        return f"[{','.join(map(_text, value))}]"
    return repr(value)
