"""Writes ``knowledge/VOCABULARY.md`` from the entries: ``python -m tests.knowledge.vocabulary``."""

from __future__ import annotations

from pathlib import Path

from triage.knowledge.load import Knowledge, load
from triage.knowledge.paths import knowledge_dir
from triage.model.base import RELATIONS, RESERVED_ANSWERS
from triage.model.entries import Finding

PAGE = "VOCABULARY.md"
RELATED = {
    "self": "the place itself",
    "amp": "the amplifier",
    "mate": "the other tube of a push-pull pair",
    "channel": "its channel",
    "other_channel": "the same place in the other channel",
    "feeds": "what it feeds (a coupling capacitor feeds a grid)",
    "fed_by": "what feeds it",
    "supply": "the supply node it hangs on",
    "halves": "the other half in one glass",
    "others": "all other places of its kind",
    "holds": "everything inside it (of the amplifier: everything)",
}
HEAD = """\
# Vocabulary

The words that entries are made of. Written from the entries themselves by
`python -m tests.knowledge.vocabulary`; a test tells when it is out of date.

A place is named by its id in the amplifier's profile (`V3`, `C9`) or reached from `self` by one or
two relations (`self.mate`, `self.amp.holds`). A fact is `PLACE finding answer`.
"""


def page(kb: Knowledge) -> str:
    """The whole page."""
    lines = [HEAD]
    lines += [f"Always answers: {', '.join(f'`{a}`' for a in RESERVED_ANSWERS)}.", ""]
    lines += ["## Relations", ""]
    lines += [f"- `{name}`: {RELATED[name]}" for name in RELATIONS]
    lines += ["", "## Kinds of place", ""]
    for kind in kb.kinds.values():
        marks = [m for m, on in (("outside", kind.outside), ("tube", kind.tube)) if on]
        lines.append(f"- `{kind.id}`: {kind.label}" + (f" ({', '.join(marks)})" if marks else ""))
    lines += ["", "## Parts as named, under their kind of place", ""]
    for under in kb.kinds:
        named = [f"`{part.id}` ({part.label})" for part in kb.parts.values() if part.under == under]
        if named:
            lines.append(f"- `{under}`: {', '.join(named)}")
    lines += ["", "## Signs", "", "Hidden; several findings look at one. Causes word the sign.", ""]
    lines += [f"- `{s.id}` at {', '.join(s.at)}: {s.says}" for s in kb.signs.values()]
    lines += ["", "## Findings", "", "The normal answer is marked with a star.", ""]
    theme = ""
    for finding in kb.findings.values():
        here = Path(kb.where[("findings", finding.id)][0]).stem
        if here != theme:
            lines += ["", f"### {here}", ""]
            theme = here
        lines += _finding(finding)
    lines += ["", "## Causes", ""]
    lines += [f"- `{c.id}` at {', '.join(c.at)}: {c.says}" for c in kb.causes.values()]
    return "\n".join(lines).replace("\n\n\n", "\n\n") + "\n"


def _finding(finding: Finding) -> list[str]:
    answers = ", ".join(
        f"`{answer}`" + ("*" if answer == finding.normal else "") for answer in finding.answers
    )
    notes = [f"told {finding.told}", f"by {finding.path}"]
    if finding.takes is not None:
        notes.append(f"takes a reading ({finding.takes.reading})")
    if finding.shows is not None:
        notes.append(f"looks at the sign `{finding.shows.sign}`")
    if finding.derived:
        notes.append("derived")
    return [
        f"- `{finding.id}` at {', '.join(finding.at)}: {finding.asks}",
        f"  {answers} ({'; '.join(notes)})",
    ]


if __name__ == "__main__":
    root = knowledge_dir()
    (root / PAGE).write_text(page(load(root)), encoding="utf-8")
