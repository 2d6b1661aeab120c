"""How long a person waits. ``python -m tests.benchmarks.bench_next_question [SESSIONS]``.

Next question: from the last word of an answer to the next view (recording into a list included),
over random answers. First question: a fresh process from its start to its first view, with an empty
cache of the knowledge (cold) and with a filled one (warm).
"""

from __future__ import annotations

import os
import platform
import random
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from triage.assess import Bench
from triage.job.events import Event
from triage.job.session import Session
from triage.knowledge.load import load
from triage.knowledge.paths import knowledge_dir

AMPLIFIERS = ("linden_hall", "grandmothers_console")
COMPLAINTS = ("it hums", "no sound", "crackle", "left side is dead", "the fuse blows")
ANSWERS = 12
FIRST = """
import itertools, sys, time
from pathlib import Path
from triage.knowledge.load import load
from triage.knowledge.paths import knowledge_dir
from triage.assess import Bench
from triage.job.session import Session
knowledge = load(knowledge_dir(), cache=Path(sys.argv[1]))
bench = Bench.make(knowledge, knowledge.profiles[sys.argv[2]])
ticks = itertools.count()
session = Session(bench, lambda event: None, lambda: float(next(ticks)))
session.begin()
session.complaint("it hums")
session.complaint_over()
assert session.view().questions
"""


def waits(sessions: int, seed: int = 0) -> list[float]:
    """Seconds from each answer to the next view, over random sessions on both scenarios."""
    knowledge = load(knowledge_dir())
    benches = [Bench.make(knowledge, knowledge.profiles[name]) for name in AMPLIFIERS]
    draw = random.Random(seed)
    took: list[float] = []
    for number in range(sessions):
        kept: list[Event] = []
        session = Session(benches[number % 2], kept.append, time.time)
        session.begin()
        session.complaint(draw.choice(COMPLAINTS))
        session.complaint_over()
        session.view()
        for _ in range(ANSWERS):
            shown = session.view()
            if shown.sort != "step":
                began = time.perf_counter()
                session.cannot()
            else:
                question = shown.questions[0]
                words = [choice.answer for choice in question.choices]
                began = time.perf_counter()
                session.answer(0, draw.choice((*words, "unknown")))
            sort = session.view().sort
            took.append(time.perf_counter() - began)
            if sort in ("closed", "repair", "hazard"):
                break
    return took


def first(amplifier: str, cache: Path) -> float:
    """Seconds of a fresh process from its start to its first question."""
    began = time.perf_counter()
    subprocess.run([sys.executable, "-c", FIRST, str(cache), amplifier], check=True)
    return time.perf_counter() - began


def share(took: list[float], part: float) -> float:
    """The value below which this part of the waits lies."""
    return sorted(took)[min(len(took) - 1, int(part * len(took)))]


def machine() -> str:
    """Processor and Python of this machine."""
    name = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.exists():
        names = [line for line in info.read_text().splitlines() if line.startswith("model name")]
        name = names[0].split(":", 1)[1].strip() if names else name
    return f"{name}, {os.cpu_count()} cores, Python {platform.python_version()}"


def main(argv: list[str]) -> int:
    """Print the figures."""
    sessions = int(argv[0]) if argv else 60
    print(machine())
    if hasattr(os, "getloadavg"):
        print(f"load before: {os.getloadavg()[0]:.1f}")
    took = waits(sessions)
    print(
        f"next question, {sessions} sessions, {len(took)} waits: "
        f"p50 {1000 * share(took, 0.5):.0f} ms, p95 {1000 * share(took, 0.95):.0f} ms, "
        f"most {1000 * max(took):.0f} ms"
    )
    for amplifier in AMPLIFIERS:
        with tempfile.TemporaryDirectory() as folder:
            cold = first(amplifier, Path(folder))
            warm = statistics.median(first(amplifier, Path(folder)) for _ in range(5))
        print(f"first question, {amplifier}: cold {cold:.2f} s, warm {warm:.2f} s (median of 5)")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
