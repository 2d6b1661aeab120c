"""Findings and places in words; answers as typed into answers of the files."""

from __future__ import annotations

from triage.assess import describe
from triage.errors import BadReading
from triage.evidence.readings import unit_of
from triage.job.desk import Moment
from triage.job.view import Choice, Question
from triage.plan.candidates import MEMORY
from triage.safety.states import BANNERS, power_state

NOT_UNDERSTOOD = (
    "Noted, but no word of it is known here. Try other words: hum, red plate, no sound, fuse, "
    "crackle, one side dead ..."
)


def power_of(moment: Moment) -> str:
    """Power state in one word."""
    return power_state(moment.state.safety, moment.facts.nodes)


def power_then(moment: Moment, ident: str) -> str:
    """Power state in which a step's answer was found: now, or for one from memory the step's own."""
    if not ident.endswith(MEMORY):
        return power_of(moment)
    return moment.bench.knowledge.procedures[ident.removesuffix(MEMORY)].power


def banner_of(moment: Moment) -> tuple[str, ...]:
    """What is live now."""
    return BANNERS[power_of(moment)]


def told(moment: Moment, finding: str, place: str, answer: str) -> str:
    """A finding with its answer, in words."""
    return describe(moment.bench.grounded, (finding, place), answer)


def question_of(moment: Moment, finding: str, place: str) -> Question:
    """A finding at a place as a question."""
    entry = moment.bench.knowledge.findings[finding]
    name = moment.bench.grounded.place_name(place)
    asks = entry.asks.replace("{place}", name)
    several = len(moment.bench.grounded.places.of_kind(entry.at)) > 1
    if several and "{place}" not in entry.asks:
        asks = f"{name}: {asks}"
    choices = tuple(Choice(a, entry.says.get(a, a.replace("_", " "))) for a in entry.answers)
    return Question(finding, place, asks, choices, entry.normal, unit_of(entry), help=entry.help)


def choice_of(question: Question, text: str) -> str | None:
    """The answer meant by a word, the number of a choice, or a unique beginning; None if none."""
    word = text.strip().lower().replace(" ", "_")
    short = {
        "?": "unknown",
        "unknown": "unknown",
        "dont_know": "unknown",
        "cannot": "cannot",
        "cant": "cannot",
        "can't": "cannot",
        "not_applicable": "not_applicable",
    }
    if word in short:
        return short[word]
    names = [choice.answer for choice in question.choices]
    if word in names:
        return word
    if word.isdigit() and question.unit is None and 1 <= int(word) <= len(names):
        return names[int(word) - 1]
    begun = [name for name in names if word and name.startswith(word)]
    if len(begun) == 1:
        return begun[0]
    if len(begun) > 1 and question.unit is None:
        raise BadReading(text, "it may be " + " or ".join(begun) + ".", begun[0])
    return None


def placed(moment: Moment, place: str) -> str:
    """What a person reads for a place."""
    return moment.bench.grounded.place_name(place)


def asked_back(word: str) -> str:
    """What is said where a hazard's word was only asked about, or perhaps denied."""
    return f"You wrote '{word}'. If it happened, type 'danger'; if not, go on."
