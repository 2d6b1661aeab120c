"""The order of steps in DOT, read back with a grammar of its own.

Grammar: the DOT language as published with Graphviz (from memory): quoted strings with ``\\"``,
node and edge statements, attribute lists.
"""

from __future__ import annotations

import re

import networkx as nx
import pytest

from tests.report.trees import JOBS, Job, cells, tree
from triage.report.order_dot import order_dot

TOKEN = re.compile(r'\s*(?:("(?:[^"\\]|\\.)*")|(->)|([A-Za-z_]\w*|-?\d+(?:\.\d+)?)|([{}\[\];,=]))')


def tokens(text: str) -> list[str]:
    """Tokens of a DOT text; whatever is none is an error."""
    found, at = [], 0
    while text[at:].strip():
        match = TOKEN.match(text, at)
        assert match, f"no token at: {text[at : at + 40]!r}"
        found.append(match.group().strip())
        at = match.end()
    return found


def read_dot(text: str) -> nx.DiGraph:
    """Read ``digraph ID { statements }``: nodes and edges with their attributes."""
    rest = tokens(text)
    assert rest[0] == "digraph"
    assert rest[2] == "{"
    assert rest[-1] == "}"
    graph: nx.DiGraph = nx.DiGraph()
    body = rest[3:-1]
    while body:
        end = body.index(";")
        statement, body = body[:end], body[end + 1 :]
        name, attributes = statement[0], attributes_of(statement)
        if len(statement) > 1 and statement[1] == "->":
            graph.add_edge(name, statement[2], **attributes)
        elif len(statement) > 1 and statement[1] == "=":
            graph.graph[name] = statement[2]
        elif name not in ("node", "edge"):
            graph.add_node(name, **attributes)
    return graph


def attributes_of(statement: list[str]) -> dict[str, str]:
    """``[a=b, c=d]`` of a statement."""
    if "[" not in statement:
        return {}
    assert statement[-1] == "]"
    inside = [t for t in statement[statement.index("[") + 1 : -1] if t != ","]
    assert inside[1::3] == ["="] * (len(inside) // 3)
    return dict(zip(inside[::3], inside[2::3], strict=True))


@pytest.mark.parametrize("job", JOBS, ids=lambda job: f"{job[0]}: {job[2]}")
def test_dot_reads_back_as_the_same_tree(job: Job) -> None:
    """As many boxes and answers as there are; networkx finds one tree; each node is declared."""
    found = tree(*job)
    graph = read_dot(order_dot(found))
    drawn = list(cells(found))
    assert nx.is_arborescence(graph)
    assert graph.number_of_nodes() == sum(len(cell.parts) for cell in drawn)
    assert all("label" in data for _, data in graph.nodes(data=True))
    answers = [data for _, _, data in graph.edges(data=True) if "label" in data]
    assert len(answers) == sum(len(cell.branches) for cell in drawn)


def test_cautions_are_in_the_title_of_the_graph() -> None:
    """The picture that another program makes of it carries them too."""
    label = read_dot(order_dot(tree(*JOBS[0]))).graph["label"]
    assert "Local codes and licensed practice come first" in label


def test_a_live_step_has_a_double_outline() -> None:
    """As many double outlines as live parts, in every tree; some tree has live parts."""
    everywhere = 0
    for job in JOBS:
        found = tree(*job)
        live = sum(part.live for cell in cells(found) for part in cell.parts)
        assert order_dot(found).count("peripheries=2") == live
        everywhere += live
    assert everywhere > 0


def test_the_reader_refuses_what_is_not_dot() -> None:
    """The check can fail: an open quote is no token."""
    with pytest.raises(AssertionError, match="no token"):
        read_dot('digraph order { a [label="open]; }')
