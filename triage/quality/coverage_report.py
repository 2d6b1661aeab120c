"""All of coverage in one mapping, plain enough for JSON."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from triage.knowledge.load import Knowledge
from triage.quality.coverage import isolate, settings, undetected, unsure, untold
from triage.quality.coverage_lists import filler, nowhere, stability, sure_words
from triage.words import Phrasebook


@dataclass(frozen=True)
class Bounds:
    """How much is tried: shakes of the words, shakes a case, seed, amplifiers (empty: all)."""

    shakes: int = 50
    case_shakes: int = 200
    seed: int = 0
    amplifiers: tuple[str, ...] = ()
    cases: Sequence[Path] = ()


def report(knowledge: Knowledge, bounds: Bounds) -> dict[str, Any]:
    """Detection, isolation for both tool sets, filler, sure words, and cases that flip.

    Shares are 0 to 1. See ``coverage`` for how they are reckoned.
    """
    benches = settings(knowledge, bounds.amplifiers)
    book = Phrasebook.make(knowledge.plain["words"])
    results = isolate(benches, bounds.shakes, bounds.seed)
    share, missing = undetected(benches, book, results)
    words, count = sure_words(knowledge)
    cases = stability(knowledge, bounds.cases, bounds.case_shakes, bounds.seed)
    return {
        "shakes": bounds.shakes,
        "seed": bounds.seed,
        "amplifiers": [bench.name for bench in benches],
        "causes": len({c for r in results.values() for c in r.by_cause}),
        "detection": {
            "share": round(share, 4),
            "missing": missing,
            "only_by_looking": untold(benches, book),
        },
        "isolation": {
            label: {
                "one": round(result.one, 4),
                "three": round(result.three, 4),
                "noticed": round(result.noticed, 4),
                "unsure": [asdict(row) for row in unsure(benches, label, result)],
            }
            for label, result in results.items()
        },
        "nowhere": nowhere(knowledge, benches),
        "filler": filler(knowledge, benches),
        "words": {"share": round(words, 4), "count": count},
        "stability": asdict(cases),
    }
