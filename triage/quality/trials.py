"""Circuits and profiles as a trial changes them, and the members of the solver that follow."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from triage.circuit.netlist import Netlist
from triage.circuit.solve import Variants
from triage.circuit.table import GONE
from triage.model.circuit import GROUND, CircuitSpec, PartSpec, SupplySpec, TubeSpec
from triage.model.profile import Profile
from triage.model.trial import Change, Fit, SupplyChange, Trial, TubeChange
from triage.units import value_of

ELECTRODES = ("plate", "grid", "screen", "cathode")
NO_CONTACT = "10 Gohm"
"""What a pin without contact still has to its clip (judgement)."""
ADDED = "trial "
"""How the names of added parts begin."""


def trials_of(rows: Iterable[Mapping[str, Any]]) -> tuple[Trial, ...]:
    """Trials, out of the rows of the file."""
    return tuple(Trial.model_validate(row) for row in rows)


def fitted(spec: CircuitSpec, fit: Fit) -> CircuitSpec:
    """The sound circuit of an amplifier that is built in this way."""
    spec = changed(spec, fit, ())
    supplies = dict(spec.supplies)
    first = next(iter(supplies))
    places = {"place": fit.supply_place, "reservoir_place": fit.reservoir_place}
    told = {key: place for key, place in places.items() if place is not None}
    supplies[first] = supplies[first].model_copy(update=told)
    return spec.model_copy(update={"supplies": supplies, "names": {**spec.names, **fit.names}})


def profile_with(profile: Profile, fit: Fit) -> Profile:
    """The profile of an amplifier that is built in this way; places not named are laid out."""
    update: dict[str, Any] = {"complete": False}
    for key, value in fit.profile.items():
        if key == "has":
            update["has"] = {**profile.has, **value}
        elif key == "places":
            left = {name for name, place in value.items() if place is None}
            update["places"] = {k: p for k, p in profile.places.items() if k not in left}
        else:
            update[key] = value
    return profile.model_copy(update=update)


def changed(spec: CircuitSpec, change: Change, tubes: Sequence[str], own: str = "") -> CircuitSpec:
    """A circuit with a change in it.

    Parameters
    ----------
    tubes : names of the tubes at the trial's place.
    own : the place, for the part that stands there.
    """
    parts, sockets = dict(spec.parts), dict(spec.tubes)
    for name, part in change.parts.items():
        if part is None:
            parts.pop(name, None)
        else:
            parts[name] = part
    for name, part in spec.parts.items():
        if change.own is not None and part.place == own and part.value is not None:
            unit = {"capacitor": "F", "choke": "H"}.get(part.kind, "ohm")
            value = f"{value_of(part.value, unit) * change.own:.6g} {unit}"
            parts[name] = part.model_copy(update={"value": value})
        if change.across is not None and part.place == own:
            path = {"kind": "resistor", "value": change.across, "nodes": part.nodes}
            parts[f"{ADDED}{name}"] = PartSpec.model_validate(path)
        if change.windings is not None and part.kind == "winding" and part.ohm is not None:
            ohm = f"{value_of(part.ohm, 'ohm') * change.windings:.6g} ohm"
            parts[name] = part.model_copy(update={"ohm": ohm})
        if part.kind in change.opens:
            parts[name] = part.model_copy(update={"ohm": NO_CONTACT})
    for name, one in _by_tube(spec, change, tubes):
        _tube(spec, name, one, parts, sockets)
    supplies = dict(spec.supplies)
    for name, supply in spec.supplies.items():
        of = change.minus if supply.minus else change.main
        if of is not None:
            supplies[name] = _supply(supply, of)
    return spec.model_copy(update={"parts": parts, "tubes": sockets, "supplies": supplies})


def _by_tube(
    spec: CircuitSpec, change: Change, tubes: Sequence[str]
) -> list[tuple[str, TubeChange]]:
    """Every tube that changes, and how."""
    output = [name for name, tube in spec.tubes.items() if tube.screen is not None]
    groups = ((change.tube, tubes), (change.output, output), (change.every, list(spec.tubes)))
    return [(name, one) for one, names in groups if one is not None for name in names]


def _tube(
    spec: CircuitSpec,
    name: str,
    change: TubeChange,
    parts: dict[str, PartSpec],
    tubes: dict[str, TubeSpec],
) -> None:
    """One tube as changed, with what is added to the parts; in place."""
    tube = tubes[name]
    update: dict[str, Any] = {}
    if tube.type in change.type:
        update["type"] = change.type[tube.type]
    for electrode, where in change.to.items():
        if getattr(tube, electrode) is not None:
            update[electrode] = _node(spec, tube, where)
    if change.open is not None and getattr(tube, change.open) is not None:
        update[change.open] = f"{name} {change.open}"
        lead = {"kind": "resistor", "value": NO_CONTACT,
                "nodes": (getattr(tube, change.open), update[change.open])}  # fmt: skip
        parts[f"{ADDED}{name} {change.open}"] = PartSpec.model_validate(lead)
    for k, leak in enumerate(change.leaks):
        ends = (_node(spec, tube, leak.from_), _node(spec, tube, leak.to))
        if ends[0] != ends[1]:
            path = {"kind": "resistor", "value": leak.ohm, "nodes": ends}
            parts[f"{ADDED}{name} leak {k}"] = PartSpec.model_validate(path)
    tubes[name] = tube.model_copy(update=update)


def _node(spec: CircuitSpec, tube: TubeSpec, where: str) -> str:
    """A node by an electrode of a tube, 'supply' for the main one, or by its own name."""
    if where in ELECTRODES:
        found: str | None = getattr(tube, where)
        return found if found is not None else GROUND
    return next(iter(spec.supplies.values())).node if where == "supply" else where


def _supply(supply: SupplySpec, change: SupplyChange) -> SupplySpec:
    update: dict[str, Any] = {}
    if change.ohm != 1.0:
        update["source"] = f"{value_of(supply.source, 'ohm') * change.ohm:.6g} ohm"
    if change.reservoir != 1.0:
        update["reservoir"] = f"{value_of(supply.reservoir, 'F') * change.reservoir:.6g} F"
    if change.kind is not None:
        update["kind"] = change.kind
    if change.winding is not None:
        update["winding"] = change.winding
    if change.silicon:
        update["drop"] = None
    return supply.model_copy(update=update)


def member(net: Netlist, change: Change, tubes: Sequence[str]) -> Variants:
    """The one member of a changed circuit: its line, supplies' shares, and tubes' states."""
    found = Variants.sound(net)
    found.line[:] = change.line
    for name, one in _by_tube(net.spec, change, tubes):
        at = [tube.name for tube in net.tubes].index(name)
        if one.emission is not None:
            found.emission[0, at] = max(one.emission, GONE)
        if one.gas is not None:
            found.gas[0, at] = one.gas
    curves = list(found.curves[0])
    for k, supply in enumerate(net.spec.supplies.values()):
        of = change.minus if supply.minus else change.main
        if of is not None and of.volts is not None:
            c = curves[k]
            curves[k] = replace(
                c, volts=c.volts * of.volts, ripple=c.ripple * of.volts, slopes=c.slopes * of.volts
            )
    return replace(found, curves=[tuple(curves)])
