"""Where a part stands in a circuit, in words: 'R8, cathode of V2 to ground'."""

from __future__ import annotations

from triage.model.circuit import GROUND, CircuitSpec

ELECTRODES = ("cathode", "grid", "screen", "plate")
"""Order in which a part is said to belong to a tube."""


def _roles(spec: CircuitSpec, node: str) -> list[tuple[str, str]]:
    """Electrodes on a node, with their tubes."""
    return [
        (electrode, name)
        for electrode in ELECTRODES
        for name, tube in spec.tubes.items()
        if getattr(tube, electrode) == node
    ]


def node_words(spec: CircuitSpec, node: str) -> str:
    """A node in words: ground, the electrodes on it, the supply that feeds it, or its name."""
    if node == GROUND:
        return "ground"
    fed = [name for name, supply in spec.supplies.items() if supply.node == node]
    if fed:
        return f"supply {fed[0]} ({node})"
    roles = _roles(spec, node)
    if roles:
        names = " and ".join(dict.fromkeys(name for kind, name in roles if kind == roles[0][0]))
        return f"{roles[0][0]} of {names}"
    return f"node {node}"


def part_words(spec: CircuitSpec, name: str) -> str:
    """A part by both its ends."""
    one, other = spec.parts[name].nodes
    return f"({spec.parts[name].kind}), {node_words(spec, one)} to {node_words(spec, other)}"


def tube_words(spec: CircuitSpec, name: str) -> str:
    """A tube by what it is wired as."""
    return "with a screen" if spec.tubes[name].screen is not None else "a triode"


def page_of(spec: CircuitSpec, name: str) -> str:
    """The page a part stands on: the tube it works for, or the supply."""
    ends = [node for node in spec.parts[name].nodes if node != GROUND]
    for electrode in ELECTRODES:
        for node in reversed(ends):
            if any(supply.node == node for supply in spec.supplies.values()):
                continue
            for kind, tube in _roles(spec, node):
                if kind == electrode:
                    return f"Around {tube}"
    return "Supply"
