"""Rule interactions: rules that weigh one hypothesis and share what they look at, as one table.

For a hypothesis, single answers are independent given the hidden signs. A rule of strength s
multiplies the joint by s where all its literals hold; the whole is divided by its mean, so every
row still sums to one (semantics 1.2.4). A component is a set of rules of one hypothesis that share
a block (a sign, or a finding that hangs on none); its table runs over the answers of the findings
its literals name and over its signs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.errors import EngineFault
from triage.infer.ground import Grounded, RuleInstance

Floats = NDArray[np.float64]
LARGEST = 20000


@dataclass(frozen=True)
class Component:
    """One hypothesis' coupled rules. Axes of ``bonus``: findings in order, then signs in order."""

    row: int
    rules: tuple[RuleInstance, ...]
    findings: tuple[int, ...]
    signs: tuple[int, ...]
    blocks: tuple[int, ...]
    bonus: Floats
    mean: float


def conditional(grounded: Grounded, finding: int, row: int) -> Floats:
    """P(reported answer | row), shape (answers,), or (answers, 2) by sign absent / present."""
    instance = grounded.instances[finding]
    return instance.table if instance.sign is not None else instance.table[:, row]


def expand(
    grounded: Grounded,
    component_findings: tuple[int, ...],
    signs: tuple[int, ...],
    finding: int,
    vector: Floats,
) -> Floats:
    """Shape a finding's (answers,) or (answers, 2) array for the component's table."""
    axes = len(component_findings) + len(signs)
    shape = [1] * axes
    shape[component_findings.index(finding)] = vector.shape[0]
    sign = grounded.instances[finding].sign
    if sign is not None:
        shape[len(component_findings) + signs.index(sign)] = 2
    return vector.reshape(shape)


def joint(
    component: Component,
    grounded: Grounded,
    row: int,
    sign_p: Floats,
    tables: dict[int, Floats],
    extra: dict[int, Floats],
) -> Floats:
    """Joint of the component's findings and signs for one row, evidence folded in.

    ``tables``: per finding its P(answer | row) times evidence; ``extra``: per sign the product of
    evidence on its other findings, shape (2,).
    """
    found = np.ones([1] * (len(component.findings) + len(component.signs)))
    for finding in component.findings:
        found = found * expand(
            grounded, component.findings, component.signs, finding, tables[finding]
        )
    for i, sign in enumerate(component.signs):
        shape = [1] * found.ndim
        shape[len(component.findings) + i] = 2
        both = np.array([1.0 - sign_p[sign], sign_p[sign]])
        found = found * (both * extra.get(sign, np.ones(2))).reshape(shape)
    return found


def _bonus(
    grounded: Grounded, rules: tuple[RuleInstance, ...], findings: tuple[int, ...], n_signs: int
) -> Floats:
    shape = [len(grounded.instances[f].answers) for f in findings] + [1] * n_signs
    bonus = np.ones(shape)
    for rule in rules:
        holds = np.ones(shape, dtype=bool)
        for literal in rule.literals:
            mask = np.array(literal.mask)
            one = [1] * len(shape)
            one[findings.index(literal.finding)] = len(mask)
            holds = holds & mask.reshape(one)
        bonus = np.where(holds, bonus * rule.strength, bonus)
    return np.asarray(bonus)


def group(
    grounded: Grounded, rules: tuple[RuleInstance, ...], row: int
) -> list[tuple[RuleInstance, ...]]:
    """Rules of one hypothesis in groups that share no block."""
    groups: list[tuple[set[int], list[RuleInstance]]] = []
    for rule in rules:
        blocks = {grounded.instances[lit.finding].block for lit in rule.literals}
        merged = [rule]
        apart = []
        for seen, members in groups:
            if seen & blocks:
                blocks |= seen
                merged = members + merged
            else:
                apart.append((seen, members))
        groups = [*apart, (blocks, merged)]
    return [tuple(members) for _, members in groups]


def build(
    grounded: Grounded,
    rules: tuple[RuleInstance, ...],
    row: int,
    sign_p: Floats,
    tables: dict[int, Floats] | None = None,
    *,
    largest: int = LARGEST,
) -> list[Component]:
    """Components of one hypothesis, with their normalising means.

    Raises
    ------
    EngineFault : a joint table of coupled rules has more than ``largest`` cells.
    """
    found: list[Component] = []
    for members in group(grounded, rules, row):
        findings = tuple(sorted({lit.finding for rule in members for lit in rule.literals}))
        signs = tuple(
            sorted({sign for f in findings if (sign := grounded.instances[f].sign) is not None})
        )
        blocks = tuple(sorted({grounded.instances[f].block for f in findings}))
        cells = 2 ** len(signs)
        for f in findings:
            cells *= len(grounded.instances[f].answers)
        if cells > largest:
            names = ", ".join(sorted({rule.rule for rule in members}))
            raise EngineFault(
                f"rules {names} weigh one cause over {len(findings)} shared findings ({cells} cells)."
                " Mend: let one derive a finding, or put them on a sign."
            )
        bonus = _bonus(grounded, members, findings, len(signs))
        shell = Component(row, members, findings, signs, blocks, bonus, 1.0)
        given = tables or {f: conditional(grounded, f, row) for f in findings}
        plain = joint(shell, grounded, row, sign_p, given, {})
        mean = float((plain * bonus).sum())
        found.append(Component(row, members, findings, signs, blocks, bonus, mean))
    return found
