"""Schema of a trial: a cause that is no part's fault, put into circuits to see what it reads.

Trials are for the physics check alone; what a part can do by itself stands in ``circuit_faults``.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from triage.model.base import Frozen, Source
from triage.model.circuit import PartSpec

Electrode = Literal["plate", "grid", "screen", "cathode"]


class SupplyChange(Frozen):
    """What becomes of a supply. ``volts`` is a share of its whole curve, the others of its file.

    ``ohm`` and ``reservoir`` are times what the file has; ``silicon`` takes away a tube's drop.
    """

    volts: float | None = None
    ohm: float = 1.0
    reservoir: float = 1.0
    kind: Literal["full_wave", "half_wave"] | None = None
    winding: str | None = None
    silicon: bool = False


class Leak(Frozen):
    """A path between an electrode and another one, a node of the circuit, or the main supply."""

    from_: str = Field(alias="from")
    to: str
    ohm: str


class TubeChange(Frozen):
    """What becomes of a tube: ``open`` is a pin without contact, ``to`` a pin wired elsewhere.

    ``type``: what is put in, by the type that belongs there.
    """

    emission: float | None = None
    gas: float | None = None
    open: Electrode | None = None
    to: dict[Electrode, str] = Field(default_factory=dict)
    leaks: list[Leak] = Field(default_factory=list)
    type: dict[str, str] = Field(default_factory=dict)


class Hum(Frozen):
    """Alternating volts of the mains' rate that reach the grids of input stages.

    ``through``: the capacity on their way; without it they stand in the ground of the stage.
    """

    volts: str
    through: str | None = None


class Change(Frozen):
    """Changes of a circuit. ``tube`` is the one at the trial's place (or fed by it).

    ``output``: all output tubes; ``every``: all tubes. ``own``: times the value of the part at the
    place; ``across``: resistance that lies across it; ``windings``: times the resistance of all
    primaries. ``line``: share of nominal volts. ``parts``: as in a circuit file, null for one that is
    taken out. ``drive``: swing of the output grids as a share of their bias. ``meter``: resistance of
    a meter on the point that is read; ``reads``: times what is there.
    """

    line: float = 1.0
    main: SupplyChange | None = None
    minus: SupplyChange | None = None
    tube: TubeChange | None = None
    output: TubeChange | None = None
    every: TubeChange | None = None
    own: float | None = None
    across: str | None = None
    windings: float | None = None
    opens: list[Literal["choke", "winding"]] = Field(default_factory=list)
    parts: dict[str, PartSpec | None] = Field(default_factory=dict)
    hum: Hum | None = None
    drive: float | None = None
    meter: str | None = None
    reads: float = 1.0


class Fit(Change):
    """How an amplifier is built that has the part at all, sound.

    ``wipers``: node of each control by its place; ``bare``: node read at a board;
    ``speaker``: node of the speaker's terminals; ``names``: nodes by the place of their volts;
    ``profile``: what its profile says instead, null for a place it does not have.
    """

    wipers: dict[str, str] = Field(default_factory=dict)
    bare: dict[str, str] = Field(default_factory=dict)
    speaker: dict[str, str] = Field(default_factory=dict)
    names: dict[str, str] = Field(default_factory=dict)
    reservoir_place: str | None = None
    supply_place: str | None = None
    profile: dict[str, Any] = Field(default_factory=dict)


class Trial(Frozen):
    """One way in which causes come about, and the circuits it is tried in (all if none is named).

    ``then``: how it stands later (warmer, or driven); trends are read between the two.
    """

    id: str
    cause: list[str] = Field(min_length=1)
    says: str
    circuits: list[str] = Field(default_factory=list)
    fit: Fit | None = None
    fault: Change = Change()
    then: Change | None = None
    source: list[Source] = Field(min_length=1)
