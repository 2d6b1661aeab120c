"""Each fault that a hand can make in the files is told at its entry, in the words of the guide."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from triage.knowledge.load import Knowledge, load
from triage.knowledge.paths import knowledge_dir
from triage.quality import check

KB = load(knowledge_dir())
GUIDE = (Path(__file__).resolve().parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
RULE = "ripple_and_double_hum"
Edit = Callable[[dict[str, Any]], None]


def spoilt(folder: str, ident: str, edit: Edit) -> Knowledge:
    """The knowledge with one entry edited, as if its file said so."""
    entry = getattr(KB, folder)[ident]
    raw = entry.model_dump(by_alias=True)
    edit(raw)
    return replace(KB, **{folder: {**getattr(KB, folder), ident: type(entry).model_validate(raw)}})


def put(*path: str | int, value: object) -> Edit:
    """An edit that sets one value."""

    def edit(raw: dict[str, Any]) -> None:
        here: Any = raw
        for step in path[:-1]:
            here = here[step]
        here[path[-1]] = value

    return edit


FAULTS: dict[str, tuple[str, str, Edit, str]] = {
    "finding": ("rules", RULE, put("when", 0, "finding", value="riple"), "unknown finding 'riple'"),
    "answer": ("rules", RULE, put("when", 0, "is", value="hi"), "'hi' is no answer of 'ripple'"),
    "relation": (
        "rules",
        RULE,
        put("weighs", 0, "of", value="self.neighbour"),
        "'neighbour' is no relation",
    ),
    "far walk": (
        "rules",
        RULE,
        put("weighs", 0, "of", value="self.amp.holds.mate"),
        "walks more than two relations",
    ),
    "cause": ("rules", RULE, put("weighs", 0, "cause", value="x.y"), "unknown cause 'x.y'"),
    "hazard": ("rules", "smoke_seen", put("hazard", value="fog"), "unknown hazard 'fog'"),
    "source": ("rules", RULE, put("source", 0, "id", value="heard"), "unknown source 'heard'"),
    "usual": (
        "findings",
        "hum",
        put("usual", value={"no": 0.6, "yes": 0.5}),
        "sums to 1.100, not 1",
    ),
    "usual names": (
        "findings",
        "hum",
        put("usual", value={"no": 0.5, "si": 0.5}),
        "'usual' and 'answers' name different answers",
    ),
    "normal": ("findings", "hum", put("normal", value="maybe"), "normal 'maybe' is no answer"),
    "kind": ("findings", "hum", put("at", value=["amps"]), "unknown kind of place 'amps'"),
    "repair": ("causes", "reservoir.dried", put("repair", value="pray"), "unknown repair 'pray'"),
    "sign": ("findings", "bridged", put("shows", "sign", value="omen"), "unknown sign 'omen'"),
    "yields": (
        "procedures",
        "read_idle_current",
        put("yields", 0, "finding", value="idle"),
        "unknown finding 'idle'",
    ),
    "gate": ("procedures", "read_idle_current", put("needs", value=["G99"]), "unknown gate 'G99'"),
    "worded sign": (
        "causes",
        "reservoir.dried",
        put("makes", 0, value={"finding": "bridged", "answer": "cured", "word": "often"}),
        "'bridged' hangs on the sign",
    ),
    "loud words": (
        "causes",
        "reservoir.dried",
        put(
            "makes",
            value=[
                {"finding": "ripple", "answer": "high", "word": "usually"},
                {"finding": "ripple", "answer": "low", "word": "often"},
            ],
        ),
        "its words on 'ripple' at self sum to 1.45",
    ),
    "one condition": (
        "rules",
        RULE,
        lambda raw: raw.update(when=raw["when"][:1]),
        "one condition is a word of the cause, not a rule",
    ),
    "try elsewhere": (
        "rules",
        RULE,
        put("tries", 0, "facts", 0, value="C99 ripple high"),
        "its try names ripple at C99, which is not there",
    ),
    "false try": (
        "rules",
        RULE,
        put("tries", 0, "fires_at", value=["C2"]),
        "fires at ['C1'], its try says ['C2']",
    ),
    "no rise": (
        "rules",
        RULE,
        put("tries", 2, "facts", value=["C1 ripple low"]),
        "its try should raise reservoir.dried",
    ),
}


@pytest.mark.parametrize("name", list(FAULTS))
def test_a_fault_is_told_at_its_entry(name: str) -> None:
    """The check says what is wrong, at the file and line of the entry that was spoilt."""
    folder, ident, edit, wanted = FAULTS[name]

    found = [p for p in check.run(spoilt(folder, ident, edit)) if wanted in p.what]

    assert [(p.file, p.line) for p in found] == [KB.where[(folder, ident)]]
    assert found[0].what.startswith(f"{ident}: ")


def test_a_misspelt_word_is_answered_with_the_nearest() -> None:
    """The mend names the id that was meant."""
    folder, ident, edit, wanted = FAULTS["finding"]
    (problem,) = [p for p in check.run(spoilt(folder, ident, edit)) if wanted in p.what]
    assert problem.mend == "did you mean 'ripple'?"


def test_a_finding_that_nothing_yields_is_told() -> None:
    """What nobody can come to know is a fault of the files."""
    left = {
        key: p.model_copy(update={"yields": [y for y in p.yields if y.finding != "getter"]})
        for key, p in KB.procedures.items()
    }
    found = check.run(replace(KB, procedures=left))
    assert "getter: no procedure yields it" in [p.what for p in found]


def test_a_gate_that_nothing_proves_is_told() -> None:
    """A gate that cannot be met would stop every job."""
    left = {
        key: p.model_copy(update={"proves": [g for g in p.proves if g != "G7"]})
        for key, p in KB.procedures.items()
    }
    found = check.run(replace(KB, procedures=left))
    assert "G7: no procedure proves it" in [p.what for p in found]


@pytest.mark.parametrize(
    "words",
    [
        "is no relation",
        "walks more than two relations",
        "one condition is a word of the cause, not a rule",
        "no procedure yields it",
        "no procedure proves it",
        "hangs on the sign",
        "which is not there",
        "its try should raise",
    ],
)
def test_the_guide_explains_what_the_check_says(words: str) -> None:
    """The table of messages has a row for it."""
    assert any(words in line for line in GUIDE.splitlines() if line.startswith("|"))
