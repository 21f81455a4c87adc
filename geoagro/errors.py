"""The error family: each message names the value, the rule and the remedy."""


class GeoagroError(Exception):
    """Something the user can put right; the command line prints it in words and stops."""


class InputError(GeoagroError):
    """A file that is missing, unreadable, or doesn't hold what the design file says it holds."""


class CrsError(InputError):
    """A missing, mixed or unusable coordinate reference system."""


class DesignError(GeoagroError):
    """A design file with an unknown key, a missing key or a value outside its range."""


class LayoutError(GeoagroError):
    """The design can't be laid out on this ground (no plantable area, no row long enough, ...)."""


class OutputError(GeoagroError):
    """A result that can't be written; what stood there before is untouched."""


class FindingWarning(UserWarning):
    """A doubt about the inputs that a person should look at; it is also kept among the findings of the value."""
