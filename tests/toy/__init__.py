"""A small invented knowledge base: 9 causes on 5 kinds of place, 2 signs, 3 rules.

Its numbers are made up to exercise every form of the model, not to be true of amplifiers.
"""

from __future__ import annotations

from typing import Any

from triage.infer.ground import Grounded, ground
from triage.knowledge.load import Knowledge
from triage.model.entries import Cause, Finding, Kind, Procedure, Repair, Rule, Sign
from triage.model.profile import Profile

SOURCE = [{"id": "invented"}]
WEIGHTS: dict[str, float] = {
    "minute": 1,
    "money": 15,
    "live_touch": 25,
    "charged_touch": 20,
    "clip_cold": 1.5,
    "energised_step": 6,
    "risk_low": 1,
    "risk_medium": 4,
    "risk_high": 15,
    "power_up": 4,
    "make_cold": 9,
    "open_cabinet": 6,
    "hand_over": 240,
    "healthy_check": 10,
    "wrong_repair": 1,
    "wrong_all_clear": 10,
    "proof": 0,
    "part_wanted": 0.0,
    "part_from": 0.5,
    "sound_enough": 0.75,
    "sure_enough": 0.9,
    "unknown": 0.05,
    "second_fault": 0.2,
    "healthy_fault": 0.03,
    "healthy_first_power": 0.25,
    "healthy_checkup": 0.6,
}

KINDS = ["amp", "output_tube", "coupling_cap", "supply_node", "line", "channel"]

SIGNS = [
    {"id": "grid_lifted", "at": ["output_tube"], "says": "the grid is pulled up", "usual": 0.03},
    {"id": "ripple_high", "at": ["supply_node"], "says": "much ripple", "usual": 0.04},
]

FINDINGS: list[dict[str, Any]] = [
    {
        "id": "plate",
        "at": ["output_tube"],
        "answers": ["dull", "orange", "red"],
        "normal": "dull",
        "usual": {"dull": 0.9, "orange": 0.07, "red": 0.03},
        "path": "look",
        "told": "maybe",
    },
    {
        "id": "grid_volts",
        "at": ["output_tube"],
        "answers": ["negative", "near_zero", "positive"],
        "normal": "negative",
        "usual": {"negative": 0.9, "near_zero": 0.06, "positive": 0.04},
        "path": "reading",
        "shows": {"sign": "grid_lifted", "answer": "positive"},
    },
    {
        "id": "drift",
        "at": ["output_tube"],
        "answers": ["no", "yes"],
        "normal": "no",
        "usual": {"no": 0.95, "yes": 0.05},
        "path": "reading",
        "shows": {"sign": "grid_lifted", "answer": "yes"},
    },
    {
        "id": "climbs",
        "at": ["output_tube"],
        "answers": ["no", "yes"],
        "normal": "no",
        "usual": {"no": 0.95, "yes": 0.05},
        "path": "reading",
        "shows": {"sign": "grid_lifted", "answer": "yes"},
    },
    {
        "id": "hum",
        "at": ["amp"],
        "answers": ["none", "faint", "steady", "loud"],
        "normal": "none",
        "usual": {"none": 0.7, "faint": 0.15, "steady": 0.1, "loud": 0.05},
        "path": "listen",
        "told": "surely",
    },
    {
        "id": "sound",
        "at": ["amp"],
        "answers": ["good", "weak", "crackle", "silent"],
        "normal": "good",
        "usual": {"good": 0.8, "weak": 0.1, "crackle": 0.06, "silent": 0.04},
        "path": "listen",
        "told": "surely",
    },
    {
        "id": "fuse",
        "at": ["amp"],
        "answers": ["whole", "blown"],
        "normal": "whole",
        "usual": {"whole": 0.96, "blown": 0.04},
        "path": "look",
        "told": "seldom",
    },
    {
        "id": "ripple",
        "at": ["supply_node"],
        "answers": ["low", "high"],
        "normal": "low",
        "usual": {"low": 0.95, "high": 0.05},
        "path": "reading",
        "shows": {"sign": "ripple_high", "answer": "high"},
    },
    {
        "id": "cap_warm",
        "at": ["supply_node"],
        "answers": ["no", "yes"],
        "normal": "no",
        "usual": {"no": 0.9, "yes": 0.1},
        "path": "touch",
        "shows": {"sign": "ripple_high", "answer": "yes"},
    },
    {
        "id": "leak",
        "at": ["coupling_cap"],
        "answers": ["none", "some"],
        "normal": "none",
        "usual": {"none": 0.95, "some": 0.05},
        "path": "reading",
    },
]

