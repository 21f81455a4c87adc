"""Plant small faults in the rooms with numbers, one at a time, and tell which of them the tests notice.

python scripts/mutants.py [--sample 60] [--seed 1] [--only geoagro/season/harvest.py ...] [--least 85]

A fault is one changed operator, number, margin or comparison. Each lives in a process of its own, forked after the heavy
libraries are loaded, and never touches a file: an import hook hands the changed module over. Only tests that belong
to the module are run: those that import it, then those named after its room; where they notice nothing, those that
import a module that uses it. A fault that makes the first two fail, or run longer than MOST_SECONDS of processor time, is
noticed; of the third, only one that fails counts. Some faults change nothing that anybody can see (a margin against
rounding, say), so 100 % isn't the aim.
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib.abc
import importlib.util
import os
import random
import resource
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).resolve().parents[1]
ROOMS = {
    "planar": "planar/**/*.py",
    "terrain": "terrain/**/*.py",
    "rows": "rows/[qs]*.py",
    "beds": "beds/**/*.py",
    "plants": "plants/**/*.py",
    "stakeout": "stakeout/**/*.py",
    "season": "season/**/*.py",
    "reports": "reports/**/*.py",
    "light": "light/**/*.py",
    "yields": "yields/**/*.py",
}
"""Rooms with numbers, and which of their modules are looked at (of rows: what measures, not what searches)."""
NAMED = {"reports": "report"}
"""How tests of a room are called where it isn't the room's own name: test_report_..., test_reports_..."""
HEAVY = (
    "geopandas",
    "scipy.optimize",
    "scipy.spatial",
    "scipy.stats",
    "scipy.sparse.linalg",
    "scipy.ndimage",
    "hypothesis",
)
MOST_SECONDS = 400
"""Processor time of one run; a fault that takes longer runs in circles and counts as noticed."""

SWAPS: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult,
    ast.And: ast.Or,
    ast.Or: ast.And,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
CHANGED = (ast.Compare, ast.BinOp, ast.BoolOp, ast.UnaryOp, ast.Constant, ast.Attribute, ast.Name)
NAMES = {"min": "max", "minimum": "maximum", "floor": "ceil", "argmin": "argmax", "cos": "sin", "first": "last"}
NAMES |= {other: name for name, other in NAMES.items()}


@dataclass(frozen=True)
class Fault:
    """One change: the module, the number of the node in it, and what is changed, in words."""

    path: Path
    number: int
    line: int
    words: str

    @property
    def module(self) -> str:
        """Dotted name of the module."""
        return ".".join(self.path.relative_to(ROOT).with_suffix("").parts)


def faults_of(path: Path) -> list[Fault]:
    """Every fault that can be planted in a module."""
    nodes = _nodes(ast.parse(path.read_text(encoding="utf-8")))
    found = []
    for number, node in enumerate(nodes):
        if not isinstance(node, CHANGED):
            continue
        before, changed = ast.unparse(node), copy.deepcopy(node)
        if _change(changed):
            found.append(Fault(path, number, node.lineno, f"{before} -> {ast.unparse(changed)}"))
    return found


def planted(fault: Fault) -> ast.Module:
    """Parse a module and plant its fault."""
    tree = ast.parse(fault.path.read_text(encoding="utf-8"))
    _change(_nodes(tree)[fault.number])
    return ast.fix_missing_locations(tree)


def _nodes(tree: ast.Module) -> list[ast.AST]:
    """Nodes that count: nothing in messages, annotations, docstrings or text."""
    return list(_walk(tree))


def _walk(node: ast.AST) -> Iterator[ast.AST]:
    yield node
    if isinstance(node, ast.Raise | ast.JoinedStr | ast.Import | ast.ImportFrom | ast.Assert):
        return
    skipped = {"annotation", "returns", "decorator_list", "type_comment"}
    digits = _digits(node)
    for name, value in ast.iter_fields(node):
        if name in skipped:
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and child is not digits:
                yield from _walk(child)


def _digits(node: ast.AST) -> ast.AST | None:
    """Decimals of a rounding: one more or fewer is a matter of taste, so they are left alone."""
    named = isinstance(node, ast.Call) and getattr(node.func, "attr", getattr(node.func, "id", "")) in (
        "round",
        "around",
    )
    return node.args[-1] if named and isinstance(node, ast.Call) and len(node.args) > 1 else None


def _change(node: ast.AST) -> bool:
    """Change a node in place; False where there is nothing to change."""
    if isinstance(node, ast.Compare) and type(node.ops[0]) in SWAPS:
        node.ops[0] = SWAPS[type(node.ops[0])]()  # type: ignore[assignment]
    elif isinstance(node, ast.BoolOp) or (
        isinstance(node, ast.BinOp) and type(node.op) in SWAPS and not _is_text(node)
    ):
        node.op = SWAPS[type(node.op)]()  # type: ignore[assignment]
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        node.op = ast.UAdd()
    elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
        node.value = node.value + 1 if isinstance(node.value, int) else node.value * 1.5 + (node.value == 0.0)
    elif isinstance(node, ast.Attribute) and node.attr in NAMES:
        node.attr = NAMES[node.attr]
    elif isinstance(node, ast.Name) and node.id in ("min", "max"):
        node.id = NAMES[node.id]
    else:
        return False
    return True


def _is_text(node: ast.BinOp) -> bool:
    sides = (node.left, node.right)
    return any(isinstance(s, ast.JoinedStr | ast.List | ast.Tuple | ast.Dict | ast.Set) for s in sides) or any(
        isinstance(s, ast.Constant) and isinstance(s.value, str | None.__class__) for s in sides
    )


def tests_of(path: Path) -> list[str]:
    """Test files that belong to a module: those that import it, then those named after its room; doctests first."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    module, room = ".".join(parts), parts[1]
    tests = sorted((ROOT / "tests").glob("test_*.py"))
    direct = [t for t in tests if f"{module} import" in t.read_text(encoding="utf-8")]
    named = [t for t in tests if t.stem.startswith(f"test_{NAMED.get(room, room)}") and t not in direct]
    named.sort(key=lambda t: parts[-1] not in t.stem)
    return [str(p.relative_to(ROOT)) for p in (path, *direct, *named)]


