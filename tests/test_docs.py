"""What README and DEVELOPERS name is there, and the README's two commands stay what they are."""

from __future__ import annotations

import re
from argparse import _SubParsersAction
from pathlib import Path

import pytest

from triage.cli.main import parser
from triage.knowledge.load import load
from triage.knowledge.paths import knowledge_dir
from triage.terminal.texts import COMMANDS

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
BUILD = "python3 -m venv .venv && CPPFLAGS=-DPyEval_CallObject=PyObject_CallObject .venv/bin/pip "


def blocks(text: str) -> list[str]:
    """Code blocks of a page."""
    return [found.strip() for found in re.findall(r"^```\w*\n(.*?)^```", text, re.M | re.S)]


def commands() -> set[str]:
    """Commands that the program knows."""
    (sub,) = [a for a in parser()._actions if isinstance(a, _SubParsersAction)]
    return set(sub.choices)


def test_the_first_two_blocks_of_the_readme_are_the_two_commands() -> None:
    """Install and demo, install and tests: continuous integration runs them word for word."""
    assert blocks(README)[:2] == [
        BUILD + "install . && .venv/bin/triage demo",
        BUILD + "install '.[test]' && .venv/bin/pytest -q",
    ]


def test_the_readme_tells_every_command_and_no_other() -> None:
    """The table of commands is that of the program."""
    told = set(re.findall(r"^\| `triage (\w+)", README, re.M))
    assert told == commands()


def test_the_readme_tells_every_word_of_a_session() -> None:
    """Each command word of the session is listed."""
    (line,) = re.findall(r"In a session: (.*?)\n\n", README, re.S)
    assert set(re.findall(r"`(\w+)`", line)) == {command.word for command in COMMANDS}


@pytest.mark.parametrize("page", [README, GUIDE], ids=["README", "DEVELOPERS"])
def test_links_lead_somewhere(page: str) -> None:
    """Every link is a file of the project or a heading of the page."""
    heads = {
        re.sub(r"[^\w -]", "", head.lower()).replace(" ", "-")
        for head in re.findall(r"^#+ (.*)$", page, re.M)
    }
    links = re.findall(r"\]\(([^)]+)\)", page)

    assert links
    for link in links:
        known = link[1:] in heads if link.startswith("#") else (ROOT / link).exists()
        assert known, link


def test_files_that_the_guide_names_exist() -> None:
    """Every path in the guide is there, but for the one that its reader is to make."""
    named = set(re.findall(r"`((?:knowledge|triage|tests|cases)/[\w./]+)`", GUIDE))

    assert len(named) > 20
    missing = {name for name in named if not (ROOT / name).exists()}
    assert missing == {"knowledge/rules/controls.yaml"}


def test_the_ids_that_the_guide_gives_as_examples_exist() -> None:
    """The map's examples are entries of the knowledge."""
    kb = load(knowledge_dir())
    known = {ident for folder, ident in kb.where}
    rows = re.findall(r"^\| `knowledge/.*\| `([\w.]+)` \|$", GUIDE, re.M)

    assert len(rows) >= 10
    assert {ident for ident in rows if ident not in known} == set()
