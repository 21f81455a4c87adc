"""Every way in which a command can end badly, as one failure: class, exit code, and per mistake file, place, cause, remedy."""

from __future__ import annotations

import errno
import json
import re
import traceback
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import click

from geoagro.errors import GeoagroError, InputError, MemoryShortError, OutputError
from geoagro.values.model import visible
from geoagro.version import __version__

USAGE, OWN_MISTAKE, INTERRUPTED, CLOSED_PIPE = 2, 70, 130, 141

_REMEDIES = {
    "usage": "`geoagro COMMAND --help` shows how it is called.",
    "design": "Change that key of the design and run again.",
    "input": "Correct the file, or name another one, and run again.",
    "edited": "Run `geoagro layout` again, or give the edited rows as inputs.rows.",
    "ground": "Change the limit that is named, or the field.",
    "output": "Make room or choose another folder, and run again.",
    "memory": "Close other programs, give the program more memory, or work on a smaller field or a coarser raster.",
    "interrupted": "Run it again; nothing was written over.",
}
_NO_ROOM = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_NO_ROOM_WORDS = ("no space left", "disk is full", "file too large", "disk quota exceeded", "disk full")
_NO_MEMORY_WORDS = (
    "bad_alloc", "bad allocation", "cannot allocate memory", "can't allocate memory", "out of memory", "not enough memory",
    "memory allocation", "can't start new thread", "failed to map segment", "malloc", "unable to allocate",
)  # fmt: skip
_SECTION = r"(?:locale|inputs|ground|rows|beds|crops|plantings|recipes|start|stakeout|season|output|report)"
_KEY = r"[A-Za-z_][\w-]*(?:\[\d+\])?(?:\.[\w-]+(?:\[\d+\])?)*"
_FORMS = (
    re.compile(
        rf"(?P<file>[^:\n]+\.(?:ya?ml|toml))(?::(?P<line>\d+))?: (?:(?P<place>{_KEY}): )?(?P<rest>.*)", re.DOTALL
    ),
    re.compile(rf"(?P<place>{_KEY}) \((?P<file>[^()\n]+)\): (?P<rest>.*)", re.DOTALL),
    re.compile(rf"(?P<place>--[\w-]+|{_SECTION}(?:[.\[][\w.\[\]-]*)?): (?P<rest>.*)", re.DOTALL),
    re.compile(r"(?P<file>[^:\n]*[/\\.][^:\n]*): (?P<rest>.*)", re.DOTALL),
)
_FILE_FIRST = re.compile(r"(?P<file>\S*[\w-]+\.\w{1,8}|\S*[/\\\\]\S*) (?:is|isn't|can't|has|holds|was|were|lies)\b")


@dataclass(frozen=True)
class Problem:
    """One mistake, taken apart.

    >>> Problem.told("design.yaml:9: rows.spacing_m: must be above 0 (got 0). The default is 4.5.", "design").place
    'rows.spacing_m'
    >>> Problem.told("inputs.boundary (field.gpkg): holds no geometry. Name another.", "input").file
    'field.gpkg'
    """

    text: str
    file: str | None
    line: int | None
    place: str | None
    cause: str
    remedy: str

    @classmethod
    def told(cls, text: str, kind: str) -> Problem:
        """Take a sentence of the form that `geoagro.errors` describes apart."""
        found = next((match for form in _FORMS if (match := form.fullmatch(text))), None)
        parts = found.groupdict() if found else {"rest": text}
        cause, _, remedy = _sentences(parts["rest"])
        line, first = parts.get("line"), _FILE_FIRST.match(parts["rest"])
        file = parts.get("file") or (first["file"] if first else None)
        return cls(
            text, file, int(line) if line else None, parts.get("place"), cause, remedy or _REMEDIES.get(kind, "")
        )


def _sentences(text: str) -> tuple[str, str, str]:
    """First sentence, and the rest."""
    head, mark, tail = re.match(r"(.*?)(\.(?=\s+[A-Z`])|$)(.*)", text, re.DOTALL).groups()  # type: ignore[union-attr]
    return head.rstrip("."), mark, tail.strip()


@dataclass(frozen=True)
class Failure:
    """What went wrong, ready to be printed or handed on as data."""

    kind: str
    exit_code: int
    problems: tuple[Problem, ...]

    def words(self) -> str:
        """Lines for people."""
        return "\n".join(problem.text for problem in self.problems)

    def data(self) -> str:
        """One line of JSON for programs."""
        told = {"class": self.kind, "exit_code": self.exit_code, "problems": [asdict(p) for p in self.problems]}
        return json.dumps({"error": told}, ensure_ascii=True)


