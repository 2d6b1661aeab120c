"""What every form of an order of steps says in the same words."""

from __future__ import annotations

from collections.abc import Sequence

from triage.job.cards import Card
from triage.job.tree import Head, OrderTree
from triage.safety.facts import ENERGISED

TITLE = "Order of steps"
CAUTIONS = (
    "Local codes and licensed practice come first. If you have not been taught to work on such "
    "equipment, let someone do it who has.",
    "Voltages in it kill, also after it is unplugged: nothing inside is touched before every "
    "capacitor has been read below 10 V with a meter proven just before.",
    "What stands under 'before' is done and proven in that order, each by a reading or a named "
    "observation. What is not met ends the way: stop, and hand it over.",
    "Smoke, fire, a tingle, a red plate, arcing: cut power at the wall first, then think.",
)
READING = (
    "Each step has answers with their chance; follow the one you found. Chances rest on trade "
    "figures, not on your amplifier. 'otherwise', 'unknown' or 'cannot': go on in a session.",
    "This sheet takes every gate for passed at its place. It clears nothing by itself.",
)
POWER = {
    "cold": "unplugged, proven dead",
    "unplugged": "unplugged, MAY BE CHARGED",
    "plugged": "PLUGGED IN, switch off: cord, fuse, switch LIVE",
    "standby": "STANDBY: LIVE",
    "limited_bare": "ON THE LIMITER, tubes out: LIVE",
    "limited": "ON THE LIMITER: LIVE",
    "idle": "POWERED: LIVE",
    "driven": "POWERED WITH SIGNAL: LIVE",
    "external": "OUTSIDE SOURCE: LIVE",
}
ACTS = {
    "discharged": "wait 5 minutes, discharge, and read every capacitor below 10 V",
    "unplug": "pull the plug, keep it in sight",
    "switch_off": "switch off",
    "limiter_fitted": "put the lamp limiter between wall and amplifier",
    "limiter_removed": "take the limiter out; hand on the switch for the first minute",
    "leads_clipped": "clip the meter leads on while dead; hands stay out afterwards",
    "plug_in": "plug in, switch off",
    "switch_on": "switch on from outside, one hand; look, listen, sniff",
}
ENDS = {
    "proof": "proof",
    "nothing_wrong": "end",
    "hand_over": "hand over",
    "goes_on": "goes on",
}


def live(card: Card) -> bool:
    """Whether a source is connected while this is done."""
    return card.power in ENERGISED


def head_lines(head: Head) -> tuple[tuple[str, str], ...]:
    """Label and text of what the tree was drawn for."""
    floor = f"{100 * head.floor:.0f} %"
    return (
        ("amplifier", head.amplifier.replace("_", " ") + (f": {head.about}" if head.about else "")),
        ("complaint", "; ".join(f'"{text}"' for text in head.complaint)),
        ("understood", "; ".join(head.understood) or "nothing that a finding is known for"),
        ("owner", f"{head.skill}; tools: " + (", ".join(map(_plain, head.tools)) or "none")),
        (
            "depth",
            f"{head.depth} step{'s' if head.depth > 1 else ''} on each way; answers rarer than "
            f"about {floor} stand together as 'otherwise'",
        ),
    )


def _plain(word: str) -> str:
    return word.replace("_", " ")


def cautions(head: Head) -> tuple[str, ...]:
    """Cautions that stand on top of every form."""
    return (*head.cautions, *CAUTIONS)


def heading(card: Card) -> str:
    """What a node says first: number and title of a step, or what sort of end it is."""
    where = f" ({card.where})" if card.where else ""
    if card.sort == "step":
        return f"{card.number}  {card.title}{where}"
    if card.sort == "repair":
        return f"REPAIR: {card.title}{where}"
    return f"{ENDS.get(card.sort, card.sort).upper()}: {card.title}"


def cost_line(card: Card) -> str:
    """Power state, price and hands of a step or a repair."""
    parts = [POWER.get(card.power, card.power), f"{max(1.0, card.minutes):.0f} min"]
    if card.sort == "step":
        parts.append(f"price {max(1.0, card.price):.0f}")
    if card.money > 0.0:
        parts.append(f"money {card.money:.1f}")
    parts.append(hands_text(card))
    return "; ".join(part for part in parts if part)


def hands_text(card: Card) -> str:
    """How near hands come to danger."""
    hands = card.hands
    found = []
    if hands.live:
        found.append(f"{hands.live} LIVE touch{'es' if hands.live > 1 else ''}")
    if hands.charged:
        found.append(f"{hands.charged} charged touch{'es' if hands.charged > 1 else ''}")
    if hands.clip_cold:
        found.append(f"{hands.clip_cold} clip{'s' if hands.clip_cold > 1 else ''} on while dead")
    return ", ".join(found) or ("no live touch" if card.sort == "step" else "")


def before_items(cards: Sequence[Card]) -> tuple[str, ...]:
    """Acts, gates and hazards on the way to a node, in order, each in a few words."""
    found = []
    for card in cards:
        if card.sort == "gate":
            text = f"{card.title} ({card.ident})"
        elif card.sort == "hazard":
            text = f"HAZARD, {card.title}: " + " ".join((*card.lines, card.why)).rstrip(".")
        else:
            text = ACTS.get(card.ident, card.title.rstrip("."))
        found.append(text + "".join(f" [{c}]" for c in card.cautions if card.sort == "act"))
    return tuple(found)


def gate_titles(tree: OrderTree) -> tuple[tuple[str, str, str, tuple[str, ...]], ...]:
    """Gates that stand in the tree: id, title, why, how; in order of their number."""
    found: dict[str, tuple[str, str, str, tuple[str, ...]]] = {}
    for node in tree.graph.nodes:
        card = tree.card(node)
        if card.sort == "gate":
            why = card.why.split(" Needed before:")[0]
            found.setdefault(card.ident, (card.ident, card.title, why, card.lines))
    return tuple(found[ident] for ident in sorted(found, key=lambda ident: int(ident[1:])))
