"""Entries do what their own tries say, and no rule is there for show."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from triage.assess import Bench
from triage.infer.gather import gather
from triage.infer.ground import ground
from triage.infer.posterior import Model
from triage.knowledge.load import Knowledge, load
from triage.knowledge.paths import knowledge_dir
from triage.model.entries import Rule, Try
from triage.quality import check
from triage.quality.attempt import Attempts, observations

KB = load(knowledge_dir())
WEIGHING = [rule for rule in KB.rules.values() if rule.weighs]
WARNING = [rule for rule in KB.rules.values() if rule.hazard]
LEAST = 1e-5
"""A rule that moves no cause by this much, on its own try, is not worth its lines."""


@pytest.fixture(scope="module")
def attempts() -> Iterator[Attempts]:
    kept = Attempts(KB)
    yield kept
    kept.close()


def firing_try(rule: Rule) -> Try:
    """The first try at which the rule is said to fire."""
    return next(tried for tried in rule.tries if tried.fires_at)


def posterior(kb: Knowledge, tried: Try) -> np.ndarray:
    """Ranking of the facts of a try, grounded anew."""
    grounded = ground(kb, kb.profiles[tried.profile])
    gathered = gather(grounded, observations(tried), complaint_told=False)
    return Model(grounded).state(gathered.evidence).posterior


def test_the_knowledge_has_no_problem() -> None:
    """Lint finds nothing and every try of every entry comes true."""
    assert [str(problem) for problem in check.run(KB, knowledge_dir())] == []


@pytest.mark.parametrize("rule", WEIGHING, ids=lambda rule: rule.id)
def test_a_rule_taken_out_changes_the_ranking(rule: Rule, attempts: Attempts) -> None:
    """Each weighing rule moves some cause on the facts of its own try."""
    tried = firing_try(rule)
    bench = attempts.bench(tried.profile)
    without = replace(KB, rules={key: r for key, r in KB.rules.items() if key != rule.id})

    with_rule = attempts.state(bench, observations(tried)).posterior

    assert np.abs(with_rule - posterior(without, tried)).max() > LEAST


@pytest.mark.parametrize("rule", WARNING, ids=lambda rule: rule.id)
def test_a_hazard_rule_taken_out_raises_no_hazard(rule: Rule) -> None:
    """Each hazard rule is what raises its hazard on the facts of its own try."""
    tried = firing_try(rule)
    seen = [(o.place, o.finding, o.answer) for o in observations(tried)]
    without = replace(KB, rules={key: r for key, r in KB.rules.items() if key != rule.id})

    raised = []
    for kb in (KB, without):
        bench = Bench.make(kb, kb.profiles[tried.profile])
        firings = bench.engine.match(seen, bench.grounded.places)
        raised.append({kb.rules[f.rule_id].hazard for f in firings} - {None})
        bench.close()

    assert rule.hazard in raised[0]
    assert rule.hazard not in raised[1]


def test_every_rule_weighs_warns_derives_or_puts_first() -> None:
    """No rule is without a consequence."""
    idle = [r.id for r in KB.rules.values() if not (r.weighs or r.hazard or r.derives or r.first)]
    assert idle == []


@pytest.mark.parametrize("rule", list(KB.rules.values()), ids=lambda rule: rule.id)
def test_a_rule_has_a_try_that_fires_and_a_near_miss(rule: Rule, attempts: Attempts) -> None:
    """One try fires; one that differs from it by little does not, or fires elsewhere only."""
    fired = [attempts.fired(tried, rule.id) for tried in rule.tries if tried.fires_at is not None]

    assert any(fired)
    assert any(places != max(fired, key=len) for places in fired)


def test_a_false_try_is_told_with_its_file_and_line() -> None:
    """A try that claims too much is a problem at its entry, with what came instead."""
    rule = WEIGHING[0]
    false = rule.model_copy(
        update={"tries": [firing_try(rule).model_copy(update={"fires_at": []})]}
    )
    broken = replace(KB, rules={**KB.rules, rule.id: false})

    problems = check.run(broken)

    file, line = KB.where[("rules", rule.id)]
    assert [(p.file, p.line) for p in problems] == [(file, line)]
    assert "its try says []" in problems[0].what
