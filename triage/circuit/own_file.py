"""A circuit as the text of a circuit file: one part a line, in the order of the format."""

from __future__ import annotations

from collections.abc import Mapping

import yaml

HEAD = "# A circuit of an owner's own. DEVELOPERS.md, section 4, tells what each key means.\n"
ORDER = ("circuit", "says", "line", "supplies", "parts", "tubes", "names", "source")
LISTS = frozenset({"supplies", "parts", "tubes"})


def text_of(row: Mapping[str, object]) -> str:
    """The file for the plain values of a circuit (see ``Form.row``)."""
    lines = [HEAD]
    for key in ORDER:
        value = row.get(key)
        if isinstance(value, Mapping) and key in LISTS and value:
            lines.append(f"{key}:\n")
            lines += [f"  {_flow(name)}: {_flow(entry)}\n" for name, entry in value.items()]
        elif value is not None:
            lines.append(f"{key}: {_flow(value)}\n")
    return "".join(lines)


def _flow(value: object) -> str:
    text = yaml.safe_dump(
        value, default_flow_style=True, width=10**6, sort_keys=False, allow_unicode=True
    )
    return text.removesuffix("...\n").strip()
