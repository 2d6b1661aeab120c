"""What a repair that was made and tried tells: of its own causes, and of what only looks like them.

A row stands for what looks like its cause. Of the jobs that look so, a share ``alike`` is something
that is not in the knowledge and which its repair doesn't mend:

    P(proof passed | row) = (1 - alike) PROOF_IF_CURED + alike PROOF_OTHERWISE    for the repair's rows
    P(proof passed | row) = PROOF_OTHERWISE                                       for all others

Until a proof has failed this share is left with the row: its repair is what to try in either case.
After it, most of what is left on the row is the look-alike, and counts as unknown.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from triage.infer.visits import RepairProof

Floats = NDArray[np.float64]
PROOF_IF_CURED = 0.98
PROOF_OTHERWISE = 0.10


def weigh_proofs(rows: int, proofs: Sequence[RepairProof], alike: float) -> tuple[Floats, Floats]:
    """Log of P(proofs | row), and of each row the share that only looks like its cause.

    Parameters
    ----------
    rows : number of rows.
    alike : share of look-alikes before any proof, 0 <= alike < 1.

    Returns
    -------
    Both of shape (rows,). The share is 0 where no proof of the row's own repair has failed.
    """
    own, other = np.ones(rows), np.ones(rows)
    tried, failed = np.zeros(rows, dtype=bool), np.zeros(rows, dtype=bool)
    for proof in proofs:
        mine = list(proof.rows)
        cured = np.full(rows, PROOF_OTHERWISE)
        cured[mine] = PROOF_IF_CURED
        own *= cured if proof.passed else 1.0 - cured
        other *= PROOF_OTHERWISE if proof.passed else 1.0 - PROOF_OTHERWISE
        tried[mine] = True
        failed[mine] |= not proof.passed
    split = np.where(tried, alike, 0.0)
    whole = (1.0 - split) * own + split * other
    return np.log(whole), np.where(failed, split * other / whole, 0.0)
