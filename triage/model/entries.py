"""Schemas of the knowledge files. One class a kind of entry; the words are those of DEVELOPERS.md."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from triage.model.base import Condition, Entry, Frozen

Word = Literal["always", "usually", "often", "sometimes", "rarely", "never"]
MAKES: dict[str, float] = {"always": 0.98, "usually": 0.85, "often": 0.6, "sometimes": 0.3}
SUPPRESSES: dict[str, float] = {"rarely": 0.08, "never": 0.005}
TOLD: dict[str, float] = {"surely": 0.9, "maybe": 0.5, "seldom": 0.1, "never": 0.0}
NOTICED: dict[str, float] = {"usually": 0.9, "often": 0.6, "sometimes": 0.3, "rarely": 0.08}
Strength = Literal["mild", "moderate", "strong", "decisive"]
STRENGTHS: dict[str, float] = {"mild": 2.0, "moderate": 5.0, "strong": 15.0, "decisive": 100.0}
Route = Literal["fault", "first_power", "checkup"]
PathKind = Literal[
    "story",
    "look",
    "listen",
    "rate_by_ear",
    "smell",
    "touch",
    "swap",
    "reading",
    "tester",
    "replace",
    "act",
]
Power = Literal[
    "any",
    "unplugged",
    "cold",
    "plugged",
    "standby",
    "limited_bare",
    "limited",
    "idle",
    "driven",
    "external",
]


class Kind(Entry):
    """A kind of place: amplifier, channel, tube socket, part, supply node, or something outside."""

    label: str
    outside: bool = False
    tube: bool = False


class Part(Entry):
    """A part as a technician names it; ``under``: the kind of place it falls under."""

    under: str
    label: str
    why: str


class Takes(Frozen):
    """How a number becomes an answer: the quantity read and the judge (a name in ``measure``)."""

    reading: str
    judge: str
    settings: dict[str, str | float] = Field(default_factory=dict)


class FindingRef(Frozen):
    """A finding at a place reached from ``self`` by at most two relations."""

    of: str = "self"
    finding: str
    is_: list[str] | str = Field(alias="is")

    @property
    def answers(self) -> tuple[str, ...]:
        """Accepted answers, always a tuple."""
        return (self.is_,) if isinstance(self.is_, str) else tuple(self.is_)


class Shows(Frozen):
    """The hidden sign this finding looks at: P(answer | sign is there) = faithful."""

    sign: str
    of: str = "self"
    answer: str
    faithful: float = Field(default=0.95, gt=0.0, lt=1.0)


class Finding(Entry):
    """What one can come to know at a place; answers ordered, the normal one named."""

    at: list[str]
    asks: str
    help: str = ""
    answers: list[str] = Field(min_length=2)
    says: dict[str, str] = Field(default_factory=dict)
    normal: str
    usual: dict[str, float]
    path: PathKind
    takes: Takes | None = None
    under: dict[str, str] = Field(default_factory=dict)
    applies_when: list[FindingRef] = Field(default_factory=list)
    shows: Shows | None = None
    told: Literal["surely", "maybe", "seldom", "never"] = "never"
    if_: Condition = Field(default_factory=dict, alias="if")
    derived: bool = False
    tries: list[Try] = Field(default_factory=list)


class Sign(Entry):
    """Hidden yes/no state which several findings look at; keeps one thing from counting three times."""

    at: list[str]
    says: str
    usual: float = Field(gt=0.0, lt=1.0)


class Makes(Frozen):
    """A likelihood word: what the cause itself makes (or suppresses) at a related place."""

    of: str = "self"
    finding: str | None = None
    sign: str | None = None
    answer: str = "yes"
    word: Word
    if_: Condition = Field(default_factory=dict, alias="if")


class CauseRef(Frozen):
    """Another cause at a related place, with the chance that it follows (or precedes)."""

    of: str = "self"
    cause: str
    chance: float = Field(default=0.3, gt=0.0, le=1.0)


class More(Frozen):
    """Prior multiplier where the profile (or a field of the place) says so."""

    if_: Condition = Field(alias="if")
    times: float = Field(gt=0.0)


class Cause(Entry):
    """A failure at a kind of place."""

    at: list[str]
    says: str
    why: str = ""
    rate: float = Field(gt=0.0, description="relative share of bench jobs per place, trade scale")
    noticed: dict[Route, Literal["usually", "often", "sometimes", "rarely"]] = Field(
        default_factory=dict
    )
    if_: Condition = Field(default_factory=dict, alias="if")
    more_when: list[More] = Field(default_factory=list)
    comes_and_goes: float = Field(default=0.0, ge=0.0, le=1.0)
    makes: list[Makes] = Field(default_factory=list)
    suppresses: list[Makes] = Field(default_factory=list)
    damages: list[CauseRef] = Field(default_factory=list)
    brought_on_by: list[CauseRef] = Field(default_factory=list)
    repair: str
    tries: list[Try] = Field(default_factory=list)


class Hands(Frozen):
    """Touches counted: clipped on while cold, live (contact while energised), charged."""

    clip_cold: int = 0
    live: int = 0
    charged: int = 0


class Tools(Frozen):
    """Tools that are needed; each inner list of ``or_`` is an alternative set."""

    need: list[str] = Field(default_factory=list)
    or_: list[list[str]] = Field(default_factory=list, alias="or")


class Minutes(Frozen):
    """Minutes to set up, and per place."""

    setup: float = 0.0
    each: float = 1.0


class Yields(Frozen):
    """A finding which the procedure answers, at a related place."""

    finding: str
    of: str = "self"


class Schools(Frozen):
    """A practice on which people of the trade differ: both sides, and what harms nobody."""

    on: str
    one: str
    other: str
    safe: str

    @property
    def told(self) -> str:
        """One line a person reads."""
        return f"Two schools on {self.on}: {self.one}; or {self.other}. Safe: {self.safe}."


class Procedure(Entry):
    """Looking, listening, swapping, measuring: what it takes, what it needs, what it yields."""

    at: list[str]
    title: str
    why: str
    yields: list[Yields] = Field(default_factory=list)
    proves: list[str] = Field(default_factory=list, description="gate ids that its passing proves")
    sweep: bool = False
    power: Power
    opens: bool = Field(default=False, description="cabinet open, hands or probes inside")
    hands: Hands = Hands()
    tools: Tools = Tools()
    minutes: Minutes = Minutes()
    money: float = Field(default=0.0, ge=0.0)
    risk: list[str] = Field(default_factory=list)
    needs: list[str] = Field(default_factory=list, description="further gate ids")
    fits_output_tubes: bool = False
    probes: Literal["none", "low", "b_plus", "output_grid", "output_plate"] = "none"
    leaves: dict[str, str] = Field(default_factory=dict)
    skill: Literal["novice", "hobbyist", "technician"] = "novice"
    cannot: float = Field(default=0.1, ge=0.0, lt=1.0)
    steps: list[str] = Field(min_length=1)
    good: str = ""
    bad: str = ""
    mistakes: list[str] = Field(default_factory=list)
    cautions: list[str] = Field(default_factory=list)
    schools: list[Schools] = Field(default_factory=list)
    if_: Condition = Field(default_factory=dict, alias="if")
    only_if: Condition = Field(
        default_factory=dict, description="must be known to hold: what is unknown does not do"
    )
    tries: list[Try] = Field(default_factory=list)


class Repair(Entry):
    """What is done about a cause, what it costs, and what proves it."""

    says: str
    steps: list[str] = Field(min_length=1)
    parts: list[str] = Field(default_factory=list)
    minutes: float = Field(ge=0.0)
    money: float = Field(ge=0.0, description="units of one small tube")
    opens: bool = True
    proof: list[str] = Field(min_length=1)
    before_new_part: list[str] = Field(
        default_factory=list, description="procedures that come first"
    )
    cautions: list[str] = Field(default_factory=list)
    schools: list[Schools] = Field(default_factory=list)
    hand_over: bool = False
    fits_output_tubes: bool = False


class Weighs(Frozen):
    """A cause that the rule strengthens, or (``against``) weakens."""

    of: str = "self"
    cause: str
    strength: Strength
    against: bool = False


class Derives(Frozen):
    """A finding that the rule derives."""

    of: str = "self"
    finding: str
    answer: str


class Try(Frozen):
    """An example that runs: facts in the form 'V3 plate_colour red', and what must come of them."""

    facts: list[str] = Field(default_factory=list)
    fires_at: list[str] | None = None
    raises: str | None = Field(default=None, description="cause whose probability must rise")
    lowers: str | None = None
    at: str | None = None
    reading: str | None = None
    answer: str | None = None
    profile: str = "linden_hall"
    before: list[str] = Field(default_factory=list)


class Rule(Entry):
    """A symptom-to-cause statement over two or more findings, perhaps at related places."""

    at: str
    says: str
    when: list[FindingRef] = Field(min_length=1)
    weighs: list[Weighs] = Field(default_factory=list)
    derives: list[Derives] = Field(default_factory=list)
    hazard: str | None = None
    first: str | None = Field(default=None, description="procedure id put first")
    why: str
    fooled_by: str = ""
    if_: Condition = Field(default_factory=dict, alias="if")
    tries: list[Try] = Field(min_length=2)


class Layout(Entry):
    """Places that an amplifier of a class is known to hold when nobody names them."""

    kind: str
    name: str
    per: str = Field(default="amp", description="amp, channel, or a kind already laid out")
    count: int = 1
    relation: Literal["feeds", "none"] = "none"
    if_: Condition = Field(default_factory=dict, alias="if")


Finding.model_rebuild()
Cause.model_rebuild()
Procedure.model_rebuild()
