"""From evidence to a ranking, and to the columns that the planner looks ahead with.

Everything is one model (semantics 1.2): per row, single findings and signs, multiplied by the
rule components. Evidence on a finding is a vector over its reported answers: one-hot for an
answer, several ones for a union of verdicts, probabilities for an uncertain reading,
``1 - told`` on abnormal answers for what nobody mentioned.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from triage.infer.components import Component, build, conditional, joint
from triage.infer.ground import Grounded

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Item:
    """Evidence on one finding instance. ``present``: chance that the fault was there when seen."""

    weights: tuple[float, ...]
    present: float = 1.0


@dataclass(frozen=True)
class RepairProof:
    """A repair that was made and tried: rows it would have cured, and what the proof said."""

    rows: frozenset[int]
    passed: bool


PROOF_IF_CURED = 0.98
PROOF_OTHERWISE = 0.10


@dataclass(frozen=True)
class Evidence:
    """All evidence of a job at one moment."""

    items: Mapping[int, Item] = field(default_factory=dict)
    proofs: tuple[RepairProof, ...] = ()

    def plus(self, index: int, item: Item) -> Evidence:
        """Evidence with one finding set (replacing what was there)."""
        return Evidence({**self.items, index: item}, self.proofs)


Known = tuple[tuple[int, Item], ...]
"""Evidence items by finding, in order: what kept columns and joints are looked up by."""
KEPT = 50_000


class Model:
    """Components of all rows, built once; answers likelihoods for any evidence."""

    def __init__(self, grounded: Grounded) -> None:
        self.grounded = grounded
        by_row: dict[int, list[int]] = {}
        for i, rule in enumerate(grounded.rules):
            by_row.setdefault(rule.hypothesis, []).append(i)
        self.components: list[Component] = []
        for row, members in sorted(by_row.items()):
            rules = tuple(grounded.rules[i] for i in members)
            self.components += build(grounded, rules, row, grounded.sign_p[:, row])
        self.touching: dict[int, list[int]] = {}
        for c, component in enumerate(self.components):
            for block in component.blocks:
                self.touching.setdefault(block, []).append(c)
        self.reach = tuple(self._reach(block) for block in range(len(grounded.blocks)))
        self.near = tuple(self._near(instance.block) for instance in grounded.instances)
        self._kept: dict[tuple[int, Known], tuple[Floats, float]] = {}
        self._logs: dict[tuple[int, Known], Floats] = {}
        self._columns: dict[tuple[int, Known], Floats] = {}
        self.kept: dict[tuple[tuple[int, ...], Known], object] = {}

    def _near(self, block: int) -> tuple[int, ...]:
        """The block of a finding, and those that its rules look at."""
        blocks = {block}
        for c in self.touching.get(block, []):
            blocks |= set(self.components[c].blocks)
        return tuple(sorted(blocks))

    def _reach(self, block: int) -> tuple[int, ...]:
        """Findings whose evidence bears on this block: its own, and those its rules look at."""
        return tuple(sorted(f for b in self._near(block) for f in self.grounded.blocks[b]))

    def bearing(self, evidence: Evidence, findings: Iterable[int]) -> Known:
        """The part of the evidence on which columns of these findings depend."""
        grounded, items = self.grounded, evidence.items
        blocks = {grounded.instances[f].block for f in findings}
        near = {f for block in blocks for f in self.reach[block] if f in items}
        return tuple((f, items[f]) for f in sorted(near))

    def keep(self, findings: tuple[int, ...], known: Known, made: object) -> None:
        """Keep what was made of these findings under this evidence, for the steps that follow."""
        if len(self.kept) > KEPT:
            self.kept.clear()
        self.kept[(findings, known)] = made

    def state(self, evidence: Evidence) -> State:
        """Posterior and conditional columns for this evidence."""
        return State(self, evidence)

    def mixed(self, finding: int, present: float) -> Floats:
        """A direct finding's table where the fault was perhaps not there when it was seen."""
        instance = self.grounded.instances[finding]
        if present >= 1.0:
            return instance.table
        share = 1.0 - self.grounded.goes * (1.0 - present)
        return np.asarray(instance.table * share + instance.base[:, None] * (1.0 - share))

    def by_sign(self, finding: int, item: Item) -> Floats:
        """P(evidence | sign absent, present) per row, shape (2, rows) or (2, 1)."""
        instance = self.grounded.instances[finding]
        weights = np.array(item.weights)
        given = weights @ instance.table
        if item.present >= 1.0:
            return np.asarray(given[:, None])
        share = 1.0 - self.grounded.goes * (1.0 - item.present)
        usual = float(weights @ instance.base)
        return np.asarray(given[:, None] * share + usual * (1.0 - share))

    def component_joint(self, c: int, evidence: Evidence) -> tuple[Floats, float]:
        """Joint of one component, rules and evidence folded in, over its mean; and its sum (kept)."""
        component = self.components[c]
        touched = tuple(
            (f, evidence.items[f])
            for block in component.blocks
            for f in self.grounded.blocks[block]
            if f in evidence.items
        )
        key = (c, touched)
        found = self._kept.get(key)
        if found is None:
            whole = self._joint(component, dict(touched))
            found = (whole, float(whole.sum()))
            if len(self._kept) > KEPT:
                self._kept.clear()
            self._kept[key] = found
        return found

    def block_log(self, block: int, evidence: Evidence) -> Floats:
        """Log of P(evidence on this block | row), rules apart, shape (rows,); kept."""
        items = evidence.items
        known = tuple((f, items[f]) for f in self.grounded.blocks[block] if f in items)
        found = self._logs.get((block, known))
        if found is None:
            found = np.log(np.maximum(self._block(block, dict(known)), 1e-300))
            if len(self._logs) > KEPT:
                self._logs.clear()
            self._logs[(block, known)] = found
        return found

    def _block(self, block: int, items: Mapping[int, Item]) -> Floats:
        grounded = self.grounded
        if block >= len(grounded.signs):
            ((f, item),) = items.items()
            return np.asarray(np.array(item.weights) @ self.mixed(f, item.present))
        both = self.sign_evidence(block, items)
        p = grounded.sign_p[block]
        return np.asarray((1.0 - p) * both[0] + p * both[1])

    def add_rules(
        self,
        log: Floats,
        evidence: Evidence,
        logs: Mapping[int, Floats],
        only: set[int] | None = None,
    ) -> None:
        """Put the rules into sums of block logs, in place.

        Parameters
        ----------
        log : sums so far, shape (rows,).
        logs : block logs of all blocks with evidence that the components look at.
        only : blocks whose components are wanted; None means all of ``logs``.
        """
        wanted = logs.keys() if only is None else only
        for c in sorted({c for block in wanted for c in self.touching.get(block, [])}):
            component = self.components[c]
            here = [float(logs[b][component.row]) for b in component.blocks if b in logs]
            if here:
                _, whole = self.component_joint(c, evidence)
                log[component.row] += math.log(max(whole, 1e-300)) - sum(here)

    def likelihood(self, before: Evidence, after: Evidence, findings: Iterable[int]) -> Floats:
        """P(what is new | row, what was known), shape (rows,); only ``findings`` are new.

        Same as the ratio of the two states' likelihoods; only what lies near is looked at.
        """
        instances = self.grounded.instances
        blocks = {instances[f].block for f in findings}
        near = blocks | {
            b
            for block in blocks
            for c in self.touching.get(block, [])
            for b in self.components[c].blocks
        }
        sums = []
        for evidence in (after, before):
            logs = {
                b: self.block_log(b, evidence)
                for b in near
                if any(f in evidence.items for f in self.grounded.blocks[b])
            }
            log: Floats = np.zeros(len(self.grounded.prior))
            for b in blocks & logs.keys():
                log = log + logs[b]
            self.add_rules(log, evidence, logs, blocks)
            sums.append(log)
        return np.asarray(np.exp(sums[0] - sums[1]))

    def sign_evidence(
        self, sign: int, items: Mapping[int, Item], *, but: int | None = None
    ) -> Floats:
        """Product over the sign's findings of P(evidence | absent, present), (2, rows or 1)."""
        both: Floats = np.ones((2, 1))
        for f in self.grounded.blocks[sign]:
            item = items.get(f)
            if item is not None and f != but:
                both = both * self.by_sign(f, item)
        return both

    def column(self, finding: int, evidence: Evidence) -> Floats:
        """P(next reported answer | row, evidence), shape (answers, rows); kept (see State)."""
        known = self.bearing(evidence, (finding,))
        found = self._columns.get((finding, known))
        if found is None:
            found = self._column(finding, Evidence(dict(known)))
            found.setflags(write=False)
            if len(self._columns) > KEPT:
                self._columns.clear()
            self._columns[(finding, known)] = found
        return found

    def _column(self, finding: int, evidence: Evidence) -> Floats:
        grounded = self.grounded
        instance = grounded.instances[finding]
        item = evidence.items.get(finding)
        weights = np.ones(len(instance.answers)) if item is None else np.array(item.weights)
        if instance.sign is None:
            table = instance.table * weights[:, None]
        else:
            both = self.sign_evidence(instance.sign, evidence.items, but=finding)
            p = grounded.sign_p[instance.sign]
            absent, present = (1.0 - p) * both[0], p * both[1]
            table = instance.table[:, :1] * absent + instance.table[:, 1:] * present
            table = table * weights[:, None]
        return self._with_rules(finding, table / table.sum(axis=0), weights, evidence)

    def _with_rules(
        self, finding: int, table: Floats, weights: Floats, evidence: Evidence
    ) -> Floats:
        instance = self.grounded.instances[finding]
        for c in self.touching.get(instance.block, []):
            component = self.components[c]
            whole, _ = self.component_joint(c, evidence)
            if finding in component.findings:
                axis = component.findings.index(finding)
                kept = whole.sum(axis=tuple(i for i in range(whole.ndim) if i != axis))
            else:
                assert instance.sign is not None
                axis = len(component.findings) + component.signs.index(instance.sign)
                z = whole.sum(axis=tuple(i for i in range(whole.ndim) if i != axis))
                own = evidence.items.get(finding)
                if own is not None:
                    z = z / np.maximum(weights @ instance.table, 1e-300)
                kept = instance.table @ z * weights
            total = kept.sum()
            if total > 0.0:
                table[:, component.row] = kept / total
        return table

    def _joint(self, component: Component, items: Mapping[int, Item]) -> Floats:
        grounded, row = self.grounded, component.row
        tables: dict[int, Floats] = {}
        plain_tables: dict[int, Floats] = {}
        extra: dict[int, Floats] = {}
        mixed = False
        for f in component.findings:
            table = conditional(grounded, f, row)
            item = items.get(f)
            if item is not None and item.present < 1.0 and grounded.goes[row] > 0.0:
                mixed = True
                share = 1.0 - float(grounded.goes[row]) * (1.0 - item.present)
                usual = grounded.instances[f].base
                table = table * share + (usual[:, None] if table.ndim == 2 else usual) * (1 - share)
            plain_tables[f] = table
            if item is not None:
                weights = np.array(item.weights)
                table = table * (weights[:, None] if table.ndim == 2 else weights)
            tables[f] = table
        for f, item in items.items():
            if f in component.findings:
                continue
            sign = grounded.instances[f].sign
            if sign is None:
                continue
            both = self.by_sign(f, item)
            column = both[:, row if both.shape[1] > 1 else 0]
            extra[sign] = extra.get(sign, np.ones(2)) * column
        sign_p = grounded.sign_p[:, row]
        mean = component.mean
        if mixed:
            mean = float(
                (joint(component, grounded, row, sign_p, plain_tables, {}) * component.bonus).sum()
            )
        plain = joint(component, grounded, row, sign_p, tables, extra)
        return np.asarray(plain * component.bonus / mean)


