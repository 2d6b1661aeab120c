"""The command keeps the planner's small products on one thread."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

NAME = "OPENBLAS_NUM_THREADS"
LOOK = f"import sys, os, triage.cli; print(os.environ['{NAME}'], 'numpy' in sys.modules)"


@pytest.mark.parametrize(("before", "after"), [(None, "1"), ("3", "3")])
def test_threads_are_set_before_numpy_is_loaded(before: str | None, after: str) -> None:
    """One thread where nothing is set; what the user has set stays. NumPy reads it when loaded."""
    env = {name: value for name, value in os.environ.items() if name != NAME}
    if before is not None:
        env[NAME] = before
    done = subprocess.run([sys.executable, "-c", LOOK], env=env, stdout=subprocess.PIPE, check=True)
    assert done.stdout.decode().split() == [after, "False"]
