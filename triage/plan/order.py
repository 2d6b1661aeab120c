"""The order of tests as a graph: safety steps first, then by contact, then by worth and price.

Nodes are steps (procedures, gates' proofs, the leading repair); an edge means 'must come before'.
networkx keeps the graph and sorts it; among steps that are free to come next the one with the
least contact goes first (looking before cold hands, cold before clipped, clipped before live).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from triage.model.entries import Procedure, Repair
from triage.plan.lookahead import Valued
from triage.safety.facts import AmpFacts, StepFacts
from triage.safety.gates import WHY, passed, required
from triage.safety.states import SafetyState

if TYPE_CHECKING:
    import networkx as nx  # loaded in the functions: a session starts a tenth of a second sooner

STAGES = (
    "answer and look",
    "safety, nothing opened",
    "dead and proven",
    "on the limiter",
    "powered, clipped on while dead",
    "powered, probe in hand",
    "repair and prove",
)


@dataclass(frozen=True)
class Ordered:
    """One line of the order."""

    ident: str
    title: str
    stage: str
    price: float
    worth: float | None
    after: tuple[str, ...]


def stage_of(entry: Procedure | Repair) -> int:
    """How near a step comes to danger: an index into ``STAGES``."""
    if isinstance(entry, Repair):
        return 6
    step = StepFacts.of(entry)
    if step.live:
        return 5
    if step.power in ("idle", "driven", "standby", "external"):
        return 4
    if step.power in ("limited", "limited_bare", "plugged"):
        return 3
    if step.inside or step.power == "cold":
        return 2
    return 1 if entry.proves else 0


def order_graph(
    options: Sequence[Valued],
    providers: Mapping[str, Procedure],
    state: SafetyState,
    facts: AmpFacts,
    repair: Repair | None = None,
) -> nx.DiGraph:
    """Graph of the given options with everything safety wants before them.

    Node attributes: ``title``, ``stage`` (int), ``price`` (minutes), ``worth`` (minutes or None).
    Gates that hold already are left out.
    """
    import networkx as nx

    graph: nx.DiGraph = nx.DiGraph()
    for option in options:
        candidate = option.priced.candidate
        ident = "@".join(candidate.key)
        place = "" if candidate.swept else f" ({candidate.places[0].name})"
        graph.add_node(
            ident,
            title=candidate.procedure.title + place,
            stage=stage_of(candidate.procedure),
            price=option.priced.cost,
            worth=option.value,
        )
        _gates(graph, ident, candidate.procedure, providers, state, facts)
    if repair is not None:
        graph.add_node(
            repair.id,
            title=repair.says.replace("{place}", "the part"),
            stage=6,
            price=repair.minutes,
            worth=None,
        )
        _gates(graph, repair.id, repair, providers, state, facts)
    return graph


def _gates(
    graph: nx.DiGraph,
    ident: str,
    entry: Procedure | Repair,
    providers: Mapping[str, Procedure],
    state: SafetyState,
    facts: AmpFacts,
) -> None:
    for gate in required(StepFacts.of(entry), facts, state):
        if passed(gate, state, facts):
            continue
        known = gate in graph
        provider = providers.get(gate)
        title = provider.title if provider is not None else WHY[gate]
        stage = stage_of(provider) if provider is not None else 1
        price = provider.minutes.setup + provider.minutes.each if provider is not None else 1.0
        if gate == ident:
            continue
        graph.add_node(gate, title=title, stage=stage, price=price, worth=None)
        graph.add_edge(gate, ident)
        if not known and provider is not None:
            _gates(graph, gate, provider, providers, state, facts)


def safest_order(graph: nx.DiGraph) -> tuple[Ordered, ...]:
    """Steps in an order that keeps every 'before', least contact first, then worth over price.

    Where gates wait for one another in a circle (each proof wants the other first), the circle is
    opened at its least dangerous step.
    """
    import networkx as nx

    acyclic = graph.copy()
    while not nx.is_directed_acyclic_graph(acyclic):
        circle = nx.find_cycle(acyclic)
        worst = max(circle, key=lambda edge: (acyclic.nodes[edge[0]]["stage"], edge))
        acyclic.remove_edge(worst[0], worst[1])

    def rank(node: str) -> tuple[int, int, float, str]:
        data = acyclic.nodes[node]
        worth = data["worth"]
        gate_first = 0 if worth is None and data["stage"] < 6 else 1
        return (data["stage"], gate_first, -(worth or 0.0) / max(data["price"], 0.1), node)

    return tuple(
        Ordered(
            node,
            acyclic.nodes[node]["title"],
            STAGES[acyclic.nodes[node]["stage"]],
            float(acyclic.nodes[node]["price"]),
            acyclic.nodes[node]["worth"],
            tuple(sorted(acyclic.predecessors(node))),
        )
        for node in nx.lexicographical_topological_sort(acyclic, key=rank)
    )