CAUSES: list[dict[str, Any]] = [
    {
        "id": "cap_leaky",
        "at": ["coupling_cap"],
        "rate": 4,
        "repair": "new_cap",
        "makes": [
            {"of": "self.feeds", "sign": "grid_lifted", "word": "usually"},
            {"of": "self.feeds", "finding": "plate", "answer": "red", "word": "often"},
            {"of": "self.feeds", "finding": "plate", "answer": "orange", "word": "sometimes"},
            {"finding": "leak", "answer": "some", "word": "always"},
        ],
        "damages": [{"of": "self.feeds", "cause": "tube_gassy", "chance": 0.3}],
    },
    {
        "id": "tube_gassy",
        "at": ["output_tube"],
        "rate": 3,
        "repair": "new_tube",
        "makes": [
            {"sign": "grid_lifted", "word": "often"},
            {"finding": "plate", "answer": "red", "word": "sometimes"},
            {"of": "amp", "finding": "sound", "answer": "weak", "word": "sometimes"},
        ],
    },
    {
        "id": "tube_shorted",
        "at": ["output_tube"],
        "rate": 1.5,
        "repair": "new_tube",
        "makes": [
            {"finding": "plate", "answer": "red", "word": "usually"},
            {"of": "amp", "finding": "fuse", "answer": "blown", "word": "often"},
        ],
    },
    {
        "id": "tube_weak",
        "at": ["output_tube"],
        "rate": 3,
        "repair": "new_tube",
        "makes": [{"of": "amp", "finding": "sound", "answer": "weak", "word": "often"}],
        "suppresses": [{"finding": "plate", "answer": "red", "word": "never"}],
    },
    {
        "id": "socket_loose",
        "at": ["output_tube"],
        "rate": 2,
        "repair": "clean_socket",
        "comes_and_goes": 0.5,
        "makes": [
            {"of": "amp", "finding": "sound", "answer": "crackle", "word": "usually"},
            {"of": "amp", "finding": "hum", "answer": "steady", "word": "sometimes"},
            {"sign": "grid_lifted", "word": "sometimes"},
            {"finding": "plate", "answer": "orange", "word": "sometimes"},
        ],
    },
    {
        "id": "cap_dry",
        "at": ["supply_node"],
        "rate": 5,
        "repair": "new_filter",
        "makes": [
            {"of": "amp", "finding": "hum", "answer": "loud", "word": "often"},
            {"of": "amp", "finding": "hum", "answer": "steady", "word": "sometimes"},
            {"sign": "ripple_high", "word": "usually"},
        ],
    },
    {
        "id": "fuse_tired",
        "at": ["amp"],
        "rate": 1,
        "repair": "new_fuse",
        "makes": [
            {"finding": "fuse", "answer": "blown", "word": "always"},
            {"finding": "sound", "answer": "silent", "word": "always"},
        ],
        "suppresses": [
            {"finding": "hum", "answer": "loud", "word": "never"},
            {"finding": "hum", "answer": "steady", "word": "rarely"},
        ],
    },
    {
        "id": "bias_lost",
        "at": ["amp"],
        "rate": 1,
        "repair": "mend_bias",
        "makes": [
            {"of": "self.holds", "finding": "plate", "answer": "red", "word": "usually"},
            {"finding": "hum", "answer": "steady", "word": "often"},
        ],
    },
    {
        "id": "line_low",
        "at": ["line"],
        "rate": 1,
        "repair": "wait",
        "makes": [{"of": "amp", "finding": "sound", "answer": "weak", "word": "often"}],
    },
]

RULES: list[dict[str, Any]] = [
    {
        "id": "cap_heats_tube",
        "at": "coupling_cap",
        "when": [
            {"of": "self.feeds", "finding": "plate", "is": ["orange", "red"]},
            {"of": "self.feeds", "finding": "grid_volts", "is": "positive"},
        ],
        "weighs": [{"cause": "cap_leaky", "strength": "strong"}],
    },
    {
        "id": "one_of_two",
        "at": "output_tube",
        "when": [
            {"finding": "plate", "is": "red"},
            {"of": "self.mate", "finding": "plate", "is": "dull"},
        ],
        "weighs": [
            {"cause": "tube_shorted", "strength": "moderate"},
            {"of": "self.fed_by", "cause": "cap_leaky", "strength": "mild"},
            {"of": "amp", "cause": "bias_lost", "strength": "strong", "against": True},
        ],
    },
    {
        "id": "hum_and_ripple",
        "at": "supply_node",
        "when": [
            {"of": "amp", "finding": "hum", "is": ["steady", "loud"]},
            {"finding": "ripple", "is": "high"},
        ],
        "weighs": [{"cause": "cap_dry", "strength": "moderate"}],
    },
    {
        "id": "crackle_hot",
        "at": "output_tube",
        "when": [
            {"finding": "plate", "is": "orange"},
            {"of": "amp", "finding": "sound", "is": "crackle"},
        ],
        "weighs": [{"cause": "socket_loose", "strength": "moderate"}],
    },
]

