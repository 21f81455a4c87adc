"""The error family: each message names the file or key, the cause and the remedy, and each class has its exit code.

A message reads `[file[:line]: ][key [(file)]: ]cause. [Remedy.]`, one line per mistake; the command line takes it
apart by these rules for programs that want data (`--json`).
"""

from typing import ClassVar


class GeoagroError(Exception):
    """Something the user can put right; the command line prints it in words and stops.

    >>> from geoagro import GeoagroError, LayoutError
    >>> issubclass(LayoutError, GeoagroError)
    True
    """

    kind: ClassVar[str] = "refused"
    exit_code: ClassVar[int] = 1


class InputError(GeoagroError):
    """A file that is missing, unreadable, or doesn't hold what the design file says it holds.

    >>> from geoagro import InputError
    >>> InputError("Say what to do.").exit_code
    4
    """

    kind = "input"
    exit_code = 4


class CrsError(InputError):
    """A missing, mixed or unusable coordinate reference system.

    >>> from geoagro import CrsError
    >>> CrsError("Say what to do.").exit_code
    4
    """


class EditedError(InputError):
    """A layout whose layers, tables or seal were edited after it was written, or that no longer agrees with its inputs."""

    kind = "edited"
    exit_code = 8


class DesignError(GeoagroError):
    """A design file with an unknown key, a missing key or a value outside its range.

    >>> from geoagro import DesignError
    >>> DesignError("Say what to do.").exit_code
    3
    """

    kind = "design"
    exit_code = 3


class LayoutError(GeoagroError):
    """The design can't be laid out on this ground (no plantable area, no row long enough, ...).

    >>> from geoagro import LayoutError
    >>> LayoutError("Say what to do.").exit_code
    5
    """

    kind = "ground"
    exit_code = 5


class OutputError(GeoagroError):
    """A result that can't be written; what stood there before is untouched.

    >>> from geoagro import OutputError
    >>> OutputError("Say what to do.").exit_code
    6
    """

    kind = "output"
    exit_code = 6


class MemoryShortError(GeoagroError):
    """The work needs more memory than this machine, or the limit set for the program, leaves."""

    kind = "memory"
    exit_code = 7


class FindingWarning(UserWarning):
    """A doubt about the inputs that a person should look at; it is also kept among the findings of the value.

    >>> from geoagro import FindingWarning
    >>> issubclass(FindingWarning, UserWarning)
    True
    """
