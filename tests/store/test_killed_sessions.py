"""A whole session on the real knowledge, killed for real, taken up again."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from triage.job.desk import amp_facts, permitted
from triage.job.fold import fold
from triage.knowledge.load import load
from triage.knowledge.paths import knowledge_dir
from triage.safety.states import energised
from triage.store.desks import read_events, resume
from triage.store.jobs import find_job, list_jobs

CHILD = """
import random, sys
from pathlib import Path
from triage.knowledge.load import load
from triage.job.assumed import GOOD
from triage.knowledge.paths import knowledge_dir
from triage.store.desks import begin
kb = load(knowledge_dir())
session = begin(kb, kb.profiles["linden_hall"], Path(sys.argv[1]))
session.complaint("it hums"); session.complaint_over()
rng = random.Random(int(sys.argv[2]))
print("ready", flush=True)
while True:
    view = session.view()
    if view.sort == "step":
        session.answer(0, rng.choice(["unknown", view.questions[0].normal]))
        if rng.random() < 0.1:
            session.back()
    elif view.sort == "act":
        wanted = GOOD.get(view.ident, {})
        session.confirm({name: wanted.get(name, "0.4 V") for name, _ in view.fields})
    elif view.sort == "repair":
        session.done()
    elif view.sort == "proof":
        session.proof("failed")
    else:
        break
    print(session.state.count, flush=True)
print("ended", flush=True)
import time
time.sleep(60)
"""


@pytest.mark.parametrize("seed", range(4))
def test_a_killed_session_resumes_to_the_same_state_believed_live(
    tmp_path: Path, seed: int
) -> None:
    """What was acknowledged is there; the amplifier counts as powered and charged, nothing is open."""
    call = [sys.executable, "-c", CHILD, str(tmp_path), str(seed)]
    with subprocess.Popen(call, stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == "ready\n"
        time.sleep(random.Random(seed).uniform(0.05, 1.2))
        child.send_signal(signal.SIGKILL)
        said = [line for line in child.stdout.read().split("\n") if line.isdigit()]
    path = find_job(tmp_path, list_jobs(tmp_path)[0].name)
    lines = [line for line in path.read_text(encoding="utf-8").split("\n") if line.endswith("}")]
    events, state = read_events(path, lines)

    session = resume(load(knowledge_dir()), tmp_path, path.stem)

    assert len(events) >= (int(said[-1]) if said else 1)
    assert state == fold(events)
    assert session.state.answers == state.answers
    assert session.state.mended == state.mended
    assert energised(session.state.safety)
    assert not permitted(session.state, amp_facts(session.bench)) & {"G1", "G2", "G7", "G8", "G16"}
