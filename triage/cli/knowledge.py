"""``triage knowledge check`` and ``triage knowledge try ID``."""

from __future__ import annotations

import argparse


def run(args: argparse.Namespace) -> int:
    """Check all files (exit 1 where a problem is found), or show what one entry does."""
    return _check() if args.part == "check" else _try(args.ident)


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


def _try(ident: str) -> int:
    from triage.cli.opening import open_knowledge
    from triage.quality import attempt

    print(attempt.show(open_knowledge(), ident))
    return 0
