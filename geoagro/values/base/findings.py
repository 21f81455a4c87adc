"""How findings reach someone who works in Python: doubts as warnings, the rest in the log."""

from __future__ import annotations

import logging
import warnings
from collections.abc import Iterable

from geoagro.errors import FindingWarning
from geoagro.values.site import Finding

_log = logging.getLogger("geoagro")
_log.addHandler(logging.NullHandler())


def tell(findings: Iterable[Finding], *, stacklevel: int = 2) -> None:
    """Say each finding once: a warning as FindingWarning, notes and repairs to the logger "geoagro" (level INFO).

    `stacklevel` counts as in `warnings.warn`: 2 is the caller of the function that calls this.

    >>> import warnings
    >>> with warnings.catch_warnings(record=True) as caught:
    ...     warnings.simplefilter("always")
    ...     tell([Finding("warning", "field.gpkg", "Two parts overlap.")])
    >>> str(caught[0].message)
    'field.gpkg: Two parts overlap.'
    """
    for finding in findings:
        text = f"{finding.where}: {finding.text}" if finding.where else finding.text
        if finding.level == "warning":
            warnings.warn(text, FindingWarning, stacklevel=stacklevel + 1)
        else:
            _log.info("%s: %s", finding.level, text)
