"""A form that makes a circuit file out of a built-in one: one value after another, in short pages.

A ``Form`` is a value: each answer gives the next form. Nothing is asked twice unless one goes back,
and a value that is refused changes nothing.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches

from triage.circuit.words import page_of, part_words, tube_words
from triage.errors import BadReading
from triage.measure.koren import TubeModel
from triage.model.circuit import CircuitSpec
from triage.units import format_si, value_of

Path = tuple[str, ...]
PAGE = 8
"""Values on a page at most."""
RANGES = {
    "ohm": (0.01, 1e9), "F": (1e-12, 0.01), "V": (0.5, 3000.0), "A": (1e-4, 10.0), "Hz": (15.0, 500.0),
}  # fmt: skip
"""What a value of a circuit can be at all, SI (judgement)."""
SLIP = 30.0
"""A value this many times more or less than the built-in one may be a slip of the pen."""
KEEPS = frozenset({"", "unknown", "keep", "same", "?"})


@dataclass(frozen=True)
class Item:
    """One value: where it stands in the file, its words, its unit ('' for a name or tube type)."""

    path: Path
    says: str
    unit: str
    sort: str
    page: str


@dataclass(frozen=True)
class Form:
    """The items, the values given so far by path, and the item asked now."""

    base: CircuitSpec
    items: tuple[Item, ...]
    models: Mapping[str, TubeModel]
    values: Mapping[Path, str] = field(default_factory=dict)
    at: int = 0

    @property
    def item(self) -> Item | None:
        """The value asked now; None at the end."""
        return self.items[self.at] if self.at < len(self.items) else None

    def now(self, item: Item) -> str:
        """The value as it stands: given, or the built-in one."""
        return self.values.get(item.path) or _found(self.base, item.path)

    def answer(self, typed: str) -> tuple[Form, str]:
        """The form after an answer, and a remark ('' if there is none to make).

        Enter and 'unknown' keep the value. At the end nothing changes.

        Raises
        ------
        BadReading : the value cannot be taken; the form stands as it was.
        """
        item, typed = self.item, typed.strip()
        if item is None:
            return self, ""
        onward = replace(self, at=self.at + 1)
        if typed.lower() in KEEPS:
            return onward, ""
        if item.sort == "tube":
            value, remark = self._tube(item, typed)
        elif item.sort == "name":
            value, remark = _name(typed), ""
        elif item.sort == "words":
            value, remark = " ".join(typed.split()), ""
        else:
            value, remark = self._number(item, typed)
        return replace(onward, values={**self.values, item.path: value}), remark

    def back(self) -> Form:
        """The value before, to be given again."""
        return replace(self, at=max(0, self.at - 1))

    def page(self) -> tuple[Item, ...]:
        """The items from here on that stand on the page of the one asked now."""
        item = self.item
        if item is None:
            return ()
        return tuple(other for other in self.items[self.at :] if other.page == item.page)

    def starts_page(self) -> bool:
        """Whether the item asked now is the first of its page."""
        item = self.item
        return item is not None and (self.at == 0 or self.items[self.at - 1].page != item.page)

    def row(self) -> dict[str, object]:
        """The circuit file as plain values, in the order of the format."""
        row = self.base.model_dump(mode="json", exclude_defaults=True)
        row.pop("amplifier", None)
        for path, value in self.values.items():
            here = row
            for key in path[:-1]:
                here = here[key]
            here[path[-1]] = value
        because = f"an owner's circuit, begun from {self.base.circuit}"
        row["source"] = [{"id": "judgement", "because": because}]
        return row

    def _number(self, item: Item, typed: str) -> tuple[str, str]:
        where = f"{item.says}: nothing was changed; it is {self.now(item)} until you type another."
        try:
            value = value_of(typed, item.unit)
        except BadReading as error:
            raise BadReading(typed, f"{error.why}. {where}", self.now(item)) from None
        low, high = RANGES[item.unit]
        if not low <= value <= high:
            least, most = format_si(low, item.unit), format_si(high, item.unit)
            why = f"a value from {least} to {most} is possible here. {where}"
            raise BadReading(typed, why, self.now(item))
        before = value_of(_found(self.base, item.path), item.unit)
        text = plain(value, item.unit)
        times = max(value / before, before / value) if before > 0 else 1.0
        if times < SLIP:
            return text, ""
        return text, (
            f"{text} taken; that is {times:.0f} times {'more' if value > before else 'less'} than "
            f"{_found(self.base, item.path)}. If it is a slip: back."
        )

    def _tube(self, item: Item, typed: str) -> tuple[str, str]:
        was = self.models[_found(self.base, item.path).upper()]
        model = self.models.get(typed.upper())
        types = sorted({m.type for m in self.models.values() if m.kind == was.kind})
        if model is None:
            near = get_close_matches(typed.upper(), list(self.models), 1)
            why = f"there is no model of it, so it cannot be solved; there are {', '.join(types)}."
            raise BadReading(typed, why, near[0] if near else self.now(item))
        if model.kind != was.kind:
            why = (
                f"it is a {model.kind}, and {item.path[1]} is wired as a {was.kind}. Take one of "
                f"{', '.join(types)}, or begin from another circuit."
            )
            raise BadReading(typed, why, self.now(item))
        return typed.upper(), ""


def form_of(base: CircuitSpec, models: Mapping[str, TubeModel]) -> Form:
    """The form for an amplifier that is nearest to ``base``."""
    items = [
        Item(("circuit",), "Short name of your circuit", "", "name", "Name"),
        Item(("says",), "What it is, in one line", "", "words", "Name"),
        Item(("line", "nominal"), "Line volts it is made for", "V", "number", "Line"),
        Item(("line", "hertz"), "Line frequency", "Hz", "number", "Line"),
    ]
    for name, supply in base.supplies.items():
        half = "one half of its winding" if supply.kind == "full_wave" else "its winding"
        rows = [
            ("winding", f"{name}: volts RMS of {half}, unloaded", "V"),
            ("source", f"{name}: ohms in the path of one rectifier plate", "ohm"),
            ("reservoir", f"{name}: first capacitor", "F"),
        ]
        items += [_item(("supplies", name, key), says, unit, name) for key, says, unit in rows]
        if supply.drop is not None:
            at = supply.drop.at
            says = f"{name}: volts lost in one rectifier plate at {at}"
            items.append(_item(("supplies", name, "drop", "volts"), says, "V", name))
    for name in base.tubes:
        says = f"{name} ({tube_words(base, name)})"
        items.append(Item(("tubes", name, "type"), says, "", "tube", "Tubes"))
    by_page: dict[str, list[Item]] = {}
    for name, part in base.parts.items():
        key, unit = ("value", "F" if part.kind == "capacitor" else "ohm")
        if part.kind in ("choke", "winding"):
            key = "ohm"
        page = page_of(base, name)
        says = f"{name} {part_words(base, name)}"
        by_page.setdefault(page, []).append(Item(("parts", name, key), says, unit, "number", page))
    for page in ("Supply", *(f"Around {tube}" for tube in base.tubes)):
        items += _short(by_page.get(page, []))
    return Form(base, tuple(items), models)


def plain(value: float, unit: str) -> str:
    """A value as a circuit file has it, in plain letters: '4.7 kohm', '0.022 uF' is '22 nF'."""
    return format_si(value, unit, 6).replace("Ω", "ohm").replace("µ", "u")


def _item(path: Path, says: str, unit: str, supply: str) -> Item:
    return Item(path, says, unit, "number", f"Supply {supply}")


def _short(items: list[Item]) -> list[Item]:
    """The items of a page, parted where there are too many for one."""
    pages = -(-len(items) // PAGE)
    return [
        replace(item, page=f"{item.page}, page {i // PAGE + 1} of {pages}") if pages > 1 else item
        for i, item in enumerate(items)
    ]


def _found(base: CircuitSpec, path: Path) -> str:
    """The built-in value at a path."""
    here: object = base
    for key in path:
        here = here[key] if isinstance(here, Mapping) else getattr(here, key)
    return str(here)


def _name(typed: str) -> str:
    """A name of small letters, figures and underlines.

    Raises
    ------
    BadReading : nothing is left of it.
    """
    name = re.sub(r"[^a-z0-9]+", "_", typed.lower()).strip("_")
    if not name:
        raise BadReading(typed, "a name needs letters a to z or figures.", "my_amplifier")
    return name
