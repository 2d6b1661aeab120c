"""Every check in this folder says where its number comes from; the shares are told at the end.

``@pytest.mark.published(kind, source)`` stands on each test, or on each case by
``pytest.param(..., marks=pytest.mark.published(kind, source))``. ``kind`` is ``seen`` (read in the
source named), ``memory`` (a source recalled, or a number worked out from a formula recalled) or
``practice`` (the trade says so, no source).
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent
KINDS = {"seen": "seen", "memory": "from memory", "practice": "common practice, no source"}
_KIND_OF: dict[str, str] = {}
_PASSED: Counter[str] = Counter()


def fault_of(marks: list[pytest.Mark]) -> str:
    """What is wrong with the ``published`` marks of one test; empty if nothing is."""
    if len(marks) != 1:
        return f"{len(marks)} marks 'published' where one is wanted"
    args = marks[0].args
    if len(args) != 2 or args[0] not in KINDS:
        return f"'published' wants (kind, source), kind one of {', '.join(KINDS)}; got {args}"
    return "" if str(args[1]).strip() else "'published' names no source"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Refuse a test of this folder that does not say where its number comes from."""
    faults = []
    for item in items:
        if HERE not in item.path.parents:
            continue
        marks = list(item.iter_markers("published"))
        fault = fault_of(marks)
        if fault:
            faults.append(f"{item.nodeid}: {fault}")
        else:
            _KIND_OF[item.nodeid] = marks[0].args[0]
    if faults:
        raise pytest.UsageError(*faults)


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Count the checks that passed, by kind of source."""
    if report.when == "call" and report.passed and report.nodeid in _KIND_OF:
        _PASSED[_KIND_OF[report.nodeid]] += 1


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Tell the number of published checks and the share of each kind of source."""
    total = _PASSED.total()
    if not total:
        return
    shares = ", ".join(
        f"{_PASSED[kind]} {words} ({_PASSED[kind] / total:.0%})" for kind, words in KINDS.items()
    )
    terminalreporter.write_line(f"published checks passed: {total}: {shares}")
