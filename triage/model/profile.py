"""What is known of one amplifier, its owner and the job; anything may be unknown."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from triage.model.base import Frozen
from triage.model.entries import Route

Tri = Literal["yes", "no", "unknown"]


class Line(Frozen):
    """The mains: nominal volts and rate as text quantities, or unknown."""

    nominal: str = "unknown"
    hertz: int | Literal["unknown"] = "unknown"
    measured: str = "unknown"


class Owner(Frozen):
    """Who stands at the bench and what they own."""

    skill: Literal["novice", "hobbyist", "technician"] = "novice"
    tools: list[str] = Field(default_factory=list)
    second_person: Tri = "unknown"


class PlaceSpec(Frozen):
    """One named place. Relations are names of other places (a list where there are several)."""

    kind: str
    label: str | None = None
    type: str | None = None
    value: str | None = None
    make: str | None = None
    mate: str | None = None
    channel: str | None = None
    supply: str | None = None
    feeds: list[str] | str = Field(default_factory=list)
    halves: list[str] | str = Field(default_factory=list)


class Profile(Frozen):
    """Profile file.

    ``places`` are named; what an amplifier of the class must hold besides is laid out from
    ``knowledge/layouts.yaml`` as anonymous places, unless ``complete`` is true.
    """

    amplifier: str
    says: str = ""
    line: Line = Line()
    isolation: Literal["transformer", "live_chassis", "unknown"] = "unknown"
    route: Route = "fault"
    channels: Literal["mono", "stereo", "unknown"] = "unknown"
    stage: Literal["single_ended", "push_pull", "unknown"] = Field(default="unknown")
    bias: Literal["fixed", "cathode", "unknown"] = "unknown"
    rectifier: Literal["tube", "silicon", "selenium", "unknown"] = "unknown"
    rectifying: Literal["full_wave", "half_wave", "unknown"] = "unknown"
    age: Literal["under_10_years", "10_to_40_years", "over_40_years", "unknown"] = "unknown"
    history: dict[str, Tri] = Field(
        default_factory=dict,
        description="stored, recapped, retubed, reworked, dropped, ran_without_load, flooded ...",
    )
    has: dict[str, Tri] = Field(
        default_factory=dict,
        description="reverb, tremolo, feedback, choke, bias_trim, sense_resistors, standby, "
        "phono, tone_controls, balance, hum_balance, shared_envelope ...",
    )
    circuit: str | None = Field(default=None, description="a checked id in knowledge/circuits")
    max_volts: str = "unknown"
    owner: Owner = Owner()
    complete: bool = False
    places: dict[str, PlaceSpec] = Field(default_factory=dict)

    def facts(self) -> dict[str, str]:
        """Profile as flat text facts; unknown ones are left out (an unknown satisfies conditions)."""
        found = {
            "isolation": self.isolation,
            "route": self.route,
            "channels": self.channels,
            "stage": self.stage,
            "bias": self.bias,
            "rectifier": self.rectifier,
            "rectifying": self.rectifying,
            "age": self.age,
            "hertz": str(self.line.hertz),
            "skill": self.owner.skill,
        }
        found |= {f"history.{key}": value for key, value in self.history.items()}
        found |= {f"has.{key}": value for key, value in self.has.items()}
        return {key: value for key, value in found.items() if value != "unknown"}
