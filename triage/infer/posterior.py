"""From evidence to a ranking, and to the columns that the planner looks ahead with.

Everything is one model (semantics 1.2): per row, single findings and signs, multiplied by the
rule components. Evidence on a finding is a vector over its reported answers: one-hot for an
answer, several ones for a union of verdicts, probabilities for an uncertain reading,
``1 - told`` on abnormal answers for what nobody mentioned.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from triage.infer.components import Component, build, conditional, joint
from triage.infer.ground import Grounded
from triage.infer.proofs import weigh_proofs
from triage.infer.visits import Evidence, Item, RepairProof, visits, ways
from triage.log_sum import log_sum

__all__ = ["Evidence", "Item", "Known", "Model", "RepairProof", "State"]

Floats = NDArray[np.float64]
Known = tuple[tuple[int, Item], ...]
"""Evidence items by finding, in order: what kept columns and joints are looked up by."""
Cases = tuple[tuple[frozenset[int], ...], Floats]
"""Findings seen while the fault was away, by case; logs of the cases, (cases, passing rows)."""
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
        self.passing = np.flatnonzero(grounded.goes > 0.0)
        self._cases: dict[Known, Cases] = {}
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

    def bearing(self, evidence: Evidence, findings: Collection[int]) -> Known:
        """The part of the evidence on which columns of these findings depend."""
        grounded, items = self.grounded, evidence.items
        blocks = {grounded.instances[f].block for f in findings}
        blocks |= {grounded.instances[f].block for f in self.unsure(evidence, findings)}
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

    def unsure(self, evidence: Evidence, findings: Collection[int] | None = None) -> frozenset[int]:
        """What was seen while a fault that comes and goes was perhaps away; none if none does.

        With ``findings``: none either if nothing of it lies near them.
        """
        if not len(self.passing):
            return frozenset()
        items = evidence.items
        unsure = frozenset(f for f, item in items.items() if item.present < 1.0)
        if not unsure or findings is None:
            return unsure
        blocks = {self.grounded.instances[f].block for f in findings}
        return unsure if any(f in unsure for b in blocks for f in self.reach[b]) else frozenset()

    def cases(self, evidence: Evidence) -> Cases | None:
        """Ways in which faults that come and go may have been away; None where none may (kept)."""
        unsure = self.unsure(evidence)
        if not unsure:
            return None
        known = self.bearing(evidence, sorted(unsure))
        found = self._cases.get(known)
        if found is None:
            if len(self._cases) > KEPT:
                self._cases.clear()
            found = self._cases[known] = self._made_cases(Evidence(dict(known)))
        return found

    def _made_cases(self, evidence: Evidence) -> Cases:
        """Per way, log P(evidence, way | row) over P(evidence | row, never away)."""
        possible = ways(visits(evidence.items), self.grounded.goes[self.passing])
        logs = []
        for way in possible:
            log = way.weight
            if way.away:
                rest = evidence.only(way.away, but=True)
                log = log - self._log_ratio(rest, evidence, way.away)[self.passing]
                for f in way.away:
                    usual = np.array(evidence.items[f].weights) @ self.grounded.instances[f].base
                    log = log + math.log(max(float(usual), 1e-300))
            logs.append(log)
        return tuple(way.away for way in possible), np.array(logs)

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
            return np.asarray(np.array(item.weights) @ grounded.instances[f].table)
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
        asked = tuple(findings)
        log = self._log_ratio(before, after, asked)
        if self.unsure(after, asked):
            for evidence, sign in ((after, 1.0), (before, -1.0)):
                cases = self.cases(evidence)
                if cases is not None:
                    log[self.passing] += sign * log_sum(cases[1])
        return np.asarray(np.exp(log))

    def _log_ratio(self, before: Evidence, after: Evidence, findings: Iterable[int]) -> Floats:
        """Log of ``likelihood`` where every fault was there all along."""
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
        return np.asarray(sums[0] - sums[1])

    def sign_evidence(
        self, sign: int, items: Mapping[int, Item], *, but: int | None = None
    ) -> Floats:
        """Product over the sign's findings of P(evidence | absent, present), shape (2,)."""
        both: Floats = np.ones(2)
        for f in self.grounded.blocks[sign]:
            item = items.get(f)
            if item is not None and f != but:
                both = both * (np.array(item.weights) @ self.grounded.instances[f].table)
        return both

    def column(self, finding: int, evidence: Evidence) -> Floats:
        """P(next reported answer | row, evidence), shape (answers, rows); kept (see State)."""
        known = self.bearing(evidence, (finding,))
        found = self._columns.get((finding, known))
        if found is None:
            found = self._column(finding, Evidence(dict(known)))
            self._by_case(finding, Evidence(dict(known)), found)
            found.setflags(write=False)
            if len(self._columns) > KEPT:
                self._columns.clear()
            self._columns[(finding, known)] = found
        return found

    def _by_case(self, finding: int, evidence: Evidence, column: Floats) -> None:
        """Mix a column, in place, over what the passing faults may have done in earlier visits."""
        cases = self.cases(evidence)
        if cases is None:
            return
        chances = np.exp(cases[1] - log_sum(cases[1]))
        mixed = np.zeros((len(column), len(self.passing)))
        for away, chance in zip(cases[0], chances, strict=True):
            there = self._column(finding, evidence.only(away, but=True))
            mixed += there[:, self.passing] * chance
        column[:, self.passing] = mixed

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
        extra: dict[int, Floats] = {}
        for f in component.findings:
            table = conditional(grounded, f, row)
            if f in items:
                weights = np.array(items[f].weights)
                table = table * (weights[:, None] if table.ndim == 2 else weights)
            tables[f] = table
        for f, item in items.items():
            sign = grounded.instances[f].sign
            if f in component.findings or sign is None:
                continue
            both = np.array(item.weights) @ grounded.instances[f].table
            extra[sign] = extra.get(sign, np.ones(2)) * both
        sign_p = grounded.sign_p[:, row]
        plain = joint(component, grounded, row, sign_p, tables, extra)
        return np.asarray(plain * component.bonus / component.mean)


class State:
    """Posterior over rows given evidence; columns follow what is already known."""

    def __init__(self, model: Model, evidence: Evidence) -> None:
        self.model = model
        self.evidence = evidence

    @cached_property
    def block_logs(self) -> dict[int, Floats]:
        """Log of P(evidence | row) of every block with evidence, rules apart, no fault away."""
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
        cases = model.cases(evidence)
        if cases is not None:
            log[model.passing] += log_sum(cases[1])
        log = log + self.proofs[0]
        if evidence.joint is not None:
            log = log + evidence.joint.logs
        return np.asarray(log)

    @cached_property
    def proofs(self) -> tuple[Floats, Floats]:
        """Log of P(proofs | row), and each row's share that only looks like its cause, (rows,)."""
        grounded = self.model.grounded
        return weigh_proofs(len(grounded.prior), self.evidence.proofs, grounded.alike)

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

    def near(self, finding: int) -> set[int]:
        """Blocks of a finding, of what its rules look at, and of visits that bear on it."""
        model, blocks = self.model, set(self.model.near[finding])
        for f in model.unsure(self.evidence, (finding,)):
            blocks |= set(model.near[f])
        return blocks

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
        known = np.delete(self.log + np.log1p(-self.proofs[1]), u)
        top = float(np.max(known))
        mass = 1.0 - grounded.prior[u]
        together = top + np.log(np.exp(known - top).sum()) - np.log(mass)
        return float((alone - together) / np.log(10.0))