def failure_of(error: BaseException, *, arguments: Sequence[str] = ()) -> Failure:
    """Give any exception its class, exit code and words.

    What the package raises knows both. Errors of the system (disk, memory, rights) are told as such wherever they
    come from. Anything else is the program's own mistake, told with where it happened and how to report it.
    """
    if isinstance(error, click.exceptions.Abort | KeyboardInterrupt):
        return _failure("interrupted", INTERRUPTED, "interrupted; nothing was written over.")
    if isinstance(error, click.UsageError):
        return _failure("usage", USAGE, _usage(error))
    if isinstance(error, click.ClickException):
        return _failure("refused", error.exit_code, error.format_message())
    if isinstance(error, GeoagroError):
        return _failure(error.kind, error.exit_code, str(error))
    by_system = _by_system(error)
    if by_system is not None:
        return _failure(by_system.kind, by_system.exit_code, str(by_system))
    return _failure("own mistake", OWN_MISTAKE, _own_mistake(error, arguments))


def _failure(kind: str, exit_code: int, text: str) -> Failure:
    lines = [line for line in visible(text).split("\n") if line.strip()] or [kind]
    return Failure(kind, exit_code, tuple(Problem.told(line, kind) for line in lines))


def _usage(error: click.UsageError) -> str:
    command = error.ctx.command_path if error.ctx else "geoagro"
    text = " ".join(error.format_message().split())
    return f"{text.rstrip('.')}. `{command} --help` shows how it is called."


def _by_system(error: BaseException) -> GeoagroError | None:
    """Memory, disk and rights, as the system or a library tells them."""
    text = str(error).strip()
    low = text.lower()
    number = error.errno if isinstance(error, OSError) else None
    if isinstance(error, MemoryError) or number == errno.ENOMEM or any(word in low for word in _NO_MEMORY_WORDS):
        return MemoryShortError(f"not enough memory ({_first_line(text) or 'none left'}). {_REMEDIES['memory']}")
    name = str(error.filename) if isinstance(error, OSError) and error.filename else None
    if number in _NO_ROOM or any(word in low for word in _NO_ROOM_WORDS):
        place = f"{name}: " if name else ""
        return OutputError(
            f"{place}no room to write ({_first_line(text)}); what stood there before is untouched. {_REMEDIES['output']}"
        )
    if isinstance(error, OSError) and name:
        return _by_path(error, name)
    if isinstance(error, ValueError) and "null byte" in low:
        return InputError("a name of a file or folder holds a zero byte, which no system takes. Write it without.")
    return None


def _by_path(error: OSError, name: str) -> GeoagroError | None:
    cause = (error.strerror or str(error)).lower()
    if error.errno in {errno.ENAMETOOLONG, errno.EILSEQ}:
        shown = name if len(name) <= 80 else f"{name[:77]}..."
        return InputError(f"{shown}: this name can't be used on this system ({cause}). Choose a shorter, plainer one.")
    if error.errno in {errno.EACCES, errno.EPERM, errno.EROFS}:
        return OutputError(f"{name}: {cause}. Change the rights, or choose another folder.")
    if error.errno in {errno.ENOENT, errno.EISDIR, errno.ENOTDIR, errno.EIO, errno.ELOOP, errno.ESTALE}:
        return InputError(f"{name}: {cause}. Look whether it is there and can be opened, and run again.")
    return None


def _own_mistake(error: BaseException, arguments: Sequence[str]) -> str:
    called = " ".join(["geoagro", *arguments])
    told = _first_line(str(error)) or "no further words"
    return (
        f"a mistake in the program itself, not in your files: {type(error).__name__} ({told}) in {_where(error)}; "
        f"nothing was written over. Please report it with the design file, this line and what `{called} --debug` "
        f"prints (version {__version__})."
    )


def _where(error: BaseException) -> str:
    """Name the module and line of the package in which it happened."""
    frames = [f for f in traceback.extract_tb(error.__traceback__) if "geoagro" in Path(f.filename).parts]
    if not frames:
        return "a library"
    parts = Path(frames[-1].filename).parts
    start = len(parts) - 1 - parts[::-1].index("geoagro")
    return f"{'/'.join(parts[start:])}:{frames[-1].lineno}"


def _first_line(text: str) -> str:
    line = (str(text).strip().splitlines() or [""])[0].rstrip(".")
    return line if len(line) <= 200 else f"{line[:197]}..."
