"""Random sessions, each action watched by the shadow. ``python -m tests.properties.random_sessions N``.

One in twelve is led by the session's own advice; the others are driven straight at a step of the
bench, powered or inside more often than not. Nothing is stubbed: real knowledge, real session.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache

from tests.properties.shadow import MAINS, STORES, Shadow, goes_inside, is_powered
from triage.assess import Bench
from triage.errors import BadReading
from triage.job import views
from triage.job.events import Event
from triage.job.session import Session
from triage.job.view import View
from triage.knowledge.load import Knowledge, load
from triage.knowledge.paths import knowledge_dir
from triage.model.entries import Procedure, Repair
from triage.model.profile import Owner
from triage.plan.candidates import MEMORY, Candidate

AMPLIFIERS = ("linden_hall", "grandmothers_console", "practice_amp", "shelf_set", "dance_band")
OWNERS = (
    ("novice", ("multimeter",), "unknown"),
    ("novice", ("multimeter", "limiter"), "yes"),
    ("hobbyist", ("multimeter", "limiter", "high_impedance_meter"), "yes"),
    ("technician", ("multimeter", "limiter", "isolation_transformer", "scope"), "yes"),
)
GOOD: Mapping[str, Mapping[str, str]] = {
    "G2": {"known": "9 V", "before": "9 V", "after": "9 V"},
    "G3": {
        "by": "own_transformer",
        "line_to_neutral": "12 ohm",
        "line_to_chassis": "20 Mohm",
        "neutral_to_chassis": "20 Mohm",
        "in_to_out": "20 Mohm",
        "out_to_earth": "20 Mohm",
    },
    "G4": {"cord": "sound", "fuse": "as_marked"},
    "G5": {"class": "earthed", "earth_ohm": "0.1 ohm", "outlet": "earth_proven"},
    "G6": {"line_cap": "removed"},
    "G7": {"ohms": "100 kohm", "bleeder": "none"},
    "G8": {"load_ohm": "7 ohm", "marked_ohm": "8 ohm"},
    "G9": {"lamp": "dim", "plates": "dark", "minutes": "3"},
    "G10": {
        "pin_v": "-45 V",
        "steady": "when_wiggled",
        "cathode_ohm": "250 ohm",
        "return_ohm": "82 kohm",
        "sheet_limit_ohm": "100 kohm",
        "leak": "none",
    },
    "G11": {
        "b_plus_point": "first can",
        "ground_point": "star",
        "one_hand": "in_pocket",
        "adult": "yes",
    },
    "G12": {"rated_v": "1000 V", "leads": "whole"},
    "G14": {"trip": "tested"},
    "G16": {"clip": "off", "tools": "out", "tubes": "seated", "loose": "nothing"},
}
READINGS = ("0.1 ohm", "47", "47 mV", "-38 V", "400 V", "9 V", "100 kohm", "3 mA", "60 Hz", "x", "")
COMPLAINTS = ("it hums", "one output tube glows red", "left side is dead", "no sound", "crackle")
NOTES = ("smells odd", "there is smoke", "no smoke", "smoke?", "I got a shock", "a tingle")


@cache
def knowledge() -> Knowledge:
    """All knowledge, loaded once."""
    return load(knowledge_dir())


@cache
def bench(amplifier: str, owner: int) -> Bench:
    """The bench of an amplifier whose owner is one of ``OWNERS``."""
    skill, tools, second = OWNERS[owner]
    person = Owner(skill=skill, tools=list(tools), second_person=second)
    profile = knowledge().profiles[amplifier].model_copy(update={"owner": person})
    return Bench.make(knowledge(), profile)


@dataclass
class Counts:
    """What was tried and what was found."""

    sessions: int = 0
    actions: int = 0
    seen: Counter[str] = field(default_factory=Counter)
    violations: list[str] = field(default_factory=list)


class Person:
    """One random session: a person who mostly follows, and sometimes does not."""

    def __init__(self, seed: int, counts: Counts, *, led: bool) -> None:
        self.draw = random.Random(seed)
        self.seed, self.counts, self.led = seed, counts, led
        self.bench = bench(self.draw.choice(AMPLIFIERS), self.draw.randrange(len(OWNERS)))
        places = self.bench.grounded.places
        nodes = tuple(place.id for place in places.of_kind(STORES)) or ("reservoir",)
        self.shadow = Shadow(nodes, {place.id for place in places.of_kind(MAINS)})
        self.kept: list[Event] = []
        self.now = 1000.0
        self.session = Session(self.bench, self._keep, self._clock, asks_what_was_done=led)
        self.session.begin()
        self.calm = 0.0 if seed % 3 == 0 else 0.92
        self.goal = self._any_step()

    def _keep(self, event: Event) -> None:
        self.kept.append(event)
        self.shadow.see(event)

    def _clock(self) -> float:
        self.now += self.draw.choice((1.0, 20.0, 120.0))
        return self.now

    def _any_step(self) -> Candidate:
        wanted = self.draw.random()
        pool = [
            c
            for c in self.bench.candidates
            if (is_powered(c.procedure) if wanted < 0.6 else goes_inside(c.procedure))
        ]
        return self.draw.choice(pool or list(self.bench.candidates))

    def look(self) -> View:
        """What is shown: by the session's advice, or on the way straight to the goal."""
        if self.led or self.session.state.pending or self.shadow.hazards:
            view = self.session.view()
        else:
            view = views.step_view(self.session.moment, self.goal, (), "asked for")
        self.check(view)
        return view

    def check(self, view: View) -> None:
        """Hold a view against the shadow."""
        self.counts.seen[view.sort] += 1
        known = self.bench.knowledge
        entry: Procedure | Repair | None = None
        asleep = view.ident.endswith(MEMORY) and view.title.startswith("From memory: ")
        if view.sort == "step" and not asleep:
            entry = next(c.procedure for c in self.bench.candidates if c.key[0] == view.ident)
        elif view.sort == "repair":
            entry = known.repairs[view.ident]
        elif view.sort == "proof":
            entry = known.procedures["listen_hum"].model_copy(update={"power": "idle"})
        owner = self.bench.profile.owner
        if entry is not None:
            if is_powered(entry):
                self.counts.seen["powered step"] += 1
                if goes_inside(entry):
                    self.counts.seen["powered inside"] += 1
            elif goes_inside(entry):
                self.counts.seen["inside, cold"] += 1
            wrong = self.shadow.wrong(entry, owner.skill, self.bench.profile.isolation)
        elif view.sort == "act" and view.act in ("plug_in", "switch_on", "to_standby"):
            self.counts.seen["power asked for"] += 1
            wanted = ["G3", "G4", "G5", "G6"] + (["G16"] if view.act == "plug_in" else [])
            wrong = [f"{gate} is not proven" for gate in wanted if not self.shadow.holds(gate)]
            wrong += [f"hazard {name} is open" for name in self.shadow.hazards]
            if self.bench.profile.isolation == "live_chassis" and owner.skill != "technician":
                wrong.append("power asked for on a live chassis")
        else:
            wrong = []
        if wrong:
            self.counts.violations.append(
                f"seed {self.seed} {self.bench.profile.amplifier} {owner.skill}: {view.sort} "
                f"{view.ident} ({view.act}): {'; '.join(wrong)}"
            )

    def fields(self, view: View) -> dict[str, str]:
        """Good fields mostly, else wrong or missing ones."""
        if view.act == "gate":
            good = dict(GOOD.get(view.ident, {}))
        else:
            good = {name: "0.3 V" for name, _ in view.fields}
        if good and self.draw.random() < 0.06:
            name = self.draw.choice(sorted(good))
            bad = self.draw.choice(("", "other", "400 V", "1 ohm", "?", "-1"))
            good[name] = bad
        return good

    def act(self) -> None:
        """One action."""
        self.counts.actions += 1
        session = self.session
        calm = self.draw.random() < self.calm
        draw = 0.0 if calm else self.draw.uniform(0.5, 1.0)
        if draw < 0.80:
            self.follow(self.look())
        elif draw < 0.83:
            self.leave()
        elif draw < 0.86:
            self.now += self.draw.choice((-7200.0, -1.0, 1900.0, 50000.0))
        elif draw < 0.88:
            session.note(self.draw.choice(NOTES))
        elif draw < 0.89:
            session.hazard(self.draw.choice(sorted(self.bench.knowledge.hazards)))
        elif draw < 0.93:
            session.back()
        elif draw < 0.96 and session.state.answers:
            given = self.draw.choice(session.state.answers)
            session.correct(given.n, self.draw.choice(("yes", "no", "unknown", "1", "47 mV")))
        elif draw < 0.97 and self.led:
            session.cannot()
        else:
            self.goal = self._any_step()
        self.check_goal()

    def check_goal(self) -> None:
        """Drive straight at a step, or now and then at a repair, whatever the session wants."""
        self.check(views.step_view(self.session.moment, self._any_step(), (), "asked for"))
        if self.draw.random() < 0.02:
            repair, place = self._any_repair()
            self.check(views._repair(self.session.moment, repair, place, "asked for"))

    def _any_repair(self) -> tuple[str, str]:
        known = self.bench.knowledge.repairs
        return self.draw.choice([pair for pair in self.bench.groups.keys if pair[0] in known])

    def leave(self) -> None:
        """Pause, or be killed, and take it up again from what was kept."""
        if self.draw.random() < 0.5:
            self.session.pause()
        self.session = Session(self.bench, self._keep, self._clock, list(self.kept))
        self.session.resumed()

    def follow(self, view: View) -> None:
        """Do what the view wants."""
        session = self.session
        if view.sort == "complaint":
            session.complaint(self.draw.choice(COMPLAINTS))
            session.complaint_over()
        elif view.sort == "already":
            session.already(self.draw.choice(("none", "1", "2 3", "1 4 more", "5 6 7", "8 9")))
        elif view.sort == "act" and not self.led and not self.shadow.hazards:
            if not session.state.pending:
                self.confirm(view)
            else:
                session.confirm(self.fields(view))
        elif view.sort in ("act", "hazard"):
            session.confirm(self.fields(view))
        elif view.sort == "repair":
            session.done()
        elif view.sort == "proof":
            session.proof(self.draw.choice(("passed", "failed", "failed", "unknown")))
        elif view.sort == "step":
            self.answer(view)
            self.goal = self._any_step()

    def confirm(self, view: View) -> None:
        """Confirm an act on the way to the goal, by the code that confirms the session's own."""
        try:
            self.session._confirmed(view, self.fields(view))
        except BadReading:
            self.counts.seen["fields refused"] += 1

    def answer(self, view: View) -> None:
        """Answer its first question, if it has one; mend something now and then."""
        if view.questions:
            question = view.questions[0]
            words = [choice.answer for choice in question.choices]
            text = self.draw.choice((*words, *words, "unknown", "cannot", *READINGS))
            self.session.answer(0, text)
        elif self.draw.random() < 0.3 and not is_powered(self.goal.procedure):
            self.mend()

    def mend(self) -> None:
        """A repair made where the cabinet is open: the record takes it, the gates must follow."""
        repair, place = self._any_repair()
        mains = self.session.moment.on_mains_side(place)
        self.session._record("repair_done", {"repair": repair, "place": place, "mains": mains})


def run(first: int, number: int) -> Counts:
    """Run sessions with seeds ``first`` to ``first + number - 1``."""
    counts = Counts()
    for seed in range(first, first + number):
        led = seed % 12 == 0
        person = Person(seed, counts, led=led)
        for _ in range(12 if led else 14 + seed % 27):
            person.act()
        counts.sessions += 1
    return counts


def main(argv: list[str]) -> int:
    """Print counts of ``N`` sessions (from seed ``FIRST``); 1 where a violation was found."""
    number = int(argv[0]) if argv else 20_000
    first = int(argv[1]) if len(argv) > 1 else 0
    began = time.perf_counter()
    done, actions, bad = 0, 0, 0
    seen: Counter[str] = Counter()
    while done < number:
        counts = run(first + done, min(200, number - done))
        done, actions, bad = (
            done + counts.sessions,
            actions + counts.actions,
            bad + len(counts.violations),
        )
        seen += counts.seen
        for line in counts.violations[:5]:
            print(line)
        took = time.perf_counter() - began
        print(
            f"{done} sessions, {actions} actions, {bad} violations, {took:.0f} s, "
            f"{done / took:.0f} sessions a second; shown: {dict(sorted(seen.items()))}",
            flush=True,
        )
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
