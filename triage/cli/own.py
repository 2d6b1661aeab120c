"""``triage expect --own FILE``: the guided form for a circuit of one's own, written and tried."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from triage.errors import BadReading, CircuitError

if TYPE_CHECKING:
    from triage.circuit.netlist import Netlist


def run(args: argparse.Namespace) -> int:
    """Ask, write the file, then solve it and show what it should read.

    Raises
    ------
    BadReading : the file may not be written; told before the first question.
    """
    from triage.circuit.netlist import build, catalogue
    from triage.circuit.own_file import text_of
    from triage.circuit.table import State, table
    from triage.cli.expect import as_text, chosen
    from triage.cli.opening import open_knowledge, open_terminal
    from triage.knowledge.load import read_circuit
    from triage.terminal.commands import Leave
    from triage.terminal.own_circuit import choose_base, fill

    may_write(args.own, args.overwrite)
    knowledge, asker = open_knowledge(), open_terminal()
    models = catalogue(knowledge.plain)
    try:
        base = (
            chosen(knowledge, args.circuit)
            if args.circuit
            else choose_base(asker, knowledge.circuits, models)
        )
    except (EOFError, Leave):
        print("Left before a circuit was chosen: nothing was written.")
        return 0
    build(base, models)  # a file of one's own to begin from may be wrong: told before the questions
    form, whole = fill(asker, base, models)
    write(args.own, text_of(form.row()))
    print(f"\nWritten to {args.own}: {len(form.values)} values changed from {base.circuit}.")
    if not whole:
        again = f"triage expect {args.own} --own {args.own} --overwrite"
        print(f"Stopped before the end; nothing is lost. To go on: {again}")
        return 0
    spec = read_circuit(args.own)
    try:
        net: Netlist = build(spec, models)
        rows = table(net)
    except CircuitError as error:
        told = "\n".join(f"  - {reason}" for reason in error.reasons)
        print(f"It cannot be worked out as it stands:\n{told}", file=sys.stderr)
        print(f"The file is kept. Mend it there: {args.own}", file=sys.stderr)
        return 1
    sys.stdout.write("\n" + as_text(spec, None, State(), rows))
    print(f"Again at any time: triage expect {args.own}")
    return 0


def may_write(path: Path, overwrite: bool) -> None:
    """Refuse a file that is there already or cannot be made, before anything is asked.

    Raises
    ------
    BadReading : what is wrong with it, and what to do.
    """
    name = str(path)
    if path.suffix not in (".yaml", ".yml"):
        raise BadReading(name, "a circuit file ends in .yaml.", f"{path.stem or 'mine'}.yaml")
    if path.is_dir() or not path.parent.is_dir():
        raise BadReading(name, "there is no such folder to write it into.", "mine.yaml")
    if path.exists() and not overwrite:
        why = "this file is there already and is left as it is. Name another, or add --overwrite."
        raise BadReading(name, why)


def write(path: Path, text: str) -> None:
    """Write the file whole or not at all.

    Raises
    ------
    BadReading : it cannot be written; the text is printed, so that nothing is lost.
    """
    part = path.with_name(path.name + ".part")
    try:
        part.write_text(text, encoding="utf-8", newline="\n")
        part.replace(path)
    except OSError as error:
        print(text)
        why = f"cannot be written ({error.strerror}). Your circuit is printed above: keep it."
        raise BadReading(str(path), why) from error
