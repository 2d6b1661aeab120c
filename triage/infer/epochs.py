"""What a repair can have changed: the findings that are asked again after its proof has failed.

Everything else was not touched and is kept. Of what the mended causes bear on, abnormal answers may
have gone with them; a normal answer would still be normal, unless a cause was hiding something
behind it (a silent channel doesn't hum).
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from triage.infer.ground import Grounded

Floats = NDArray[np.float64]
HIDES = 0.02
"""A cause that makes a normal answer likelier than it usually is by this much was hiding something."""


def changed_by(grounded: Grounded, rows: Iterable[int]) -> dict[int, bool]:
    """Findings that mending these rows can have changed, by index; True where a normal one too.

    Parameters
    ----------
    rows : hypotheses that one repair would cure.
    """
    wanted = set(rows)
    found: dict[int, bool] = {}
    direct = {(finding, row) for finding, row in grounded.words if row in wanted}
    by_sign = {
        (finding, row)
        for sign, row in grounded.sign_words
        if row in wanted
        for finding in grounded.blocks[sign]
    }
    by_rule = {
        (literal.finding, rule.hypothesis)
        for rule in grounded.rules
        if rule.hypothesis in wanted
        for literal in rule.literals
    }
    for finding, row in direct | by_sign | by_rule:
        found[finding] = found.get(finding, False) or _hides(grounded, finding, row)
    return found


def _hides(grounded: Grounded, finding: int, row: int) -> bool:
    instance = grounded.instances[finding]
    normal = instance.table[instance.normal]
    if instance.sign is None:
        made = float(normal[row])
    else:
        p = float(grounded.sign_p[instance.sign, row])
        made = float((1.0 - p) * normal[0] + p * normal[1])
    return made > float(instance.base[instance.normal]) + HIDES
