"""Rule templates: independent of files and of any one amplifier's profile."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from triage.errors import EngineFault
from triage.model.base import RELATIONS
from triage.model.entries import Rule

MOST_LITERALS = 12
MOST_CONDITIONS = 16
LONGEST_VALUE = 200


@dataclass(frozen=True, order=True)
class Literal_:  # noqa: N801 - `Literal` is taken by typing
    """One finding, with its accepted answers, at a place reached from the rule's own."""

    path: str
    finding: str
    answers: tuple[str, ...]

    @property
    def steps(self) -> tuple[str, ...]:
        """Relations walked after ``self``."""
        return tuple(step for step in self.path.split(".")[1:] if step != "self")


@dataclass(frozen=True)
class Template:
    """A conjunction of literals, for each place whose kind is one of ``at``."""

    id: str
    at: tuple[str, ...]
    literals: tuple[Literal_, ...]

    def could_hold(self, known: Collection[tuple[str, str]]) -> bool:
        """Whether each literal has one of its answers among (finding id, answer), at any place."""
        return all(
            any((literal.finding, answer) in known for answer in literal.answers)
            for literal in self.literals
        )


Fact = tuple[str, str, str]
"""Place id, finding id, answer."""


@dataclass(frozen=True, order=True)
class Firing:
    """A rule that holds at a place, with the place each literal was found at."""

    rule_id: str
    at: str
    binding: tuple[tuple[int, str], ...]


def fnv32(text: str) -> int:
    """FNV-1a 32-bit hash of UTF-8 ``text`` (the public FNV-1a constants, from memory)."""
    value = 0x811C9DC5
    for byte in text.encode():
        value = ((value ^ byte) * 0x01000193) & 0xFFFFFFFF
    return value


def check_templates(templates: Iterable[Template]) -> tuple[Template, ...]:
    """Templates with duplicate literals and answers removed.

    Raises
    ------
    EngineFault : a template is one that the engine could answer wrongly; says which and why.
    """
    found = tuple(_normal(template) for template in templates)
    seen: dict[int, str] = {}
    words = {"g", "f", "v", "p", "a", "b", "id", "sid"}
    ids: set[str] = set()
    for template in found:
        if template.id in ids:
            raise EngineFault(f"rule {template.id}: the id is used twice. Mend: rename one.")
        ids.add(template.id)
        words.update((template.id, *template.at))
        for literal in template.literals:
            words.update((literal.finding, *literal.answers))
    for word in sorted(words):
        other = seen.setdefault(fnv32(word), word)
        if other != word:
            raise EngineFault(f"'{word}' and '{other}' share one 32-bit hash. Mend: rename one.")
    return found


def _normal(template: Template) -> Template:
    literals = tuple(
        dict.fromkeys(
            Literal_(
                ".".join(("self", *literal.steps)) if literal.path.startswith("self") else "?",
                literal.finding,
                tuple(dict.fromkeys(literal.answers)),
            )
            for literal in template.literals
        )
    )
    where = f"rule {template.id}"
    if not 1 <= len(literals) <= MOST_LITERALS:
        raise EngineFault(f"{where}: {len(literals)} literals, 1 to {MOST_LITERALS} can be taken.")
    if not template.at:
        raise EngineFault(f"{where}: names no kind of place in 'at'.")
    for literal in literals:
        _check_literal(where, literal)
    if 1 + sum(1 + len(literal.steps) for literal in literals) > MOST_CONDITIONS:
        raise EngineFault(f"{where}: literals and steps together exceed {MOST_CONDITIONS - 1}.")
    for number, one in enumerate(literals):
        for two in literals[:number]:
            overlap = one.finding == two.finding and set(one.answers) & set(two.answers)
            if overlap and _may_meet(one, two, template.at):
                raise EngineFault(
                    f"{where}: '{two.path}' and '{one.path}' may be one place with one finding "
                    f"'{one.finding}'. Mend: drop one of the two."
                )
    return Template(template.id, tuple(dict.fromkeys(template.at)), literals)


def _check_literal(where: str, literal: Literal_) -> None:
    if literal.path == "?":
        raise EngineFault(f"{where}: the place of '{literal.finding}' must start with 'self'.")
    if len(literal.steps) > 2:
        raise EngineFault(f"{where}: '{literal.path}' walks more than two relations.")
    for step in literal.steps:
        if step not in RELATIONS:
            raise EngineFault(f"{where}: '{step}' is no relation; known: {', '.join(RELATIONS)}.")
    if not literal.answers:
        raise EngineFault(f"{where}: '{literal.finding}' accepts no answer.")
    for value in (literal.finding, *literal.answers):
        if not isinstance(value, str) or not 0 < len(value) <= LONGEST_VALUE:
            raise EngineFault(f"{where}: {value!r:.60} is not text of 1 to {LONGEST_VALUE}.")


def _may_meet(one: Literal_, two: Literal_, at: tuple[str, ...]) -> bool:
    """Whether two walks can end at one place.

    A relation never leads from a place to itself, but for the amplifier and a channel, which are
    their own.
    """
    if one.path == two.path or max(len(one.steps), len(two.steps)) > 1:
        return True
    steps = {*one.steps, *two.steps}
    return len(steps) > 1 or bool(steps & {"amp", "channel"} & set(at))


def compile_templates(rules: Iterable[Rule]) -> tuple[Template, ...]:
    """Checked templates of knowledge rules that are still in use.

    Raises
    ------
    EngineFault : as ``check_templates``.
    """
    return check_templates(
        Template(
            rule.id,
            (rule.at,),
            tuple(Literal_(_from_self(ref.of), ref.finding, ref.answers) for ref in rule.when),
        )
        for rule in rules
        if rule.replaced_by is None
    )


def _from_self(path: str) -> str:
    return path if path.split(".")[0] == "self" else f"self.{path}"
