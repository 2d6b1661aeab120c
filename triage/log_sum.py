"""The sum of chances that are kept as their logs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def log_sum(logs: NDArray[np.float64]) -> NDArray[np.float64]:
    """Log of the sum over the first axis of the exponentials; the shape is that of the rest.

    NumPy's ``logaddexp.reduce`` is the same, but its newest types do not know it.
    """
    top = np.max(logs, axis=0)
    return np.asarray(top + np.log(np.exp(logs - top).sum(axis=0)))
