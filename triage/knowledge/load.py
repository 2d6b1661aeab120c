"""Load the knowledge files: line-numbered, closed keys, all problems in one run, cached as JSON."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml
from pydantic import BaseModel, ValidationError

from triage.errors import KnowledgeError, Problem
from triage.model.circuit import CircuitSpec
from triage.model.entries import (
    Cause,
    Finding,
    Kind,
    Layout,
    Part,
    Procedure,
    Repair,
    Rule,
    Sign,
)
from triage.model.gates import GateText, HazardText
from triage.model.profile import Profile

FORMAT = "1"
FOLDERS: dict[str, type[BaseModel]] = {
    "kinds": Kind,
    "parts": Part,
    "findings": Finding,
    "signs": Sign,
    "causes": Cause,
    "procedures": Procedure,
    "repairs": Repair,
    "rules": Rule,
    "layouts": Layout,
    "gates": GateText,
    "hazards": HazardText,
}
WHOLE: dict[str, tuple[str, str, type[BaseModel]]] = {
    "amplifiers": ("amplifier", "profiles", Profile),
    "circuits": ("circuit", "circuits", CircuitSpec),
}
"""Folders with one entry a file: the key of its name, where it is kept, its schema."""
PLAIN = (
    "sources",
    "weights",
    "words",
    "meters",
    "tubes",
    "models",
    "questions",
    "routes",
    "already",
    "circuit_faults",
    "circuit_trials",
)


@dataclass(frozen=True)
class Knowledge:
    """Everything the files say, by id, and where each entry stands."""

    kinds: dict[str, Kind]
    findings: dict[str, Finding]
    signs: dict[str, Sign]
    causes: dict[str, Cause]
    procedures: dict[str, Procedure]
    repairs: dict[str, Repair]
    rules: dict[str, Rule]
    layouts: dict[str, Layout]
    gates: dict[str, GateText]
    hazards: dict[str, HazardText]
    profiles: dict[str, Profile]
    plain: dict[str, list[dict[str, Any]]]
    content_hash: str
    where: dict[tuple[str, str], tuple[str, int]] = field(default_factory=dict, compare=False)
    circuits: dict[str, CircuitSpec] = field(default_factory=dict)
    parts: dict[str, Part] = field(default_factory=dict)

    def kind_of(self, name: str) -> str:
        """The kind of place of a part as a technician names it; any other name is left as it is."""
        return self.parts[name].under if name in self.parts else name

    def weights(self) -> dict[str, float]:
        """Exchange rates of the planner, from ``weights.yaml``."""
        return {row["id"]: float(row["is"]) for row in self.plain["weights"]}


class Lines:
    """A composed YAML document: its plain value, and the line of every path in it."""

    def __init__(self, file: str, text: str) -> None:
        self.file = file
        self.lines: dict[tuple[str | int, ...], int] = {}
        self.problems: list[Problem] = []
        loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)(text)
        try:
            node = loader.get_single_node()
            self.value = self._plain(node, (), loader) if node is not None else []
        finally:
            loader.dispose()

    def _plain(self, node: Any, path: tuple[str | int, ...], loader: Any) -> Any:
        self.lines[path] = node.start_mark.line + 1
        if isinstance(node, yaml.MappingNode):
            found: dict[str, Any] = {}
            for key_node, value_node in node.value:
                key = str(key_node.value)
                if key in found:
                    self.problems.append(
                        Problem(
                            self.file,
                            key_node.start_mark.line + 1,
                            f"key '{key}' stands twice",
                            mend="keep one of them.",
                        )
                    )
                found[key] = self._plain(value_node, (*path, key), loader)
            return found
        if isinstance(node, yaml.SequenceNode):
            return [self._plain(item, (*path, i), loader) for i, item in enumerate(node.value)]
        return loader.construct_object(node)

    def line(self, path: tuple[str | int, ...]) -> int:
        """Line of a path in the document, or of the nearest part of it that stands there."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)


def _texts(root: Path) -> dict[str, str]:
    found: dict[str, str] = {}
    for path in sorted(root.rglob("*.yaml")):
        found[path.relative_to(root).as_posix()] = path.read_text(encoding="utf-8")
    return found


def _hash(texts: Mapping[str, str]) -> str:
    digest = hashlib.sha256(FORMAT.encode())
    for name, text in texts.items():
        digest.update(name.encode() + b"\0" + text.encode() + b"\0")
    return digest.hexdigest()


def _folder(name: str) -> str:
    return name.split("/")[0].removesuffix(".yaml")


Raw = dict[str, list[tuple[dict[str, Any], str, int]]]


def _read(texts: Mapping[str, str], root: str) -> tuple[Raw, list[Problem], dict[str, Lines]]:
    raw: Raw = {}
    problems: list[Problem] = []
    documents: dict[str, Lines] = {}
    for name, text in texts.items():
        shown = f"{root}/{name}"
        try:
            lines = Lines(shown, text)
        except yaml.YAMLError as error:
            mark = getattr(error, "problem_mark", None)
            what = str(getattr(error, "problem", None) or error)
            line = mark.line + 1 if mark else 1
            problems.append(Problem(shown, line, f"not readable as YAML: {what}"))
            continue
        problems += lines.problems
        documents[shown] = lines
        rows = lines.value if isinstance(lines.value, list) else [lines.value]
        for i, row in enumerate(rows):
            line = lines.line((i,)) if isinstance(lines.value, list) else 1
            if not isinstance(row, dict):
                problems.append(Problem(shown, line, "an entry must be a mapping of keys"))
                continue
            raw.setdefault(_folder(name), []).append((row, shown, line))
    return raw, problems, documents


