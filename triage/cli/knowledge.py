"""``triage knowledge check``, ``triage knowledge try ID`` and ``triage knowledge coverage``."""

from __future__ import annotations

import argparse
import json
from typing import Any


def run(args: argparse.Namespace) -> int:
    """Check all files (exit 1 where a problem is found), show what one entry does, or what is covered."""
    if args.part == "coverage":
        return _coverage(args)
    if args.part == "check":
        return _check() or (_physics() if args.physics else 0)
    return _try(args.ident)


def _check() -> int:
    from triage.knowledge.load import load
    from triage.knowledge.paths import knowledge_dir
    from triage.quality import check

    root = knowledge_dir()
    knowledge = load(root)
    problems = check.run(knowledge, root)
    for problem in sorted(problems):
        print(problem)
    entries = sum(
        len(part)
        for part in (
            knowledge.kinds,
            knowledge.findings,
            knowledge.signs,
            knowledge.causes,
            knowledge.procedures,
            knowledge.repairs,
            knowledge.rules,
        )
    )
    count = len(problems)
    print(f"{entries} entries, {count or 'no'} {'problem' if count == 1 else 'problems'}.")
    return 1 if problems else 0


def _physics() -> int:
    """Words about volts and currents under their causes' own faults; exit 1 where one is not true."""
    from triage.cli.opening import open_knowledge
    from triage.cli.places import cache_path
    from triage.quality.physics import check_physics, shares
    from triage.store.curves import recall

    recall(cache_path())
    found = check_physics(open_knowledge())
    for row in sorted(found, key=lambda t: (t.verdict, t.cause)):
        print(f"{row.verdict:10} {row.cause}: {row.finding} {row.answer} ({row.word}): {row.why}")
    counts = shares(found)
    print(
        f"{counts['holds']:.0f} hold, {counts['does not']:.0f} do not, {counts['not tried']:.0f} "
        f"were not tried: {counts['tried']:.0%} of {len(found)} were tried."
    )
    return 1 if counts["does not"] else 0


def _try(ident: str) -> int:
    from triage.cli.opening import open_knowledge
    from triage.quality import attempt

    print(attempt.show(open_knowledge(), ident))
    return 0


def _coverage(args: argparse.Namespace) -> int:
    from triage.cli.opening import built_in, open_knowledge
    from triage.knowledge.paths import cases_dir
    from triage.quality.coverage_report import Bounds, report

    bounds = Bounds(
        shakes=args.shakes,
        case_shakes=args.case_shakes,
        seed=args.seed,
        amplifiers=tuple(args.amplifier or ()),
        cases=tuple(args.cases or [cases_dir()]),
    )
    knowledge = open_knowledge()
    for name in bounds.amplifiers:
        built_in(knowledge, name)
    found = report(knowledge, bounds)
    if args.json:
        print(json.dumps(found, indent=1))
    else:
        _print_coverage(found)
    return 0


def _print_coverage(found: dict[str, Any]) -> None:
    print(f"detection      {found['detection']['share']:6.1%}")
    for label, part in found["isolation"].items():
        print(f"{label:14} {part['one']:6.1%} to one repair, {part['three']:6.1%} to three")
    words, cases = found["words"], found["stability"]
    print(f"sure words     {words['share']:6.1%} of {words['count']}")
    print(f"first stays    {cases['stay']:6.1%} of {cases['cases']} cases")
    lists = {
        "not detected": found["detection"]["missing"],
        "in none of the amplifiers": dict.fromkeys(found["nowhere"], ""),
        "changes nothing": found["filler"],
        "case flips (share of shakes in which its first suspect stays)": cases["flips"],
    }
    for label, part in found["isolation"].items():
        lists[f"not isolated, {label}"] = {
            row["cause"]: f"{row['share']:.0%}: {row['why']}" for row in part["unsure"]
        }
    for title, rows in lists.items():
        print(f"\n{title}: {len(rows)}")
        for name, why in rows.items():
            print(f"  {name}{': ' if why else ''}{why}")
