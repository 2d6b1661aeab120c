"""Schema of a circuit file: supplies, parts between nodes, tubes, and the states they are tried in."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from triage.model.base import Frozen, Source

GROUND = "chassis"
"""Name of the node that all volts are taken against."""


class Drop(Frozen):
    """Volts lost in one rectifier plate at a current, as on its sheet."""

    volts: str
    at: str


class SupplySpec(Frozen):
    """A rectifier into a reservoir.

    ``winding`` is the EMF of one half (or the whole of a bridge) in V RMS, ``source`` the resistance
    in the path of one plate. ``drop`` is left out for silicon. ``minus`` turns it round.
    """

    kind: Literal["full_wave", "bridge", "half_wave"]
    winding: str
    source: str
    reservoir: str
    node: str
    drop: Drop | None = None
    minus: bool = False
    place: str | None = None
    reservoir_place: str | None = None


class PartSpec(Frozen):
    """A part between two nodes. ``ohm`` is the resistance of a choke or winding at DC."""

    kind: Literal["resistor", "capacitor", "choke", "winding"]
    value: str | None = None
    ohm: str | None = None
    tol: str = "10 %"
    nodes: tuple[str, str]
    place: str | None = None

    @model_validator(mode="after")
    def _has_what_it_needs(self) -> PartSpec:
        if self.kind in ("resistor", "capacitor") and self.value is None:
            raise ValueError(f"a {self.kind} needs its value")
        if self.kind in ("choke", "winding") and self.ohm is None:
            raise ValueError(f"a {self.kind} needs ohm, its resistance at DC")
        if self.nodes[0] == self.nodes[1]:
            raise ValueError("both ends are on one node")
        return self


class TubeSpec(Frozen):
    """A tube section: nodes of its electrodes; a pentode has a screen, a triode none."""

    type: str
    plate: str
    grid: str
    cathode: str
    screen: str | None = None
    place: str | None = None


class OutputSpec(Frozen):
    """An output transformer and its load.

    ``windings``: primary windings among the parts, each with the sense of its turns (1 or -1; one for
    a single-ended stage, two halves for a pair). ``primary`` is the load that the whole primary shows
    with ``load`` on the secondary, both in ohms.
    """

    windings: dict[str, Literal[1, -1]] = Field(min_length=1)
    primary: str
    load: str


class CircuitSpec(Frozen):
    """Circuit file. Supplies, parts and tubes have the names of the places of the amplifier.

    ``inputs`` (node of each channel's input) and ``outputs`` are for small signals.
    """

    circuit: str
    says: str
    amplifier: str | None = None
    line: dict[str, str]
    supplies: dict[str, SupplySpec]
    parts: dict[str, PartSpec]
    tubes: dict[str, TubeSpec]
    names: dict[str, str] = Field(default_factory=dict)
    inputs: dict[str, str] = Field(default_factory=dict)
    outputs: dict[str, OutputSpec] = Field(default_factory=dict)
    source: list[Source] = Field(min_length=1)

    @property
    def minus_places(self) -> frozenset[str]:
        """Places of the supplies below the chassis."""
        return frozenset(s.place for s in self.supplies.values() if s.minus and s.place is not None)

    @model_validator(mode="after")
    def _outputs_have_their_windings(self) -> CircuitSpec:
        for name, output in self.outputs.items():
            for winding in output.windings:
                if winding not in self.parts or self.parts[winding].kind != "winding":
                    raise ValueError(f"output {name} names {winding}, which is no winding here")
        return self

    @model_validator(mode="after")
    def _named_once(self) -> CircuitSpec:
        seen: set[str] = set()
        for name in (*self.supplies, *self.parts, *self.tubes):
            if name in seen:
                raise ValueError(f"the name {name} stands twice")
            seen.add(name)
        return self
