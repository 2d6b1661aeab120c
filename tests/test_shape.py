"""Files stay small, and nothing in them points at the machine they were written on."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
FOLDERS = ("triage", "tests", "knowledge", "cases", ".ci")
MOST_LINES = {"triage": 400, "tests": 600, "knowledge": 400}
MOST_IN_FUNCTION = 60
"""A function fits a screen; house style aims at 45, this is where it stops."""
STRAIGHT = {"triage/assess.py assess", "triage/quality/check.py check_references"}
"""One straight run of like steps each; to be cut when they are next changed."""
MACHINE = re.compile(
    r"(?<![\w.~}])/(?:"
    + "|".join(["wo" + "rk", "ro" + "ot", "tm" + "p", "ho" + "me", "Us" + "ers"])
    + r")(?:/|\b)"
)
HOSTS = re.compile("|".join(["py" + r"pi\.org", "python" + r"hosted\.org", "index" + "-url"]))


def files(*suffixes: str) -> list[Path]:
    """Text files of the project, generated ones left out."""
    found = [p for p in ROOT.iterdir() if p.is_file() and p.suffix in (".md", ".toml", "")]
    for folder in FOLDERS:
        found += [
            p for p in (ROOT / folder).rglob("*") if p.is_file() and "__pycache__" not in p.parts
        ]
    return sorted(p for p in found if not suffixes or p.suffix in suffixes)


def shown(path: Path) -> str:
    """Name of a file inside the project."""
    return path.relative_to(ROOT).as_posix()


def test_no_file_is_longer_than_its_folder_allows() -> None:
    """Code and knowledge 400 lines, tests 600."""
    long = {
        shown(path): lines
        for path in files(".py", ".yaml")
        if (lines := len(path.read_text(encoding="utf-8").splitlines()))
        > MOST_LINES.get(path.relative_to(ROOT).parts[0], 10**9)
    }
    assert long == {}


def test_no_function_of_the_package_is_longer_than_a_screen() -> None:
    """What does not fit a screen is two functions."""
    long = {
        f"{shown(path)} {node.name}"
        for path in files(".py")
        if path.is_relative_to(ROOT / "triage")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and node.end_lineno is not None
        if node.end_lineno - node.lineno + 1 > MOST_IN_FUNCTION
    }
    assert long <= STRAIGHT


@pytest.mark.parametrize("pattern", [MACHINE, HOSTS], ids=["machine path", "registry host"])
def test_no_file_points_at_a_machine_or_a_registry(pattern: re.Pattern[str]) -> None:
    """Nothing in the project depends on where it was written or what it was installed from."""
    found = [
        f"{shown(path)}:{number}: {line.strip()[:80]}"
        for path in files()
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if pattern.search(line)
    ]
    assert found == []


@pytest.mark.parametrize("planted", ["/wo" + "rk/main", "see /tm" + "p/x", "'/ro" + "ot'"])
def test_the_check_sees_a_machine_path(planted: str) -> None:
    """A planted path is found."""
    assert MACHINE.search(planted)


@pytest.mark.parametrize("harmless", ["homework/main", "a/work_done", "$temp/home", "~/tmp"])
def test_the_check_lets_words_pass(harmless: str) -> None:
    """Words and paths of the person's own are not taken for machine paths."""
    assert not MACHINE.search(harmless)


def test_no_module_is_called_by_a_name_that_says_nothing() -> None:
    """A module is named by its noun."""
    empty = {"utils", "util", "helpers", "manager", "common", "misc"}
    named = {p.stem for p in files(".py") if p.is_relative_to(ROOT / "triage")}
    assert named & empty == set()
