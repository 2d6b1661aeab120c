"""``triage order AMPLIFIER --complaint TEXT``: the whole order of steps as a tree."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from difflib import get_close_matches
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from triage.errors import BadReading

if TYPE_CHECKING:
    from triage.job.tree import OrderTree
    from triage.knowledge.load import Knowledge
    from triage.model.profile import Profile

FORMS = ("text", "markdown", "dot", "svg", "html")
SAFETY_TOOLS = frozenset({"limiter", "isolation_transformer", "high_impedance_meter", "probe_2kv"})


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command to the others."""
    order = commands.add_parser("order", help="the whole order of steps for a complaint, as a tree")
    order.add_argument("amplifier", metavar="AMPLIFIER", help="a built-in one, or a profile file")
    order.add_argument(
        "--complaint",
        metavar="TEXT",
        action="append",
        required=True,
        help="what it does, in your own words; once or more",
    )
    order.add_argument("--tools", metavar="TOOL", nargs="+", help="tools at hand, instead of its")
    order.add_argument("--skill", choices=("novice", "hobbyist", "technician"))
    order.add_argument("--depth", metavar="N", type=int, default=3, help="steps on each way (3)")
    order.add_argument("--form", choices=FORMS, default="text")
    order.add_argument("--out", metavar="FILE", type=Path, help="write it there")


def run(args: argparse.Namespace) -> int:
    """Draw the tree and print it, or write it to a file."""
    from triage.assess import Bench
    from triage.cli.opening import open_knowledge
    from triage.job.tree import order_tree

    knowledge = open_knowledge()
    profile = equipped(amplifier(knowledge, args.amplifier), knowledge, args.tools, args.skill)
    bench = Bench.make(knowledge, profile)
    try:
        drawn = form(args.form)(order_tree(bench, args.complaint, args.depth))
    finally:
        bench.close()
    if args.out is None:
        sys.stdout.write(drawn)
        return 0
    try:
        args.out.write_text(drawn, encoding="utf-8", newline="\n")
    except OSError as error:
        why = f"cannot be written ({error.strerror}); name a file in a folder of yours."
        raise BadReading(str(args.out), why) from error
    print(f"Written to {args.out}.")
    return 0


def form(name: str) -> Callable[[OrderTree], str]:
    """The function that draws a tree in a form."""
    drawer: Callable[[OrderTree], str] = getattr(
        import_module(f"triage.report.order_{name}"), f"order_{name}"
    )
    return drawer


def amplifier(knowledge: Knowledge, name: str) -> Profile:
    """A built-in amplifier, or the profile in a file.

    Raises
    ------
    BadReading : neither; the built-in ones are listed.
    KnowledgeError : the file is no profile.
    """
    if name in knowledge.profiles:
        return knowledge.profiles[name]
    if Path(name).is_file():
        from triage.terminal.intake import read_profile

        return read_profile(Path(name))
    near = get_close_matches(name, list(knowledge.profiles), 1)
    raise BadReading(
        name,
        "no built-in amplifier and no file; there are " + ", ".join(knowledge.profiles) + ".",
        near[0] if near else next(iter(knowledge.profiles)),
    )


def equipped(
    profile: Profile, knowledge: Knowledge, tools: list[str] | None, skill: str | None
) -> Profile:
    """The amplifier with other tools or another skill at its bench.

    Raises
    ------
    BadReading : a tool that nothing here uses.
    """
    update: dict[str, object] = {}
    if tools is not None:
        named = [tool for word in tools for tool in word.replace(",", " ").split()]
        known = known_tools(knowledge)
        for tool in named:
            if tool not in known:
                near = get_close_matches(tool, sorted(known), 1)
                listed = "no tool that a step uses; there are " + ", ".join(sorted(known)) + "."
                raise BadReading(tool, listed, near[0] if near else "multimeter")
        update["tools"] = named
    if skill is not None:
        update["skill"] = skill
    if not update:
        return profile
    return profile.model_copy(update={"owner": profile.owner.model_copy(update=update)})


def known_tools(knowledge: Knowledge) -> frozenset[str]:
    """Tools that a step or a gate asks for; senses are not among them."""
    from triage.plan.candidates import SENSES

    found = set(SAFETY_TOOLS)
    for procedure in knowledge.procedures.values():
        for wanted in (procedure.tools.need, *procedure.tools.or_):
            found |= set(wanted)
    for profile in knowledge.profiles.values():
        found |= set(profile.owner.tools)
    return frozenset(found - SENSES)
