"""The command ``triage``: reads the arguments, runs one command, tells what went wrong once."""

from __future__ import annotations

import argparse
import sys
import traceback
from collections.abc import Sequence
from importlib import import_module
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from triage.cli import compare, expect, order, reckon
from triage.cli.places import log_path
from triage.errors import EngineFault, JournalError, TriageError

OK, PROBLEMS, USAGE, UNREADABLE, INTERNAL = 0, 1, 2, 3, 70
"""Exit codes: done, problems found, wrong usage, a job that cannot be read, a fault of ours."""

DISTRIBUTION = "tubebench-triage"
BODIES = {
    None: "talk",
    "start": "talk",
    "resume": "resume",
    "jobs": "jobs",
    "demo": "demo",
    "knowledge": "knowledge",
    "replay": "replay",
    "reckon": "reckon",
    "order": "order",
    "compare": "compare",
    "expect": "expect",
}
"""Command -> module of this package with its ``run(args) -> int``."""


def parser() -> argparse.ArgumentParser:
    """Arguments of all commands."""
    top = argparse.ArgumentParser(
        prog="triage",
        description="From a complaint about a vacuum-tube amplifier to the faulty part and a "
        "proven repair, safely. Without a command: go on with the last job, or begin one.",
    )
    top.add_argument("--version", action="version", version=f"triage {_version()}")
    commands = top.add_subparsers(dest="command", metavar="COMMAND")
    start = commands.add_parser("start", help="begin a new job")
    which = start.add_mutually_exclusive_group()
    which.add_argument("--amp", metavar="ID", help="a built-in amplifier")
    which.add_argument("--profile", metavar="FILE", type=Path, help="your amplifier's profile")
    start.add_argument("--answers", metavar="FILE", type=Path, help="answer from a file")
    resume = commands.add_parser("resume", help="take up a job again")
    resume.add_argument("job", metavar="JOB", help="its name, as 'triage jobs' lists it")
    commands.add_parser("jobs", help="list the jobs that are kept")
    commands.add_parser("demo", help="one whole job from a file of answers, without a terminal")
    knowledge = commands.add_parser("knowledge", help="check or try the knowledge files")
    parts = knowledge.add_subparsers(dest="part", metavar="PART", required=True)
    check = parts.add_parser("check", help="lint every file and run every entry's tries")
    check.add_argument("--physics", action="store_true",
        help="try the words about volts and currents in the circuits too")  # fmt: skip
    attempt = parts.add_parser("try", help="show what one entry does to a ranking")
    attempt.add_argument("ident", metavar="ID")
    covers = parts.add_parser("coverage", help="what can be noticed and told apart, words shaken")
    covers.add_argument("--json", action="store_true", help="one JSON object")
    covers.add_argument("--shakes", type=_count, default=50, help="shakes of the words (50)")
    covers.add_argument("--case-shakes", type=_count, default=200, help="shakes a case (200)")
    covers.add_argument("--seed", type=int, default=0, help="fixes every draw (0)")
    covers.add_argument("--amplifier", action="append", metavar="ID", help="only this one")
    covers.add_argument("--cases", action="append", type=Path, metavar="PATH", help="case files")
    replay = commands.add_parser("replay", help="run worked cases and score them")
    replay.add_argument("paths", metavar="PATH", nargs="+", type=Path)
    replay.add_argument("--json", action="store_true", help="one JSON row per case and way")
    replay.add_argument("--way", choices=("given", "asked", "both"), default="both")
    replay.add_argument("--limit", type=_count, default=25, help="questions at most (25)")
    reckon.add_parser(commands)
    order.add_parser(commands)
    compare.add_parser(commands)
    expect.add_parser(commands)
    return top


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command and return its exit code (see ``OK`` and its neighbours)."""
    args = parser().parse_args(argv)
    try:
        return int(import_module(f"triage.cli.{BODIES[args.command]}").run(args))
    except JournalError as error:
        return _tell(str(error), UNREADABLE)
    except EngineFault as error:
        return _tell(str(error), INTERNAL)
    except TriageError as error:
        return _tell(str(error), PROBLEMS)
    except KeyboardInterrupt:
        return _tell("Interrupted. What was entered is kept.", PROBLEMS)
    except BrokenPipeError:
        sys.stderr.close()
        return PROBLEMS
    except Exception as error:  # the one place where everything else is caught
        return _unforeseen(error)


def _tell(text: str, code: int) -> int:
    print(text, file=sys.stderr)
    return code


def _unforeseen(error: Exception) -> int:
    """One line for the person, the whole story for a file."""
    path = log_path()
    kept = f"The details are in {path}."
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("a", encoding="utf-8") as log:
            log.write("".join(traceback.format_exception(error)) + "\n")
    except OSError as failure:
        kept = f"The details could not be written to {path} ({failure.strerror})."
    return _tell(
        f"A fault in this program: {type(error).__name__}: {error}. {kept}\n"
        "Nothing you entered is lost: 'triage resume JOB' takes it up again ('triage jobs' lists "
        "them). Treat the amplifier as live and charged.",
        INTERNAL,
    )


def _count(text: str) -> int:
    number = int(text)
    if number < 1:
        raise argparse.ArgumentTypeError("must be 1 or more")
    return number


def _version() -> str:
    try:
        return version(DISTRIBUTION)
    except PackageNotFoundError:
        return "from a checkout, not installed"


if __name__ == "__main__":
    raise SystemExit(main())
