"""``triage compare``: orders of tests on the same drawn faults, side by side."""

from __future__ import annotations

import argparse
import json
import platform
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from triage.quality.jobs import Record

ORDERS = ("planner", "gain_per_cost", "gain_only", "cheapest", "six_steps", "random")


def run(args: argparse.Namespace) -> int:
    """Print one row for each order; exit 1 where any job broke a gate."""
    if args.two_faults:
        return _two_faults(args)
    if args.unlisted:
        return _unlisted(args)
    from triage.cli.opening import open_knowledge
    from triage.cli.replay import table
    from triage.knowledge.paths import knowledge_dir
    from triage.quality.compare import calibration, compare, summary

    records = compare(
        open_knowledge(),
        knowledge_dir(),
        args.orders.split(","),
        args.faults,
        seed=args.seed,
        world=args.world,
        weighting=args.weights,
        owner=args.owner,
        workers=args.workers,
    )
    rows = summary(records)
    errors = {name: calibration(jobs)[0] for name, jobs in records.items()}
    about = {
        "faults_each": args.faults,
        "seed": args.seed,
        "world": args.world,
        "weights": args.weights,
        "owner": args.owner,
        "machine": f"{platform.machine()}, Python {platform.python_version()}",
    }
    if args.json:
        print(json.dumps({"about": about, "rows": rows, "calibration_error": errors}))
    else:
        print("  ".join(f"{key.replace('_', ' ')}: {value}" for key, value in about.items()))
        for row in rows:
            print()
            print(table([dict(list(row.items())[:8])]))
            print(table([dict(list(row.items())[8:])]))
        for name, error in errors.items():
            print(f"calibration error at every step, {name}: {error:.3f}")
    if args.reliability:
        _draw(args, records)
    return 1 if any(row["violations"] for row in rows) else 0


def _draw(args: argparse.Namespace, records: Mapping[str, Sequence[Record]]) -> None:
    from triage.measure.svg import svg
    from triage.quality.reliability import diagram

    name = "planner" if "planner" in records else next(iter(records))
    title = f"{name.replace('_', ' ')}, {args.world} world, {len(records[name])} jobs"
    Path(args.reliability).write_text(svg(diagram(title, records[name])), encoding="utf-8")
    print(f"reliability diagram: {args.reliability}")


def _two_faults(args: argparse.Namespace) -> int:
    """Whole jobs on drawn pairs of faults; exit 1 where any job broke a gate."""
    from triage.assess import Bench
    from triage.cli.opening import open_knowledge
    from triage.cli.replay import table
    from triage.quality.compare import SCENARIOS
    from triage.quality.owners import owned
    from triage.quality.two_faults import pair_jobs, pair_summary

    knowledge, rows = open_knowledge(), []
    for amplifier in SCENARIOS:
        bench = Bench.make(knowledge, owned(knowledge.profiles[amplifier], args.owner))
        rows.append(pair_summary(amplifier, pair_jobs(bench, args.two_faults, args.seed)))
        bench.close()
    jobs = sum(row["jobs"] for row in rows)
    both = sum(row["both_mended"] for row in rows)
    if args.json:
        print(json.dumps({"jobs": jobs, "both_mended": both, "rows": rows}))
    else:
        print(table(rows))
        print(f"both mended and proven: {both} of {jobs} ({both / max(jobs, 1):.0%})")
    return 1 if any(row["violations"] for row in rows) else 0


def _unlisted(args: argparse.Namespace) -> int:
    """Jobs whose cause was taken out of the knowledge, and the same jobs with it in."""
    from triage.cli.opening import open_knowledge
    from triage.cli.replay import table
    from triage.quality.compare import SCENARIOS
    from triage.quality.owners import owned
    from triage.quality.removed import Trial, shares, trials

    knowledge, found = open_knowledge(), dict[bool, list[Trial]]({True: [], False: []})
    for amplifier in SCENARIOS:
        profile = owned(knowledge.profiles[amplifier], args.owner)
        for removed in found:
            found[removed] += trials(knowledge, profile, args.unlisted, args.seed, removed=removed)
    names = {True: "taken out", False: "known"}
    rows = [{"cause": names[removed], **shares(jobs)} for removed, jobs in found.items()]
    print(json.dumps(rows) if args.json else table(rows))
    return 0


def names(text: str) -> str:
    """Names of orders, checked."""
    for name in text.split(","):
        if name not in ORDERS:
            raise argparse.ArgumentTypeError(f"'{name}' is none of {', '.join(ORDERS)}")
    return text


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Arguments of the command."""
    sub = commands.add_parser("compare", help="hold orders of tests against each other")
    sub.add_argument("--faults", type=int, default=20, help="drawn faults on each amplifier (20)")
    sub.add_argument("--orders", type=names, default="planner,six_steps", help="comma between")
    sub.add_argument("--world", choices=("rules", "shaken"), default="rules")
    sub.add_argument("--weights", default="as_written", help="as_written, risk_half, ...",
        choices=("as_written", "risk_half", "risk_double", "money_half", "money_double",
                 "wrong_half", "wrong_double"))  # fmt: skip
    sub.add_argument("--owner", choices=("own", "workshop"), default="own",
        help="the profile's owner, or a technician with every tool and a second person")  # fmt: skip
    sub.add_argument("--reliability", metavar="FILE", help="draw probability against truth as SVG")
    sub.add_argument("--two-faults", type=int, metavar="N", help="instead: N drawn pairs of faults "
        "on each amplifier")  # fmt: skip
    sub.add_argument("--unlisted", type=int, metavar="N", help="instead: N drawn faults on each "
        "amplifier, each taken out of the knowledge first")  # fmt: skip
    sub.add_argument("--seed", type=int, default=1)
    sub.add_argument("--workers", type=int, default=1, metavar="N",
        help="processes, an amplifier each (1); the figures are the same")  # fmt: skip
    sub.add_argument("--json", action="store_true")
