"""Coverage: its arrays are the project's own ranking, its counts mean what they say."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from triage.cli.main import main
from triage.infer.posterior import Evidence, Item
from triage.knowledge.load import load
from triage.knowledge.paths import cases_dir, knowledge_dir
from triage.quality.coverage import Setting, isolate, settings, undetected, unsure
from triage.quality.coverage_lists import filler, stability, sure_words
from triage.quality.replay import find_cases
from triage.words import Phrasebook

KB = load(knowledge_dir())
BOOK = Phrasebook.make(KB.plain["words"])


@pytest.fixture(scope="module")
def bench() -> Setting:
    return settings(KB, ["practice_amp"])[0]


def test_the_arrays_rank_as_the_session_does(bench: Setting) -> None:
    """Signs, rules and findings that do not apply included, the ranking equals the model's.

    Where a rule looks at a finding not asked whose sign was seen otherwise, its share is
    approximated: half of the draws to 1e-4, all to 5e-3.
    """
    tables, draw = bench.tables, np.random.default_rng(3)
    answers = tables.drawn(draw)
    asked = tables.applies(answers, draw.random(len(answers)) < 0.7)
    posterior = tables.posterior(answers, asked)
    apart = []
    for row in range(0, len(posterior), 17):
        items = {}
        for f in np.flatnonzero(asked[:, row]).tolist():
            size = len(bench.grounded.instances[f].answers)
            items[f] = Item(tuple(float(a == answers[f, row]) for a in range(size)))
        state = tables.model.state(Evidence(items))
        apart.append(float(np.abs(state.posterior - posterior[row]).max()))

    assert np.median(apart) < 1e-4
    assert max(apart) < 5e-3


def test_unshaken_draws_follow_the_tables(bench: Setting) -> None:
    """Over many draws a finding's answers come as often as its column says."""
    still = settings(KB, ["practice_amp"], step=0.0)[0]
    draws = [still.tables.drawn(np.random.default_rng(n)) for n in range(200)]
    f = still.grounded.index[("hum", "amp")]
    share = np.mean([answers[f] for answers in draws], axis=0)
    expected = still.tables.columns(f)[1]

    assert np.abs(share - expected).mean() < 0.03


def test_words_are_moved_both_ways(bench: Setting) -> None:
    """A shaken 'usually' is above and below itself, and columns still sum to one."""
    words = bench.tables.words
    table, signs = bench.tables.shaken(np.random.default_rng(1))

    assert not np.allclose(words.up, words.down)
    assert np.allclose(table[bench.tables.sign < 0].sum(axis=1), 1.0)
    assert ((signs >= 0.0) & (signs <= 1.0)).all()


def test_more_tools_never_reach_less(bench: Setting) -> None:
    """All that a meter reaches is reached with all tools, and more."""
    few, all_ = bench.known["multimeter"], bench.known["all_tools"]

    assert not (few & ~all_).any()
    assert all_.sum() > few.sum()


def test_one_is_within_three_and_seeds_repeat(bench: Setting) -> None:
    """Whoever is isolated to one is isolated to three; the same seed gives the same shares."""
    first, again = (isolate([bench], 2, seed=5) for _ in range(2))

    assert first == again
    for result in first.values():
        assert 0.0 < result.one <= result.three <= 1.0
        assert all(found.one <= found.three for found in result.by_cause.values())


def test_a_cause_without_words_is_listed_as_filler_and_not_isolated() -> None:
    """Taking a cause's words away is seen: it changes nothing, and it cannot be told.

    A rare one: a frequent one leads by its rate alone where all is normal.
    """
    ident = "reservoir.shorted"
    bare = KB.causes[ident].model_copy(update={"makes": [], "suppresses": []})
    weights = {rule: entry for rule, entry in KB.rules.items() if ident not in str(entry.weighs)}
    mute = replace(KB, causes={**KB.causes, ident: bare}, rules=weights)
    benches = settings(mute, ["practice_amp"])
    results = isolate(benches, 2, seed=1)
    _, missing = undetected(benches, BOOK, results)

    assert f"cause {ident}" in filler(mute, benches)
    assert f"cause {ident}" not in filler(KB, settings(KB, ["practice_amp"]))
    assert ident in missing
    assert ident in {row.cause for row in unsure(benches, "all_tools", results["all_tools"])}


def test_each_cause_not_isolated_has_a_reason(bench: Setting) -> None:
    """The list says what it looks like or what is weak, and never nothing."""
    result = isolate([bench], 2, seed=2)["multimeter"]
    rows = unsure([bench], "multimeter", result)

    assert all(row.why and row.share < 0.5 for row in rows)


def test_few_words_are_sure() -> None:
    """At most 15 % of the words are 'always' or 'never'."""
    share, count = sure_words(KB)

    assert count > 500
    assert share <= 0.15


def test_a_case_stays_where_nothing_is_shaken() -> None:
    """With a step of nought no first suspect flips."""
    files = find_cases([cases_dir()])[:3]
    still = stability(KB, files, 3, seed=0, step=0.0)

    assert (still.cases, still.stay, still.flips) == (len(files), 1.0, {})


def test_the_command_prints_one_object(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """``--json`` with small bounds gives shares and lists, and ends well."""
    bounds = ["--shakes", "1", "--case-shakes", "1", "--cases", str(tmp_path)]
    code = main(["knowledge", "coverage", "--json", "--amplifier", "practice_amp", *bounds])
    found = json.loads(capsys.readouterr().out)

    assert code == 0
    assert found["amplifiers"] == ["practice_amp"]
    assert set(found["isolation"]) == {"multimeter", "all_tools"}
    assert found["stability"]["cases"] == 0


def test_an_unknown_amplifier_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """The message names the amplifiers there are."""
    code = main(["knowledge", "coverage", "--amplifier", "no_such"])

    assert code != 0
    assert "practice_amp" in capsys.readouterr().err