def explain(
    error: ValidationError,
    file: str,
    lines: Lines | None,
    prefix: tuple[str | int, ...],
    line: int,
    entry: str,
) -> Iterator[Problem]:
    """Pydantic's complaints as problems with file and line."""
    for item in error.errors():
        path = prefix + tuple(item["loc"])
        at = lines.line(path) if lines is not None else line
        where = ".".join(str(step) for step in item["loc"])
        mend = (
            "remove the key, or correct its spelling." if item["type"] == "extra_forbidden" else ""
        )
        yield Problem(file, at, f"{entry}: {where}: {item['msg']}", mend=mend)


def _build(raw: Raw, problems: list[Problem], documents: Mapping[str, Lines]) -> dict[str, Any]:
    built: dict[str, Any] = {folder: {} for folder in FOLDERS}
    built["where"] = {}
    for folder, schema in FOLDERS.items():
        for row, file, line in raw.get(folder, []):
            ident = str(row.get("id", "?"))
            try:
                entry = schema.model_validate(row)
            except ValidationError as error:
                lines = documents.get(file)
                index = _index(lines, line)
                problems += explain(error, file, lines, index, line, ident)
                continue
            if ident in built[folder]:
                first = built["where"][(folder, ident)]
                problems.append(
                    Problem(
                        file,
                        line,
                        f"id '{ident}' stands twice",
                        f"first at {first[0]}:{first[1]}",
                        "ids are never reused: choose another.",
                    )
                )
            built[folder][ident] = entry
            built["where"][(folder, ident)] = (file, line)
    for folder, (name, kept, whole) in WHOLE.items():
        built[kept] = {}
        for row, file, line in raw.get(folder, []):
            ident = str(row.get(name, "?"))
            try:
                built[kept][ident] = whole.model_validate(row)
            except ValidationError as error:
                problems += explain(error, file, documents.get(file), (), line, ident)
                continue
            built["where"][(folder, ident)] = (file, line)
    return built


def _index(lines: Lines | None, line: int) -> tuple[str | int, ...]:
    if lines is None:
        return ()
    for path, at in lines.lines.items():
        if len(path) == 1 and at == line:
            return path
    return ()


def load(root: Path, *, cache: Path | None = None) -> Knowledge:
    """Read all knowledge under ``root``.

    Parameters
    ----------
    root : folder with ``kinds.yaml``, ``findings/`` and the rest.
    cache : folder for the JSON cache, keyed by content; None reads the YAML each time.

    Raises
    ------
    KnowledgeError : with every problem found, sorted by file and line.
    """
    if not root.is_dir():
        raise KnowledgeError([Problem(str(root), 1, "no such folder of knowledge")])
    texts = _texts(root)
    content = _hash(texts)
    problems: list[Problem] = []
    documents: dict[str, Lines] = {}
    kept = cache / f"knowledge-{content[:32]}.json" if cache is not None else None
    raw = _cached(kept)
    fresh = raw is None
    if raw is None:
        raw, problems, documents = _read(texts, root.name)
    built = _build(raw, problems, documents)
    if problems and not fresh:
        raw, problems, documents = _read(texts, root.name)
        built = _build(raw, problems, documents)
    if problems:
        raise KnowledgeError(problems)
    if fresh and kept is not None:
        _keep(kept, raw)
    plain = {name: [row for row, _, _ in raw.get(name, [])] for name in PLAIN}
    for name in PLAIN:
        for row, file, line in raw.get(name, []):
            built["where"][(name, str(row.get("id", "?")))] = (file, line)
    return Knowledge(**built, plain=plain, content_hash=content[:12])


def read_circuit(path: Path) -> CircuitSpec:
    """A user's own circuit file, checked like the built-in ones.

    Raises
    ------
    KnowledgeError : it cannot be read or is not right; with line numbers.
    """
    text = path.read_text(encoding="utf-8")
    lines = Lines(str(path), text)
    row = lines.value
    if lines.problems or not isinstance(row, dict):
        what = "a circuit file is one entry: circuit, says, line, supplies, parts, tubes"
        raise KnowledgeError(lines.problems or [Problem(str(path), 1, what)])
    try:
        return CircuitSpec.model_validate(row)
    except ValidationError as error:
        name = str(row.get("circuit", "?"))
        raise KnowledgeError(list(explain(error, str(path), lines, (), 1, name))) from None


def _cached(kept: Path | None) -> Raw | None:
    if kept is None or not kept.is_file():
        return None
    try:
        found = json.loads(kept.read_text(encoding="utf-8"))
        return {
            folder: [(row, file, line) for row, file, line in rows]
            for folder, rows in found.items()
        }
    except (ValueError, TypeError, AttributeError):
        return None


def _keep(kept: Path, raw: Raw) -> None:
    try:
        kept.parent.mkdir(parents=True, exist_ok=True)
        part = kept.with_suffix(f".{os.getpid()}.part")
        part.write_text(json.dumps(raw, ensure_ascii=False), encoding="utf-8")
        part.replace(kept)
    except OSError:
        return
