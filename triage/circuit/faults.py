"""Faults of a circuit: every part in every way its kind can fail, as members of a batch.

Which ways there are is data (``knowledge/circuit_faults.yaml``).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from pydantic import Field

from triage.circuit.netlist import OPEN_S, Netlist
from triage.circuit.solve import Variants
from triage.circuit.supply import Curve
from triage.model.base import Frozen
from triage.units import value_of


class FaultKind(Frozen):
    """One way in which a kind of part fails; see the head of the file of faults."""

    id: str
    part: Literal["resistor", "capacitor", "choke", "winding", "tube", "supply"]
    mode: str
    says: str
    open: bool = False
    times: float | None = None
    ohm: str | None = None
    short: str | None = None
    emission: float | None = None
    gas: float | None = None
    reservoir: float | None = None
    farads: float | None = None
    rectifier: str | None = None
    volts: float | None = None
    cause: dict[str, str | list[str]] = Field(default_factory=dict)

    def causes(self, place_kind: str) -> tuple[str, ...]:
        """Causes that fail in this way at this kind of place."""
        told = self.cause.get(place_kind, [])
        return (told,) if isinstance(told, str) else tuple(told)


@dataclass(frozen=True)
class Fault:
    """A part that fails in one way. ``place`` and ``causes`` where the amplifier knows them."""

    part: str
    kind: FaultKind
    place: str | None
    causes: tuple[str, ...] = ()

    @property
    def cause(self) -> str | None:
        """The first cause that fails in this way, or None."""
        return self.causes[0] if self.causes else None

    @property
    def name(self) -> str:
        """What the fault is called: part and way, such as ``C9.capacitor_leaky_1m``."""
        return f"{self.part}.{self.kind.id}"

    @property
    def says(self) -> str:
        """The fault in words."""
        return f"{self.part} {self.kind.says}"


def kinds_of(rows: Iterable[Mapping[str, Any]]) -> tuple[FaultKind, ...]:
    """Ways of failing, out of the rows of the file."""
    return tuple(FaultKind.model_validate(row) for row in rows)


def faults_of(
    net: Netlist,
    kinds: Sequence[FaultKind],
    place_kinds: Mapping[str, str],
    *,
    signals: bool = False,
) -> tuple[Fault, ...]:
    """All single faults of a circuit, in its order.

    Parameters
    ----------
    place_kinds : kind of every place of the amplifier, for the causes; empty if it has none.
    signals : with those that no direct volt shows, such as a capacitor that is open.
    """
    spec = net.spec
    kinds = [kind for kind in kinds if signals or kind.farads is None]
    found: list[Fault] = []
    sorts: list[tuple[str, str, str | None]] = [
        (name, part.kind, part.place) for name, part in spec.parts.items()
    ]
    sorts += [(name, "tube", tube.place) for name, tube in spec.tubes.items()]
    for name, sort, place in sorts:
        for kind in kinds:
            if kind.part != sort or (kind.short and f"{name}.{kind.short}" not in net.branches):
                continue
            known = place_kinds.get(place or "", "")
            found.append(Fault(name, kind, place, kind.causes(known)))
    for name, supply in spec.supplies.items():
        for kind in kinds:
            if kind.part != "supply" or (kind.rectifier and supply.kind == kind.rectifier):
                continue
            of_reservoir = kind.mode in ("dried", "shorted")
            where = supply.reservoir_place if of_reservoir else supply.place
            causes = kind.causes(place_kinds.get(where or "", ""))
            found.append(Fault(name, kind, where, causes))
    return tuple(found)


def variants_of(net: Netlist, faults: Sequence[Fault | None]) -> Variants:
    """A batch with one member for each fault; None is the sound circuit."""
    sound = Variants.sound(net, len(faults))
    curves = [list(row) for row in sound.curves]
    for member, fault in enumerate(faults):
        if fault is None:
            continue
        kind = fault.kind
        if kind.part == "tube":
            t = next(i for i, tube in enumerate(net.tubes) if tube.name == fault.part)
            if kind.emission is not None:
                sound.emission[member, t] = kind.emission
            if kind.gas is not None:
                sound.gas[member, t] = kind.gas
            if kind.short is not None:
                at = net.branch(f"{fault.part}.{kind.short}")
                sound.siemens[member, at] = 1.0 / value_of(kind.ohm or "10 ohm", "ohm")
        elif kind.part == "supply":
            k = net.supplies.index(fault.part)
            curves[member][k] = _curve(net, fault, k)
        else:
            at = net.branch(fault.part)
            if kind.open:
                sound.siemens[member, at] = OPEN_S
            elif kind.times is not None:
                sound.siemens[member, at] *= kind.times
            elif kind.ohm is not None:
                sound.siemens[member, at] = 1.0 / value_of(kind.ohm, "ohm")
            if kind.gas is not None:
                sound.gas[member] = kind.gas
    return replace(sound, curves=[tuple(row) for row in curves])


def _curve(net: Netlist, fault: Fault, k: int) -> Curve:
    spec, kind = net.spec.supplies[fault.part], fault.kind
    if kind.volts is not None:
        whole = net.curves[k]
        share = kind.volts
        return replace(
            whole,
            volts=whole.volts * share,
            ripple=whole.ripple * share,
            slopes=whole.slopes * share,
        )
    changed: dict[str, float | str] = {}
    if kind.reservoir is not None:
        changed["reservoir"] = value_of(spec.reservoir, "F") * kind.reservoir
    if kind.rectifier is not None:
        changed["kind"] = kind.rectifier
    return Curve.of(spec, net.spec.line, **changed)
