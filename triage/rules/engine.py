"""The only door to durable-rules: equality of strings in, a set of firings out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from itertools import product
from typing import Any

from triage.errors import EngineFault
from triage.model.places import Places
from triage.rules.templates import LONGEST_VALUE, Fact, Firing, Template, check_templates

try:
    import durable_rules_engine
    from durable import engine as durable_engine
except ImportError as error:
    raise EngineFault(
        f"The rules engine does not load ({error}). Mend: "
        "CPPFLAGS=-DPyEval_CallObject=PyObject_CallObject pip install --no-cache-dir "
        "--force-reinstall durable_rules==2.0.28"
    ) from error

SID = "s"
MOST_RULES = 4000
MOST_USES = 250
MOST_JOINED = 60
"""Uses of one literal with a join: at 65 the library refuses every fact that meets them (303)."""
GROUP = 200
Test = dict[str, Any]
Report = Callable[[int, dict[str, str]], None]


class _QuietHost(durable_engine.Host):  # type: ignore[misc]  # the library is untyped
    def _run(self) -> None:
        """Start no timer threads."""


class RuleEngine:
    """Templates compiled once; ``match`` takes a whole snapshot of facts.

    Raises
    ------
    EngineFault : a template cannot be taken, or the engine fails.
    """

    def __init__(self, templates: Iterable[Template]) -> None:
        self._templates = check_templates(templates)
        names = sorted({lit.finding for t in self._templates for lit in t.literals})
        self._group = {name: f"g{number // GROUP}" for number, name in enumerate(names)}
        self._slots: Counter[str] = Counter()
        self._hits: list[tuple[int, dict[str, str]]] = []
        self.unused: tuple[Fact, ...] = ()
        self._host: Any = _QuietHost()
        self._sets: list[Any] = []
        for number, rules in enumerate(self._shards()):
            try:
                self._host.set_rulesets({f"r{number}": rules})
            except Exception as error:
                self.close()
                raise EngineFault(f"The rules engine refused the rules: {error}") from error
            self._sets.append(self._host.get_ruleset(f"r{number}"))

    def close(self) -> None:
        """Free the compiled rules; the engine cannot be used afterwards."""
        while self._sets:
            durable_rules_engine.delete_ruleset(self._sets.pop()._handle)

    def match(self, facts: Iterable[Fact], places: Places) -> frozenset[Firing]:
        """Firings for one snapshot; facts that no rule mentions are left in ``unused``."""
        if not self._sets:
            raise EngineFault("The rules engine has been closed. Mend: make a new RuleEngine.")
        wanted = sorted(set(facts), key=repr)
        inner = {place: f"p{number}" for number, place in enumerate(places.by_id, 1)}
        outer = {short: place for place, short in inner.items()}
        records = self._records(wanted, places, inner)
        self._hits = []
        handled: set[Fact] = set()
        for rules in self._sets:
            handled |= self._snapshot(rules, records)
        self.unused = tuple(fact for fact in wanted if fact not in handled)
        best: dict[tuple[str, str], Firing] = {}
        for number, bound in self._hits:
            template = self._templates[number]
            at = outer[bound["self"]]
            literals = range(len(template.literals))
            binding = tuple((i, outer[bound[str(i)]]) for i in literals)
            firing = Firing(template.id, at, binding)
            best[template.id, at] = min(firing, best.get((template.id, at), firing))
        return frozenset(best.values())

    def _records(
        self, facts: list[Fact], places: Places, inner: dict[str, str]
    ) -> list[tuple[Fact | None, dict[str, str]]]:
        """What is asserted, in order: places and relations that a rule could bind, then facts."""
        found: list[tuple[Fact | None, dict[str, str]]] = []
        selves = {(a, name) for name, a, b in places.edges if a == b and self._slots[name]}
        for a, relation in sorted(selves):
            if relation not in ("amp", "channel"):
                raise EngineFault(f"'{a}' is its own {relation}. Mend: correct the profile.")
        known = {(finding, answer) for _, finding, answer in facts}
        alive = [t for t in self._templates if t.could_hold(known)]
        kinds = {kind for template in alive for kind in template.at}
        for place in places.by_id.values():
            if place.kind in kinds:
                found.append((None, {"g": "~kind", "v": place.kind, "p": inner[place.id]}))
        for name, a, b in sorted({edge for t in alive for edge in _walked(t, places)}):
            found.append((None, {"g": "~rel", "f": name, "a": inner[a], "b": inner[b]}))
        for fact in facts:
            place_id, finding, answer = fact
            for text in fact:
                if not isinstance(text, str) or not 0 < len(text) <= LONGEST_VALUE:
                    raise EngineFault(f"{text!r:.60} is not text of 1 to {LONGEST_VALUE}.")
            if place_id not in inner:
                raise EngineFault(f"Finding '{finding}' is at '{place_id}', which is no place.")
            if finding in self._group:
                record = {"g": self._group[finding], "f": finding, "v": answer}
                found.append((fact, {**record, "p": inner[place_id]}))
        return found

    def _snapshot(self, rules: Any, records: list[tuple[Fact | None, dict[str, str]]]) -> set[Fact]:
        handled: set[Fact] = set()
        before = len(self._hits)
        sentinel = {"g": "~start", "id": "i0", "sid": SID}
        try:
            offset = rules.assert_fact(sentinel)
            self._act(rules, offset)
        except Exception as error:  # nothing ran: deleting the state now would be unsafe
            raise EngineFault(f"The rules engine failed at its first fact: {error}") from error
        if self._hits[before:] != [(-1, {})]:
            raise EngineFault("The rules engine did not run its first rule.")
        self._hits.pop()
        try:
            for number, (fact, record) in enumerate(records, 1):
                try:
                    rules.assert_fact({**record, "id": f"i{number}", "sid": SID})
                except durable_engine.MessageNotHandledException:
                    continue
                if fact is not None:
                    handled.add(fact)
            self._act(rules, offset)
        except EngineFault:
            raise
        except Exception as error:
            raise EngineFault(f"The rules engine failed: {error}") from error
        finally:
            rules.delete_state(SID)
        return handled

    def _act(self, rules: Any, offset: int) -> None:
        failures: list[object] = []
        rules.do_actions(offset, lambda error, state: failures.append(error) if error else None)
        text = rules.get_state(SID).get("exception")
        if failures or text:
            raise EngineFault(f"A rule's action failed: {failures[0] if failures else text}")

    def _shards(self) -> list[dict[str, Any]]:
        shards: list[dict[str, Any]] = []
        uses: Counter[tuple[str, str]] = Counter()
        for number, template in enumerate(self._templates):
            choices = [template.at, *(literal.answers for literal in template.literals)]
            for choice in product(*choices):
                keys = [("~kind", choice[0])]
                for literal, answer in zip(template.literals, choice[1:], strict=True):
                    keys.append((literal.finding, answer))
                    keys += [("~rel", step) for step in literal.steps]
                full = not shards or len(shards[-1]) >= MOST_RULES
                if full or any(
                    uses[key] + keys.count(key) > (MOST_USES if key[0] == "~kind" else MOST_JOINED)
                    for key in keys
                ):
                    shards.append({"start": self._sentinel()})
                    uses = Counter()
                uses.update(keys)
                name = f"n{len(shards[-1])}"
                shards[-1][name] = self._rule(number, template, choice)
        return shards or [{"start": self._sentinel()}]

    def _sentinel(self) -> dict[str, Any]:
        def run(c: Any) -> None:
            self._hits.append((-1, {}))

        return {"all": [{"m": {"g": "~start"}}], "run": run}

    def _rule(self, number: int, template: Template, choice: tuple[str, ...]) -> dict[str, Any]:
        tests: list[Test] = [{"c0": {"$and": [{"g": "~kind"}, {"v": choice[0]}]}}]
        bound = {"self": "c0"}
        slots = _slots(template)
        self._slots |= Counter(step for literal in template.literals for step in literal.steps)
        for index, literal in enumerate(template.literals):
            here = {"c0": "p"}
            for relation in slots[index]:
                alias = f"c{len(tests)}"
                tests.append({alias: {"$and": [{"g": "~rel"}, {"f": relation}, {"a": here}]}})
                here = {alias: "b"}
            alias = f"c{len(tests)}"
            group = self._group[literal.finding]
            parts = [{"g": group}, {"f": literal.finding}, {"v": choice[index + 1]}, {"p": here}]
            tests.append({alias: {"$and": parts}})
            bound[str(index)] = alias

        def run(c: Any) -> None:
            self._hits.append((number, {key: getattr(c, a).p for key, a in bound.items()}))

        return {"all": tests, "run": run}


def _slots(template: Template) -> list[tuple[str, ...]]:
    """Per literal the names its relations are asserted by: each use of one relation has its own."""
    used: Counter[str] = Counter()
    found: list[tuple[str, ...]] = []
    for literal in template.literals:
        names = []
        for step in literal.steps:
            names.append(f"{step}#{used[step]}")
            used[step] += 1
        found.append(tuple(names))
    return found


def _walked(template: Template, places: Places) -> Iterator[tuple[str, str, str]]:
    """Edges (name, from, to) on the ways of a template from all places it may stand at."""
    for place in places.of_kind(template.at):
        for literal, names in zip(template.literals, _slots(template), strict=True):
            here: tuple[str, ...] = (place.id,)
            for step, name in zip(literal.steps, names, strict=True):
                edges = [(a, b) for a in here for b in places.walk(a, step)]
                yield from ((name, a, b) for a, b in edges)
                here = tuple({b: None for _, b in edges})
