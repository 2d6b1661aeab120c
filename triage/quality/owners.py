"""Who stands at the bench in a comparison: the profile's own owner, or a technician's workshop."""

from __future__ import annotations

from triage.model.profile import Profile
from triage.quality.replay import WORKSHOP

OWNERS = ("own", "workshop")


def owned(profile: Profile, owner: str) -> Profile:
    """The same amplifier before this owner.

    ``workshop``: a technician with every tool and a second person in the room, so that probes in
    the hand are open to every order of tests.
    """
    if owner == "own":
        return profile
    workshop = {"skill": "technician", "tools": list(WORKSHOP), "second_person": "yes"}
    return profile.model_copy(update={"owner": profile.owner.model_copy(update=workshop)})
