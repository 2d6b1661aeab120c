"""Who may import whom, read from the source; DEVELOPERS.md tells the order in words."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import triage

PACKAGE = Path(triage.__file__).parent
LAYERS: tuple[frozenset[str], ...] = tuple(
    frozenset(names.split())
    for names in (
        "errors",
        "units spelling log_sum",
        "words",
        "model",
        "safety knowledge measure",
        "circuit",
        "rules",
        "evidence",
        "infer",
        "plan",
        "assess",
        "job",
        "store",
        "world",
        "quality",
        "teach report",
        "terminal",
        "cli",
        "__main__",
    )
)
"""Rooms from the lowest to the highest; each may import from those above it in this list."""
LEVEL = {room: level for level, rooms in enumerate(LAYERS) for room in rooms}
PURE = sorted(room for room in LEVEL if LEVEL[room] < LEVEL["job"])
READERS = frozenset({"knowledge/load.py", "knowledge/paths.py"})
"""The only files below ``job`` that may read and keep files."""
OUTSIDE = frozenset(
    "builtins datetime fileinput glob io logging os random secrets shutil signal socket sqlite3 "
    "subprocess tempfile threading time uuid".split()
)
"""Modules that bring the clock, chance, files or the world outside."""
DOORS = frozenset({"print", "input", "open", "exec", "eval", "__import__"})
FILE_METHODS = frozenset(
    "cwd exists glob home is_dir is_file iterdir mkdir open read_bytes read_text rename rglob "
    "touch unlink write_bytes write_text".split()
)


def sources() -> list[Path]:
    """All files of the package."""
    return sorted(p for p in PACKAGE.rglob("*.py") if "data" not in p.relative_to(PACKAGE).parts)


def shown(path: Path) -> str:
    """Name of a file inside the package."""
    return path.relative_to(PACKAGE).as_posix()


def room_of(path: Path) -> str:
    """Room in which a file lies; a module at the top is a room by itself."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported(tree: ast.AST) -> Iterator[str]:
    """Full names of all that a file imports, inside functions and for types as well."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "relative imports hide the room"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def parsed(path: Path) -> ast.Module:
    """Syntax tree of a file."""
    return ast.parse(path.read_text(encoding="utf-8"))


def breaches(room: str, names: Iterator[str]) -> list[str]:
    """Imports of a room that its place in the order does not allow."""
    wrong = []
    for name in names:
        parts = name.split(".")
        if parts[0] != "triage" or len(parts) < 2:
            continue
        other = parts[1]
        if other not in LEVEL:
            wrong.append(f"{other} is no room")
        elif other != room and LEVEL[other] >= LEVEL[room]:
            wrong.append(f"{room} imports {other}")
    return wrong


@pytest.mark.parametrize("path", sources(), ids=shown)
def test_a_file_imports_only_rooms_below_its_own(path: Path) -> None:
    """Imports go one way; rooms of one level leave each other alone."""
    if path == PACKAGE / "__init__.py":
        assert [n for n in imported(parsed(path)) if n.startswith("triage.")] == []
    else:
        assert breaches(room_of(path), imported(parsed(path))) == []


def test_the_check_sees_an_import_upwards_and_one_sideways() -> None:
    """A planted breach is found: upwards, sideways, inside a function, of an unknown room."""
    planted = (
        "import triage.job.session\n"
        "from triage.knowledge.load import load\n"
        "def f():\n    from triage.terminal import texts\n"
        "from triage.attic import box\n"
        "from triage.model.places import Place\n"
    )

    found = breaches("safety", imported(ast.parse(planted)))

    assert sorted(found) == [
        "attic is no room",
        "safety imports job",
        "safety imports knowledge",
        "safety imports terminal",
    ]


def users_of(library: str) -> set[str]:
    """Files that import a library by any of its names."""
    return {
        shown(path)
        for path in sources()
        if any(name.split(".")[0].startswith(library) for name in imported(parsed(path)))
    }


def test_only_the_adapter_imports_the_rules_library() -> None:
    """One door to the rules engine."""
    assert users_of("durable") == {"rules/engine.py"}


def test_only_the_terminal_imports_the_prompt_library() -> None:
    """Nothing decides anything where keys are read."""
    users = users_of("prompt_toolkit")

    assert users
    assert {name.split("/")[0] for name in users} == {"terminal"}


def outside_doors(tree: ast.Module) -> list[str]:
    """Clock, chance, files and print, as far as the source shows them."""
    found = [name for name in imported(tree) if name.split(".")[0] in OUTSIDE]
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            if node.func.id in DOORS:
                found.append(f"{node.func.id}() in line {node.lineno}")
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            if node.func.attr in FILE_METHODS:
                found.append(f".{node.func.attr}() in line {node.lineno}")
        if isinstance(node, ast.Attribute) and node.attr == "random":
            found.append(f".random in line {node.lineno}")
    return found


PURE_FILES = [p for p in sources() if room_of(p) in PURE and shown(p) not in READERS]


@pytest.mark.parametrize("path", PURE_FILES, ids=shown)
def test_below_the_job_nothing_reaches_outside(path: Path) -> None:
    """No clock, no chance, no files, no print: the same input gives the same answer."""
    assert outside_doors(parsed(path)) == []


def test_the_check_sees_clock_chance_files_and_print() -> None:
    """Planted doors are found, each once."""
    planted = (
        "import time\nfrom os import environ\nimport numpy as np\n"
        "print('x')\nopen('x')\npath.read_text()\nnp.random.default_rng()\n"
    )

    assert sorted(outside_doors(ast.parse(planted))) == [
        ".random in line 7",
        ".read_text() in line 6",
        "open() in line 5",
        "os.environ",
        "print() in line 4",
        "time",
    ]


def loaded_by(statement: str, libraries: tuple[str, ...]) -> list[str]:
    """Which of these libraries a fresh process has loaded after a statement."""
    code = f"{statement}\nimport sys\nprint([n for n in {libraries!r} if n in sys.modules])"
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=PACKAGE.parent,
    )
    return list(ast.literal_eval(done.stdout))


HEAVY = ("numpy", "scipy", "prompt_toolkit", "networkx", "pydantic", "durable")


def test_importing_the_package_loads_no_library() -> None:
    """``import triage`` is quick: nothing heavy comes with it."""
    assert loaded_by("import triage", HEAVY) == []


def test_reading_the_command_line_loads_no_library() -> None:
    """``triage --help`` needs none of them either."""
    assert loaded_by("from triage.cli.main import parser; parser()", HEAVY) == []


def test_assessing_loads_neither_scipy_nor_the_graph_nor_the_prompt_library() -> None:
    """The reasoning starts without what only tests, order sheets and the terminal need."""
    heavy = ("scipy", "networkx", "prompt_toolkit", "pgmpy")
    assert loaded_by("import triage.assess, triage.job.session", heavy) == []
