"""Which circuit is nearest to an amplifier, from four things one can say of it without a drawing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from triage.measure.koren import TubeModel
from triage.model.circuit import CircuitSpec

QUESTIONS: tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...] = (
    ("output", "Its output stage?", (
        ("single_ended", "one output tube a channel"), ("push_pull", "a pair, or two"))),
    ("rectifier", "Its rectifier for the high voltage?", (
        ("tube", "a tube"), ("silicon", "silicon diodes"))),
    ("bias", "The bias of the output tubes?", (
        ("cathode", "a resistor at the cathode"), ("fixed", "a minus supply at the grids"))),
)  # fmt: skip
"""Name, question, answers with their words."""
TUBES_ASK = "Its tubes (such as ECC83 EL84)?"
WEIGHTS = {"output": 3.0, "rectifier": 1.5, "bias": 1.5}
OUTPUT_TUBE = 3.0
"""A tube type in common counts this if it has a screen, a third of it if not (judgement)."""


@dataclass(frozen=True)
class Near:
    """A circuit with how near it is (most first) and what it has in common, in words."""

    name: str
    score: float
    shared: tuple[str, ...]


def features(spec: CircuitSpec) -> dict[str, str]:
    """Output stage, rectifier and bias of a circuit, read off its parts.

    Push-pull: two windings of one output transformer. Tube rectifier: the first supply has a drop.
    """
    windings = [part.place for part in spec.parts.values() if part.kind == "winding" and part.place]
    first = next(iter(spec.supplies.values()), None)
    return {
        "output": "push_pull" if len(windings) > len(set(windings)) else "single_ended",
        "rectifier": "tube" if first is not None and first.drop is not None else "silicon",
        "bias": "fixed" if any(s.minus for s in spec.supplies.values()) else "cathode",
    }


def ranked(
    circuits: Mapping[str, CircuitSpec],
    said: Mapping[str, str],
    tubes: tuple[str, ...],
    models: Mapping[str, TubeModel],
) -> list[Near]:
    """All circuits, the nearest first; what was not said counts for none of them.

    ``said``: answers by name of the question. ``tubes``: type numbers, as typed; equivalents are
    found through ``models`` (see ``netlist.catalogue``).
    """
    wanted = {models[t.upper()].type for t in tubes if t.upper() in models}
    rows = []
    for name, spec in circuits.items():
        here = features(spec)
        shared = [key for key, answer in said.items() if here.get(key) == answer]
        score = sum(WEIGHTS[key] for key in shared)
        words = [here[key].replace("_", "-") + _of(key) for key in shared]
        for kind in dict.fromkeys(tube.type for tube in spec.tubes.values()):
            model = models.get(kind.upper())
            if model is not None and model.type in wanted:
                score += OUTPUT_TUBE if model.kind == "pentode" else OUTPUT_TUBE / 3
                words.append(kind)
        rows.append(Near(name, score, tuple(words)))
    return sorted(rows, key=lambda row: (-row.score, row.name))


def _of(key: str) -> str:
    return {"rectifier": " rectifier", "bias": " bias"}.get(key, "")