def tests_beyond(path: Path) -> list[str]:
    """Further test files: those that import a module of the package that imports this one."""
    name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
    users = [p for p in (ROOT / "geoagro").rglob("*.py") if f"from {name} import" in p.read_text(encoding="utf-8")]
    asked = tuple(f"from {'.'.join(p.relative_to(ROOT).with_suffix('').parts)} import" for p in users)
    tests = sorted((ROOT / "tests").glob("test_*.py"))
    found = [t for t in tests if any(words in t.read_text(encoding="utf-8") for words in asked)]
    known = tests_of(path)
    return [str(t.relative_to(ROOT)) for t in found if str(t.relative_to(ROOT)) not in known]


class _Planted(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Hands over one module with its fault."""

    def __init__(self, name: str, path: Path, tree: ast.Module) -> None:
        self.name, self.path, self.tree = name, path, tree

    def find_spec(self, name: str, *_: object) -> ModuleSpec | None:
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self.path, loader=self)

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self.tree, str(self.path), "exec"), module.__dict__)


def first_failure(module: str, path: Path, tree: ast.Module, tests: list[str]) -> str:
    """Run tests on a module as given, in a process of its own; the first that fails, or nothing."""
    reader, writer = os.pipe()
    with tempfile.TemporaryDirectory() as empty:
        child = os.fork()
        if child == 0:
            if "@compiled" in path.read_text(encoding="utf-8"):
                # machine code is kept by its file's time, not by its numbers: the sound code would run, or the faulty be kept
                os.environ["NUMBA_CACHE_DIR"] = empty
            _run(module, path, tree, tests, writer)
        os.close(writer)
        with os.fdopen(reader) as pipe:
            told = pipe.read().strip()
        _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return f"ended by signal {os.WTERMSIG(status)}"
    code = os.WEXITSTATUS(status)
    if (code == 0) == bool(told):
        raise SystemExit(f"pytest gave {code} for {', '.join(tests)}: nothing was tested. {told}")
    return told


def noticed_by(fault: Fault) -> str:
    """Tell the test that notices a fault; nothing where none does.

    Raises SystemExit where that test fails without the fault too.
    """
    told = first_failure(fault.module, fault.path, planted(fault), tests_of(fault.path))
    beyond = [] if told else tests_beyond(fault.path)
    if beyond:
        told = first_failure(fault.module, fault.path, planted(fault), beyond)
        told = told if told.startswith("tests/") else ""
    if told.startswith("tests/"):
        sound = ast.parse(fault.path.read_text(encoding="utf-8"))
        if first_failure(fault.module, fault.path, sound, [told]):
            raise SystemExit(f"{told} fails without any fault; nothing can be told before it passes.")
    return told


def _run(module: str, path: Path, tree: ast.Module, tests: list[str], writer: int) -> None:
    import pytest  # noqa: PLC0415 (not before the fork: it takes its settings from there)

    class First:
        def pytest_configure(self) -> None:
            # ahead of pytest's own hook, which would read modules named on the command line from their files
            sys.meta_path.insert(0, _Planted(module, path, tree))

        def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
            self._tell(report)

        def pytest_collectreport(self, report: pytest.CollectReport) -> None:
            self._tell(report)

        def _tell(self, report: pytest.TestReport | pytest.CollectReport) -> None:
            if report.failed:
                os.write(writer, f"{report.nodeid}\n".encode())

    resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS))
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)
    sys.dont_write_bytecode = True
    quiet = ("-x", "-q", "-p", "no:cacheprovider", "-W", "ignore:Module already imported")
    code = pytest.main([*quiet, *tests], plugins=[First()])
    os._exit(int(code))


def _load() -> None:
    """Load what every run needs, so that a fork begins with it; nothing of the package itself."""
    os.environ |= {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    for name in HEAVY:
        importlib.import_module(name)
    loaded = [name for name in sys.modules if name.split(".")[0] == "geoagro"]
    assert not loaded, loaded


def main() -> None:
    """Plant a seeded sample of faults, print each that the tests missed, and the share noticed."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--sample", type=int, default=60, help="how many faults, drawn evenly over the rooms")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", nargs="*", default=[], help="modules to plant in, e.g. geoagro/season/harvest.py")
    asked.add_argument("--least", type=float, default=0.0, help="fail where a smaller share (%%) is noticed")
    rule = asked.parse_args()
    _load()
    chance = random.Random(rule.seed)
    chosen = [f for name in rule.only for f in faults_of(ROOT / name)] if rule.only else _spread(chance, rule.sample)
    chosen = chance.sample(
        chosen, min(rule.sample, len(chosen))
    )  # in no order, so that a run cut short is a sample too
    noticed = 0
    for k, fault in enumerate(chosen, 1):
        begun = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
        told = noticed_by(fault)
        noticed += bool(told)
        spent = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - begun
        place = f"{fault.path.relative_to(ROOT)}:{fault.line}"
        print(
            f"{k}/{len(chosen)} {'noticed' if told else 'MISSED'} {place}: {fault.words} [{spent:.0f} s] {told}",
            flush=True,
        )
    share = 100 * noticed / max(len(chosen), 1)
    print(f"{noticed} of {len(chosen)} faults noticed: {share:.0f} %")
    raise SystemExit(share < rule.least)


def _spread(chance: random.Random, count: int) -> list[Fault]:
    """Draw from each room the same number of faults."""
    each = -(-count // len(ROOMS))
    chosen = []
    for pattern in ROOMS.values():
        paths = sorted((ROOT / "geoagro").glob(pattern))
        found = [fault for path in paths for fault in faults_of(path)]
        chosen += chance.sample(found, min(each, len(found)))
    return chosen


if __name__ == "__main__":
    main()
