"""``triage replay PATH...``: worked cases, scored, one row per case and way."""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping, Sequence
from typing import Any


def run(args: argparse.Namespace) -> int:
    """Replay the cases; exit 1 where any row has a gate violation."""
    from triage.cli.opening import open_knowledge
    from triage.quality.replay import replay

    ways = ("given", "asked") if args.way == "both" else (args.way,)
    rows = replay(open_knowledge(), list(args.paths), ways, args.limit)
    if args.json:
        for row in rows:
            print(json.dumps(row, ensure_ascii=False, sort_keys=True))
    else:
        print(table(rows))
    return 1 if any(row.get("gate_violations") for row in rows) else 0


def table(rows: Sequence[Mapping[str, Any]]) -> str:
    """Rows as columns of text, numbers to the right; columns in the order of the first row."""
    if not rows:
        return "no cases"
    names = list(rows[0])
    cells = [[_cell(row.get(name)) for name in names] for row in rows]
    heads = [name.replace("_", " ") for name in names]
    widths = [max(len(line[i]) for line in [heads, *cells]) for i in range(len(names))]
    numeric = [
        all(isinstance(row.get(n), (int, float)) or row.get(n) is None for row in rows)
        for n in names
    ]
    lines = []
    for line in [heads, *cells]:
        shown = [
            text.rjust(width) if right else text.ljust(width)
            for text, width, right in zip(line, widths, numeric, strict=True)
        ]
        lines.append("  ".join(shown).rstrip())
    return "\n".join(lines)


def _cell(value: Any) -> str:
    if value is None:
        return "-"
    return f"{value:.3g}" if isinstance(value, float) else str(value)
