"""From a profile to places: the named ones, and those an amplifier of its class must hold.

Nobody has to name a place: what the layout adds is anonymous and named in words ("one output tube,
left"). Kinds outside the amplifier (line, source, speaker) are always laid out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from triage.model.base import Condition
from triage.model.entries import Kind, Layout
from triage.model.places import Place, Places
from triage.model.profile import PlaceSpec, Profile

ORDINALS = ("one", "the other", "a third", "a fourth", "a fifth", "a sixth", "a seventh")


def holds(condition: Condition, facts: Mapping[str, str]) -> bool:
    """Whether profile facts satisfy a condition; an unknown fact satisfies everything."""
    for key, wanted in condition.items():
        known = facts.get(key)
        accepted = [wanted] if isinstance(wanted, str) else wanted
        if known is not None and known not in accepted:
            return False
    return True


def known_to_hold(condition: Condition, facts: Mapping[str, str]) -> bool:
    """Whether profile facts are known and satisfy a condition; what is unknown does not do."""
    return all(key in facts for key in condition) and holds(condition, facts)


def _listed(value: list[str] | str) -> list[str]:
    return [value] if isinstance(value, str) else list(value)


def channel_names(profile: Profile) -> list[str]:
    """Ids of the channels: ``left`` and ``right``, or ``mono`` (also where it is unknown)."""
    return ["left", "right"] if profile.channels == "stereo" else ["mono"]


class _Builder:
    def __init__(self, profile: Profile, kinds: Mapping[str, Kind]) -> None:
        self.profile = profile
        self.kinds = kinds
        self.places: dict[str, Place] = {}
        self.channel: dict[str, str] = {}
        self.edges: set[tuple[str, str, str]] = set()

    def add(self, place: Place, channel: str | None) -> None:
        self.places[place.id] = place
        self.edges.add(("amp", place.id, "amp"))
        if place.id != "amp":
            self.edges.add(("holds", "amp", place.id))
        if channel is not None:
            self.channel[place.id] = channel
            self.edges.add(("channel", place.id, channel))
            if place.id != channel:
                self.edges.add(("holds", channel, place.id))

    def link(self, relation: str, inverse: str | None, a: str, b: str) -> None:
        self.edges.add((relation, a, b))
        if inverse is not None:
            self.edges.add((inverse, b, a))

    def basics(self) -> None:
        self.add(Place("amp", "amp", "the amplifier"), None)
        names = channel_names(self.profile)
        for name in names:
            label = "the only channel" if name == "mono" else f"the {name} channel"
            self.add(Place(name, "channel", label), name)
        if len(names) == 2:
            self.link("other_channel", "other_channel", "left", "right")

    def named(self) -> None:
        for name, spec in self.profile.places.items():
            if name in self.places:
                continue
            given = {"type": spec.type, "value": spec.value, "make": spec.make}
            fields = tuple((key, value) for key, value in given.items() if value)
            label = spec.label or self._called(name, spec)
            channel = spec.channel or self._only_channel(spec)
            self.add(Place(name, spec.kind, label, fields=fields), channel)
        for name, spec in self.profile.places.items():
            for fed in _listed(spec.feeds):
                self.link("feeds", "fed_by", name, fed)
            for half in _listed(spec.halves):
                self.link("halves", "halves", name, half)
            if spec.mate:
                self.link("mate", "mate", name, spec.mate)
            if spec.supply:
                self.edges.add(("supply", name, spec.supply))
                self.edges.add(("holds", spec.supply, name))

    def _called(self, name: str, spec: PlaceSpec) -> str:
        kind = self.kinds[spec.kind].label if spec.kind in self.kinds else spec.kind
        fed = _listed(spec.feeds)
        if fed and fed[0] in self.profile.places:
            return f"{name}, the {kind} of {fed[0]}"
        return f"{name}, {kind}"

    def _only_channel(self, spec: PlaceSpec) -> str | None:
        names = channel_names(self.profile)
        kind = self.kinds.get(spec.kind)
        shared = kind is None or kind.outside or spec.kind in SHARED
        return names[0] if len(names) == 1 and not shared else None

    def lay(self, layout: Layout) -> None:
        kind = self.kinds[layout.kind]
        if self.profile.complete and not kind.outside:
            return
        if layout.per == "amp":
            if not any(place.kind == layout.kind for place in self.places.values()):
                for i in range(layout.count):
                    self._anonymous(layout, i, None, None)
            return
        if layout.per == "channel":
            for channel in channel_names(self.profile):
                there = [
                    place
                    for place in self.places.values()
                    if place.kind == layout.kind and self.channel.get(place.id) == channel
                ]
                if not there:
                    made = [self._anonymous(layout, i, channel, None) for i in range(layout.count)]
                    for a, b in zip(made[::2], made[1::2], strict=False):
                        self.link("mate", "mate", a, b)
            return
        for host in [place for place in self.places.values() if place.kind == layout.per]:
            fed = {a for relation, a, b in self.edges if relation == "feeds" and b == host.id}
            if not any(self.places[a].kind == layout.kind for a in fed):
                for i in range(layout.count):
                    self._anonymous(layout, i, self.channel.get(host.id), host)

    def _anonymous(self, layout: Layout, i: int, channel: str | None, host: Place | None) -> str:
        stem = f"{host.id}.{layout.kind}" if host else layout.kind
        if host is None and channel is not None and channel != "mono":
            stem = f"{channel}.{stem}"
        ident = stem if layout.count == 1 else f"{stem}.{i + 1}"
        ordinal = f"{ORDINALS[i]} " if layout.count > 1 else "the "
        name = ordinal + layout.name
        if host is not None:
            name = f"{ordinal}{layout.name} of {host.name}"
        elif channel in ("left", "right"):
            name = f"{name}, {channel}"
        self.add(Place(ident, layout.kind, name, anonymous=True), channel)
        if host is not None and layout.relation == "feeds":
            self.link("feeds", "fed_by", ident, host.id)
        return ident

    def finish(self) -> Places:
        by_kind: dict[str, list[str]] = {}
        for place in self.places.values():
            by_kind.setdefault(place.kind, []).append(place.id)
        for same in by_kind.values():
            for a in same:
                for b in same:
                    if a != b:
                        self.edges.add(("others", a, b))
            left = [name for name in same if self.channel.get(name) == "left"]
            right = [name for name in same if self.channel.get(name) == "right"]
            for a, b in zip(left, right, strict=False):
                if a != "left":
                    self.link("other_channel", "other_channel", a, b)
        return Places(dict(self.places), frozenset(self.edges))


SHARED = frozenset(
    {
        "amp",
        "line",
        "source",
        "settings",
        "meter",
        "cord",
        "mains_fuse",
        "mains_switch",
        "line_cap",
        "earth",
        "power_transformer",
        "rectifier_tube",
        "diode_rectifier",
        "reservoir",
        "filter_cap",
        "dropper",
        "choke",
        "bleeder",
        "supply_node",
        "bias_supply",
        "heater_wiring",
        "hum_balance",
        "ground",
        "decoupling_cap",
    }
)
"""Kinds that serve the whole amplifier unless the profile says which channel."""


def build_places(profile: Profile, layouts: Sequence[Layout], kinds: Mapping[str, Kind]) -> Places:
    """Places of a profile, named first, then what its class is known to hold.

    Raises
    ------
    KeyError : a layout names a kind that is not in ``kinds``.
    """
    builder = _Builder(profile, kinds)
    builder.basics()
    builder.named()
    facts = profile.facts()
    for layout in layouts:
        if holds(layout.if_, facts):
            builder.lay(layout)
    return builder.finish()
