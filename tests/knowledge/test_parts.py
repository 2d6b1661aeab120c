"""Parts as technicians name them: one frozen list, each under a kind of place that can fail."""

from __future__ import annotations

from dataclasses import replace

from triage.knowledge.load import load
from triage.knowledge.paths import knowledge_dir
from triage.quality.check import check_parts

KB = load(knowledge_dir())
BOTH = {"amp", "channel"}
"""Not parts: the whole, and one side of it."""


def test_a_report_is_mapped_on_a_list_of_at_least_a_hundred() -> None:
    """A technician has more names than the tool has kinds of place."""
    assert len(KB.parts) >= 100


def test_every_kind_of_place_has_a_part_that_is_named() -> None:
    """No kind is left that nobody would call by a name."""
    assert set(KB.kinds) - {part.under for part in KB.parts.values()} == BOTH


def test_a_part_is_scored_as_its_kind_of_place_and_a_kind_as_itself() -> None:
    """Grid stopper and grid leak fall under one kind; names of kinds keep their meaning."""
    assert {KB.kind_of(name) for name in ("grid_stopper", "grid_leak")} == {"grid_return"}
    assert [KB.kind_of(kind) for kind in KB.kinds] == list(KB.kinds)


def test_every_part_says_in_its_own_words_why_it_is_told_apart() -> None:
    """A reason that stands at two parts would tell neither."""
    assert len({part.why for part in KB.parts.values()}) == len(KB.parts)


def test_a_part_under_no_kind_or_named_like_one_is_refused() -> None:
    """The check finds both, with the entry's name."""
    part = KB.parts["grid_stopper"]
    lost = part.model_copy(update={"under": "grid_retrun"})
    twin = part.model_copy(update={"id": "choke"})
    wrong = replace(KB, parts={"grid_stopper": lost, "choke": twin})

    told = [(found.what, found.mend) for found in check_parts(wrong)]

    assert told == [
        (
            "grid_stopper: unknown kind of place 'grid_retrun'",
            "did you mean 'grid_return'?",
        ),
        ("choke: a kind of place has this name", "choose another."),
    ]