REPAIRS = [
    ("new_cap", 20, 0.5),
    ("new_tube", 5, 2),
    ("clean_socket", 15, 0),
    ("new_filter", 40, 1),
    ("new_fuse", 3, 0.1),
    ("mend_bias", 60, 1),
    ("wait", 5, 0),
]

PROCEDURES: list[dict[str, Any]] = [
    {
        "id": "look_plates",
        "at": ["output_tube"],
        "yields": [{"finding": "plate"}],
        "sweep": True,
        "power": "idle",
        "minutes": {"setup": 2, "each": 1},
    },
    {
        "id": "read_grid",
        "at": ["output_tube"],
        "yields": [{"finding": "grid_volts"}],
        "power": "idle",
        "minutes": {"setup": 4, "each": 2},
    },
    {
        "id": "watch_drift",
        "at": ["output_tube"],
        "yields": [{"finding": "drift"}, {"finding": "climbs"}],
        "power": "idle",
        "minutes": {"setup": 8, "each": 2},
    },
    {
        "id": "listen_hum",
        "at": ["amp"],
        "yields": [{"finding": "hum"}],
        "power": "idle",
        "minutes": {"each": 1},
    },
    {
        "id": "listen_sound",
        "at": ["amp"],
        "yields": [{"finding": "sound"}],
        "power": "driven",
        "minutes": {"each": 2},
    },
    {
        "id": "look_fuse",
        "at": ["amp"],
        "yields": [{"finding": "fuse"}],
        "power": "unplugged",
        "minutes": {"each": 2},
    },
    {
        "id": "read_ripple",
        "at": ["supply_node"],
        "yields": [{"finding": "ripple"}, {"of": "amp", "finding": "hum"}],
        "power": "idle",
        "minutes": {"each": 8},
    },
    {
        "id": "lift_cap",
        "at": ["coupling_cap"],
        "yields": [{"finding": "leak"}],
        "power": "cold",
        "minutes": {"setup": 10, "each": 5},
    },
]


def _entries(schema: Any, rows: list[dict[str, Any]], **more: Any) -> dict[str, Any]:
    return {row["id"]: schema.model_validate({"source": SOURCE, **more, **row}) for row in rows}


def knowledge(
    *,
    causes: list[dict[str, Any]] = CAUSES,
    rules: list[dict[str, Any]] = RULES,
    findings: list[dict[str, Any]] = FINDINGS,
    procedures: list[dict[str, Any]] = PROCEDURES,
    weights: dict[str, float] = WEIGHTS,
) -> Knowledge:
    """The toy base, or one with some of its parts replaced."""
    kinds = [{"id": kind, "label": kind, "outside": kind == "line"} for kind in KINDS]
    repairs = [
        {"id": name, "minutes": minutes, "money": money, "opens": minutes > 10}
        for name, minutes, money in REPAIRS
    ]
    return Knowledge(
        kinds=_entries(Kind, kinds),
        findings=_entries(Finding, findings, asks="{place}?"),
        signs=_entries(Sign, SIGNS),
        causes=_entries(Cause, causes, says="{place} has it"),
        procedures=_entries(Procedure, procedures, title="t", why="w", steps=["do it"]),
        repairs=_entries(Repair, repairs, says="r", steps=["do it"], proof=["listen"]),
        rules=_entries(Rule, rules, says="r", why="w", tries=[{}, {}]),
        layouts={},
        profiles={},
        gates={},
        hazards={},
        plain={"weights": [{"id": key, "is": value} for key, value in weights.items()]},
        content_hash="toy",
    )


def profile() -> Profile:
    """A mono push-pull amplifier with two mated output tubes, each behind its own capacitor."""
    return Profile.model_validate(
        {
            "amplifier": "toy",
            "channels": "mono",
            "stage": "push_pull",
            "complete": True,
            "owner": {"skill": "hobbyist"},
            "places": {
                "V3": {"kind": "output_tube", "mate": "V4"},
                "V4": {"kind": "output_tube"},
                "C7": {"kind": "coupling_cap", "feeds": "V3"},
                "C8": {"kind": "coupling_cap", "feeds": "V4"},
                "B1": {"kind": "supply_node"},
                "house": {"kind": "line"},
            },
        }
    )


def toy(**parts: Any) -> Grounded:
    """The toy base grounded on the toy amplifier."""
    return ground(knowledge(**parts), profile())
