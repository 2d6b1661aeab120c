"""``triage expect CIRCUIT``: what it reads at every point, sound or with a fault."""

from __future__ import annotations

import argparse
import json
import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

from triage.errors import BadReading, KnowledgeError, Problem

if TYPE_CHECKING:
    from triage.circuit.faults import Fault
    from triage.circuit.netlist import Netlist
    from triage.circuit.table import Row, State
    from triage.knowledge.load import Knowledge
    from triage.model.circuit import CircuitSpec

SMALL = "Small signals (no clipping): 1 kHz, controls full up, feedback open; hum RMS."
CAUTION = """Design values, not permission: read them only in the order that the session
gives, with its gates."""


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command to the others."""
    sub = commands.add_parser("expect", help="what a circuit reads at every point, or with a fault")
    sub.add_argument(
        "circuit", metavar="CIRCUIT", nargs="?", help="a built-in one, or a circuit file"
    )
    sub.add_argument(
        "--own",
        metavar="FILE",
        type=Path,
        help="ask for your own values, starting from CIRCUIT or the nearest, and write them there",
    )
    sub.add_argument("--overwrite", action="store_true", help="with --own: FILE may be there")
    sub.add_argument("--fault", metavar="NAME", help="such as C9.capacitor_leaky_1m")
    sub.add_argument("--faults", action="store_true", help="list the faults it can have")
    sub.add_argument("--alike", action="store_true", help="faults that no reading tells apart")
    sub.add_argument("--between", nargs=2, metavar="NAME", help="the reading that tells two apart")
    sub.add_argument("--line", metavar="VOLTS", help="today's line, such as '126 V'")
    sub.add_argument("--pulled", metavar="TUBE", nargs="+", default=[], help="tubes taken out")
    sub.add_argument(
        "--course", action="store_true", help="warming up, and how long it stays charged"
    )
    sub.add_argument("--json", action="store_true")
    sub.add_argument("--svg", metavar="FILE", type=Path, help="draw it with its readings")


def run(args: argparse.Namespace) -> int:
    """Solve and print; exit 1 where it cannot be solved."""
    from triage.circuit.faults import faults_of, kinds_of
    from triage.circuit.netlist import build, catalogue
    from triage.circuit.table import named, signal_table, table
    from triage.cli.opening import open_knowledge

    if args.own is not None:
        from triage.cli.own import run as run_own

        return run_own(args)
    from triage.cli.places import cache_path
    from triage.store.curves import recall

    recall(cache_path())
    knowledge = open_knowledge()
    spec = chosen(knowledge, args.circuit or "")
    net = build(spec, catalogue(knowledge.plain))
    kinds = kinds_of(knowledge.plain["circuit_faults"])
    of_kind = place_kinds(knowledge, spec)
    faults = faults_of(net, kinds, of_kind)
    all_faults = faults_of(net, kinds, of_kind, signals=True)
    if args.faults:
        for each in all_faults:
            print(f"{each.name:32} {each.says}" + (f"  [{each.cause}]" if each.cause else ""))
        return 0
    if args.alike:
        return _alike(net, faults)
    if args.between:
        return _between(net, faults, *args.between)
    fault = named(all_faults, args.fault) if args.fault else None
    state = state_of(spec, args.line, args.pulled)
    if args.course:
        from triage.cli.expect_course import show

        sys.stdout.write(show(net, state.line, args.json))
        return 0
    rows = table(net, fault, state)
    signal_rows = signal_table(net, fault, state)
    if args.svg is not None:
        from triage.report.circuit_svg import drawing

        args.svg.write_text(drawing(net, rows, fault), encoding="utf-8")
    if args.json:
        print(json.dumps(as_data(spec, fault, state, rows + signal_rows)))
    else:
        sys.stdout.write(as_text(spec, fault, state, rows, signal_rows))
    return 0


def _alike(net: Netlist, faults: tuple[Fault, ...]) -> int:
    """Print the groups of faults that direct volts and currents do not tell apart."""
    from triage.cli.places import cache_path
    from triage.store.dictionaries import kept_dictionary

    found = kept_dictionary(net, faults, cache_path())
    groups = found.groups()
    for group in groups:
        if len(group) > 1:
            print(textwrap.fill(", ".join(map(found.name, group)), 78, subsequent_indent="    "))
    alone = sum(len(group) == 1 for group in groups)
    print(f"{len(faults)} faults: {alone} told from all others; those on one line read alike.")
    return 0


def _between(net: Netlist, faults: tuple[Fault, ...], one: str, other: str) -> int:
    """Print the point at which two faults (or 'sound') differ most."""
    from triage.circuit.table import named
    from triage.cli.places import cache_path
    from triage.store.dictionaries import kept_dictionary

    both = [None if name == "sound" else named(faults, name) for name in (one, other)]
    found = kept_dictionary(net, faults, cache_path())
    a, b = (0 if fault is None else 1 + faults.index(fault) for fault in both)
    point, times = found.best(a, b)
    at = found.points.index(point)
    unit = found.units[at]
    print(f"{point}: {one} {_plain(float(found.values[a, at]), unit)}, "
          f"{other} {_plain(float(found.values[b, at]), unit)} "
          f"({times:.1f} times half the band of sound ones)")  # fmt: skip
    return 0


def chosen(knowledge: Knowledge, name: str) -> CircuitSpec:
    """A built-in circuit, or one from a file.

    Raises
    ------
    KnowledgeError : no such circuit, or a file that is not right, with its lines.
    """
    if name in knowledge.circuits:
        return knowledge.circuits[name]
    path = Path(name)
    if path.suffix in (".yaml", ".yml") and path.is_file():
        from triage.knowledge.load import read_circuit

        return read_circuit(path)
    known = ", ".join(sorted(knowledge.circuits))
    raise KnowledgeError(
        [
            Problem(
                name or "expect",
                0,
                "no such circuit" if name else "no circuit was named",
                mend=f"name one of {known}, or a .yaml file; --own FILE makes one.",
            )
        ]
    )


def place_kinds(knowledge: Knowledge, spec: CircuitSpec) -> dict[str, str]:
    """Kind of every place of the circuit's amplifier; empty where it has none."""
    from triage.infer.ground import ground

    profile = knowledge.profiles.get(spec.amplifier or "")
    if profile is None:
        return {}
    return {place.id: place.kind for place in ground(knowledge, profile).places.by_id.values()}


