"""What a step does to a person and an amplifier, and what is known of both."""

from __future__ import annotations

from dataclasses import dataclass

from triage.errors import BadReading
from triage.model.entries import Procedure, Repair
from triage.model.profile import Profile
from triage.units import value_of

ENERGISED = frozenset(
    {"plugged", "standby", "limited_bare", "limited", "idle", "driven", "external"}
)


@dataclass(frozen=True)
class AmpFacts:
    """Known of the amplifier and its owner; unknown is always the dangerous case.

    ``nodes``: capacitors that must each be proven dead. ``max_v``: highest volts expected, or None.
    """

    isolation: str = "unknown"
    bias: str = "unknown"
    max_v: float | None = None
    skill: str = "novice"
    second_person: bool = False
    tools: frozenset[str] = frozenset()
    nodes: tuple[str, ...] = ("reservoir",)

    @classmethod
    def of(cls, profile: Profile, nodes: tuple[str, ...]) -> AmpFacts:
        """Facts of a profile; ``nodes`` are the names of its capacitors."""
        return cls(
            isolation=profile.isolation,
            bias=profile.bias,
            max_v=_volts(profile.max_volts),
            skill=profile.owner.skill,
            second_person=profile.owner.second_person == "yes",
            tools=frozenset(profile.owner.tools),
            nodes=nodes or ("reservoir",),
        )


@dataclass(frozen=True)
class StepFacts:
    """A step as safety sees it."""

    ident: str
    power: str
    inside: bool
    live: bool = False
    clips: bool = False
    probes: str = "none"
    fits_output_tubes: bool = False
    needs: tuple[str, ...] = ()
    proves: tuple[str, ...] = ()
    technician: bool = False

    @property
    def energised(self) -> bool:
        """Whether any source is connected while the step is done."""
        return self.power in ENERGISED

    @classmethod
    def of(cls, entry: Procedure | Repair) -> StepFacts:
        """From a knowledge entry. What it leaves open is read as the stricter case."""
        if isinstance(entry, Repair):
            return cls(
                ident=entry.id,
                power="cold" if entry.opens else "unplugged",
                inside=entry.opens,
                fits_output_tubes=entry.fits_output_tubes,
            )
        hands = entry.hands
        inside = entry.opens or hands.live > 0 or hands.charged > 0 or hands.clip_cold > 0
        power: str = entry.power
        if power == "any":
            power = "cold" if inside else "any"
        if power == "unplugged" and inside and "G1" not in entry.proves:
            power = "cold"
        return cls(
            ident=entry.id,
            power=power,
            inside=inside,
            live=hands.live > 0,
            clips=hands.clip_cold > 0 and power in ENERGISED,
            probes=entry.probes,
            fits_output_tubes=entry.fits_output_tubes,
            needs=tuple(entry.needs),
            proves=tuple(entry.proves),
            technician=entry.skill == "technician",
        )


def _volts(text: str) -> float | None:
    try:
        return value_of(text, "V")
    except BadReading:
        return None
