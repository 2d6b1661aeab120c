"""Proofs as they are assumed where nobody stands at a bench: the good case of every gate.

An order of steps drawn before the work takes each gate for passed at its place. What is written
here never reaches a job's record: there a gate opens on what a person reads.
"""

from __future__ import annotations

from collections.abc import Mapping

from triage.job.view import View
from triage.safety.facts import AmpFacts

DEAD = "0.3 V"
GOOD: Mapping[str, Mapping[str, str]] = {
    "G2": {"known": "9 V", "before": "9 V", "after": "9 V"},
    "G3": {
        "by": "own_transformer",
        "line_to_neutral": "8 ohm",
        "line_to_chassis": "20 Mohm",
        "neutral_to_chassis": "20 Mohm",
        "in_to_out": "50 Mohm",
        "out_to_earth": "50 Mohm",
    },
    "G4": {"cord": "sound", "fuse": "as_marked"},
    "G5": {"class": "earthed", "earth_ohm": "0.1 ohm", "outlet": "earth_proven"},
    "G6": {"line_cap": "none_found"},
    "G7": {"ohms": "120 kohm", "bleeder": "none"},
    "G8": {"load_ohm": "6 ohm", "marked_ohm": "8 ohm"},
    "G9": {"lamp": "dim", "plates": "dark", "minutes": "3"},
    "G10": {
        "pin_v": "-45 V",
        "steady": "when_wiggled",
        "cathode_ohm": "180 ohm",
        "return_ohm": "90 kohm",
        "sheet_limit_ohm": "100 kohm",
        "leak": "none",
    },
    "G11": {
        "b_plus_point": "reservoir plus",
        "ground_point": "chassis lug",
        "one_hand": "in_pocket",
        "adult": "yes",
    },
    "G14": {"trip": "tested"},
    "G16": {"clip": "off", "tools": "out", "tubes": "seated", "loose": "nothing"},
}


def assumed_fields(shown: View, facts: AmpFacts) -> dict[str, str]:
    """Fields of an act as they are where nothing is wrong with the amplifier's safety."""
    if shown.act != "gate":
        return {name: DEAD for name, _ in shown.fields}
    if shown.ident == "G12":
        rated = max(1000.0, 1.3 * (facts.max_v or 0.0))
        return {"rated_v": f"{rated:.0f} V", "leads": "whole"}
    if shown.ident == "G3" and facts.isolation == "live_chassis":
        return {**GOOD["G3"], "by": "isolation_transformer"}
    return dict(GOOD.get(shown.ident, {}))