def state_of(spec: CircuitSpec, line: str | None, pulled: list[str]) -> State:
    """The state asked for.

    Raises
    ------
    BadReading : line volts that are none, or far from nominal.
    """
    from triage.circuit.table import State
    from triage.units import value_of

    share = 1.0
    if line is not None:
        share = value_of(line, "V") / value_of(spec.line["nominal"], "V")
        if not 0.5 <= share <= 1.2:
            why = f"the circuit is made for {spec.line['nominal']}; half to 1.2 times can be tried."
            raise BadReading(line, why, spec.line["nominal"])
    return State(share, tuple(pulled))


def as_data(
    spec: CircuitSpec, fault: Fault | None, state: State, rows: list[Row]
) -> dict[str, object]:
    """The table as plain data, SI."""
    return {
        "circuit": spec.circuit,
        "fault": fault.name if fault else None,
        "line_share": state.line,
        "pulled": list(state.pulled),
        "rows": [
            {
                "point": r.point, "unit": r.unit, "sound": r.sound, "low": r.low, "high": r.high,
                "now": r.now, "off": r.off,
            }
            for r in rows
        ],
    }  # fmt: skip


def _plain(value: float, unit: str, least: float = 1e-3) -> str:
    """A value with its unit; volts below ``least`` are none."""
    from triage.units import format_si

    if unit == "V" and abs(value) < least:
        value = 0.0
    return format_si(value, unit) if unit or abs(value) < 1000.0 else f"{value:.0f}"


def as_text(
    spec: CircuitSpec,
    fault: Fault | None,
    state: State,
    rows: list[Row],
    signal_rows: list[Row] | None = None,
) -> str:
    """The table for a terminal of 80 columns."""
    lines = [textwrap.fill(f"{spec.circuit}: {spec.says}", 78)]
    if state.line != 1.0 or state.pulled:
        out = f", without {', '.join(state.pulled)}" if state.pulled else ""
        lines.append(f"Line at {state.line:.0%} of {spec.line['nominal']}{out}.")
    if fault is not None:
        known = f" (cause: {fault.cause})" if fault.cause else ""
        marks = f"Fault: {fault.says}{known}. * marks what leaves the band of sound ones."
        lines.append(textwrap.fill(marks, 78))
    head = f"{'point':20}{'sound':>11}{'nine of ten':>24}"
    lines.append(head + (f"{'now':>12}" if fault else ""))
    for r in [*rows, *(signal_rows or [])]:
        if signal_rows and r is signal_rows[0]:
            lines.append(SMALL)
        least = 1e-5 if r in (signal_rows or []) else 1e-3
        sound, low, high = (_plain(v, r.unit, least) for v in (r.sound, r.low, r.high))
        line = f"{r.point:20}{sound:>11}{f'{low} .. {high}':>24}"
        if r.now is not None:
            line += f"{_plain(r.now, r.unit, least):>12}" + (" *" if r.off else "")
        lines.append(line)
    return "\n".join([*lines, CAUTION, ""])