class State:
    """Posterior over rows given evidence; columns follow what is already known."""

    def __init__(self, model: Model, evidence: Evidence) -> None:
        self.model = model
        self.evidence = evidence

    @cached_property
    def block_logs(self) -> dict[int, Floats]:
        """Log of P(evidence | row) of every block with evidence, rules apart."""
        instances = self.model.grounded.instances
        touched = {instances[f].block for f in self.evidence.items}
        return {block: self.model.block_log(block, self.evidence) for block in sorted(touched)}

    @cached_property
    def log(self) -> Floats:
        """Log of prior times likelihood, shape (rows,)."""
        model, evidence, logs = self.model, self.evidence, self.block_logs
        log = np.log(np.maximum(model.grounded.prior, 1e-300))
        for found in logs.values():
            log = log + found
        model.add_rules(log, evidence, logs)
        for proof in evidence.proofs:
            cured = np.full(len(log), PROOF_OTHERWISE)
            cured[list(proof.rows)] = PROOF_IF_CURED
            log = log + np.log(cured if proof.passed else 1.0 - cured)
        return np.asarray(log)

    @cached_property
    def total_log(self) -> float:
        """Log of the sum over rows of prior times likelihood."""
        top = float(np.max(self.log))
        return float(top + np.log(np.exp(self.log - top).sum()))

    @cached_property
    def posterior(self) -> Floats:
        """Probability of every row, shape (rows,)."""
        weights = np.exp(self.log - np.max(self.log))
        return np.asarray(weights / weights.sum())

    def column(self, finding: int) -> Floats:
        """P(next reported answer | row, evidence), shape (answers, rows); columns sum to one.

        For a finding with evidence that is not an answer (not told), the answer's chance given
        that nobody mentioned it.
        """
        return self.model.column(finding, self.evidence)

    def surprise(self) -> float:
        """log10 of how much rarer the findings are together than apart (conflict measure)."""
        grounded = self.model.grounded
        u = grounded.unknown
        if grounded.prior[u] <= 0.0:  # nothing to hold the findings against
            return 0.0
        alone = self.log[u] - np.log(grounded.prior[u])
        known = np.delete(self.log, u)
        top = float(np.max(known))
        mass = 1.0 - grounded.prior[u]
        together = top + np.log(np.exp(known - top).sum()) - np.log(mass)
        return float((alone - together) / np.log(10.0))
