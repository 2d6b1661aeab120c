"""``triage compare``: orders of tests on the same drawn faults, side by side."""

from __future__ import annotations

import argparse
import json
import platform

ORDERS = ("planner", "gain_per_cost", "gain_only", "cheapest", "six_steps", "random")


def run(args: argparse.Namespace) -> int:
    """Print one row for each order; exit 1 where any job broke a gate."""
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
    )
    rows = summary(records)
    errors = {name: calibration(jobs)[0] for name, jobs in records.items()}
    about = {
        "faults_each": args.faults,
        "seed": args.seed,
        "world": args.world,
        "weights": args.weights,
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
            print(f"calibration error of repairs made, {name}: {error:.3f}")
    return 1 if any(row["violations"] for row in rows) else 0


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
    sub.add_argument("--seed", type=int, default=1)
    sub.add_argument("--json", action="store_true")
