"""The session: takes what a person says or does as events, and says what comes next.

Every event is handed to ``keep`` (which puts it on disk) before anything that follows is shown.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

from triage.assess import Bench
from triage.errors import BadReading, SafetyRefusal
from triage.evidence.readings import unit_of
from triage.job import already, lists, views, wording
from triage.job.desk import Moment, Tools, amp_facts, permitted
from triage.job.events import Event, Kind
from triage.job.fold import JobState, step
from triage.job.reply import Reply
from triage.job.told import where_told
from triage.job.view import Question, Suspicion, View
from triage.safety.gates import try_proof
from triage.safety.hazards import listen
from triage.safety.states import Act, apply
from triage.units import value_of
from triage.words import match_complaint

PAUSED = "paused"
REST = frozenset({"rest", "the rest", "all normal", "all fine"})
SILENT = frozenset({"step_shown", "note_made", "refused", "already_done"})
"""Events that change nothing of what is known: the assessment stands."""
TELLING = frozenset({"hazard", "hazard_over", "repaired", "swapped", "paused", "resumed", "doubt"})
"""Acts after which the next move is weighed anew."""


class Session:
    """A job in progress. ``keep`` stores one event durably; ``clock`` gives seconds.

    ``asks_what_was_done``: once all is noticed, what was measured or tried before is asked for.
    """

    def __init__(
        self,
        bench: Bench,
        keep: Callable[[Event], None],
        clock: Callable[[], float],
        events: Iterable[Event] = (),
        *,
        asks_what_was_done: bool = False,
    ) -> None:
        self.bench = bench
        self._asks_what_was_done = asks_what_was_done
        self._keep = keep
        self._clock = clock
        self._tools = Tools.of(bench)
        self._facts = amp_facts(bench)
        self._doubt: tuple[int, str] | None = None
        self.notices: tuple[str, ...] = ()
        self.state = JobState()
        for event in events:
            self.state = step(self.state, event)
        self.moment = self._at()

    def _at(self) -> Moment:
        return Moment(self.bench, self._tools, self.state, self._facts)

    def _record(self, kind: Kind, data: dict[str, Any], at: float | None = None) -> None:
        when = self._clock() if at is None else at
        event = Event(n=self.state.count, at=when, kind=kind, data=data)
        after = step(self.state, event)
        self._keep(event)
        self.state = after
        before, self.moment = self.moment, self._at()
        if self._stands(kind, data) and "assessment" in vars(before):
            vars(self.moment)["assessment"] = before.assessment

    def _stands(self, kind: Kind, data: dict[str, Any]) -> bool:
        """Whether the last assessment still holds: on the way to a step the aim is kept."""
        return kind in SILENT or (kind == "act_done" and data["act"] not in TELLING)

    def begin(self) -> None:
        """Write the first line of a new job."""
        self._record(
            "job_started",
            {
                "profile": self.bench.profile.model_dump(mode="json", by_alias=True),
                "knowledge": self.bench.knowledge.content_hash,
            },
        )

    def resumed(self) -> None:
        """Taken up again: the amplifier is believed powered and charged until it is made cold."""
        self._act("resumed")

    def _act(
        self, kind: str, says: dict[str, str] | None = None, reads: dict[str, float] | None = None
    ) -> None:
        self._record("act_done", {"act": kind, "says": says or {}, "reads": reads or {}})

    def view(self) -> View:
        """What is to be shown now; what lapsed since the last event is let lapse first."""
        now = self._clock()
        later = replace(self.state, safety=apply(self.state.safety, Act("time", now)))
        if permitted(later, self._facts) != permitted(self.state, self._facts):
            self._record("act_done", {"act": "time", "says": {}, "reads": {}}, now)
        found = views.view_of(self.moment)
        if found.sort == "closed" and not self.state.closed:
            self.moment = self._at()
            found = views.view_of(self.moment)
        if found.sort == "step" and found.ident:
            shown = (found.ident, found.place)
            if not self.state.shown or self.state.shown[-1][1:] != shown:
                about = (*shown, self.bench.knowledge.content_hash)
                names = ("step", "place", "knowledge")
                self._record("step_shown", dict(zip(names, about, strict=True)), now)
        return found

    def complaint(self, text: str) -> Reply:
        """Take a complaint in free words, or as a finding with its answer."""
        heard = listen(text, self.bench.knowledge.hazards.values())
        found = match_complaint(text, self.bench.knowledge.plain["words"])
        placed = [row for match in found for row in where_told(self.bench.grounded, match)]
        if not placed and heard is None:
            self._record("note_made", {"text": text})
            return Reply(True, wording.NOT_UNDERSTOOD)
        for finding, place, answer in placed:
            self._record(
                "answer_given", {"finding": finding, "place": place, "answer": answer, "said": text}
            )
        names = "; ".join(wording.told(self.moment, *row) for row in placed)
        if heard is not None:
            self._record("note_made", {"text": text})
            if heard.sure == "asked":
                return Reply(True, names, wording.asked_back(heard.word))
            self.hazard(heard.hazard)
        return Reply(True, f"Understood: {names}" if names else "Noted.")

    def complaint_over(self, *, silence_counts: bool = True) -> Reply:
        """All that was noticed has been said; what is surely told and was not, then counts.

        ``silence_counts`` False: this person (or this case) may have left things out.
        """
        begun = self._asks_what_was_done and not self.state.mended
        self._record(
            "complaint_over", dict(silence_counts=silence_counts, asks_what_was_done=begun)
        )
        return Reply(True)

    def already(self, text: str = "") -> Reply:
        """Tick what was done before the job, in the list shown; opens the lists where none is."""
        ticked = already.tick(self.view(), text, self.moment)
        if not isinstance(ticked, Reply):
            self._record("already_done", ticked)
        return ticked if isinstance(ticked, Reply) else Reply(True)

    def tell(self, finding: str, place: str, answer: str, happening: str = "yes") -> None:
        """Put in one finding that was told unasked."""
        self._record(
            "answer_given",
            {"finding": finding, "place": place, "answer": answer, "happening": happening},
        )

    def put(
        self, finding: str, place: str, text: str, happening: str = "yes", ident: str = ""
    ) -> None:
        """Put in one answer, word or reading, as it stands (replays and drills)."""
        question = wording.question_of(self.moment, finding, place)
        data: dict[str, Any] = {
            "finding": finding,
            "place": place,
            "happening": happening,
            "power": wording.power_then(self.moment, ident),
            "step": ident,
        }
        word = wording.choice_of(question, text)
        if word is None:
            judged = self.moment.judge(finding, place, text, keep=True, then=data["power"])
            data |= {"answer": judged.answer if judged.informative else "unknown", "typed": text}
        else:
            data["answer"] = word
        self._record("answer_given", data)

    def answer(self, question_index: int, text: str) -> Reply:
        """Answer one question of the step shown."""
        shown = self.view()
        if shown.sort not in ("step", "complaint") or question_index >= len(shown.questions):
            return Reply(False, "There is no such question now.")
        if text.strip().lower() in REST:
            return self._rest(shown, question_index)
        question = shown.questions[question_index]
        keep = text.strip().lower() == "keep"
        if keep and self._doubt is not None and self._doubt[0] == question_index:
            text = self._doubt[1]
        self._doubt = None
        try:
            return self._take(question_index, question, text.strip(), keep, shown.ident)
        except BadReading as error:
            return Reply(False, str(error))

    def _rest(self, shown: View, first: int) -> Reply:
        """All questions of the step from ``first`` on are as they should be."""
        for question in shown.questions[first:]:
            self.put(question.finding, question.place, question.normal, ident=shown.ident)
        return Reply(True, f"{len(shown.questions) - first} answered: all as they should be.")

    def _take(self, index: int, question: Question, text: str, keep: bool, ident: str) -> Reply:
        word = wording.choice_of(question, text)
        data: dict[str, Any] = {
            "finding": question.finding,
            "place": question.place,
            "power": wording.power_then(self.moment, ident),
            "step": ident,
        }
        if word is not None:
            self._record("answer_given", data | {"answer": word})
            return Reply(True, wording.told(self.moment, question.finding, question.place, word))
        entry = self.bench.knowledge.findings[question.finding]
        if unit_of(entry) is None:
            accepted = ", ".join(choice.answer for choice in question.choices)
            raise BadReading(
                text, f"the answers are {accepted}, unknown, cannot.", question.choices[0].answer
            )
        key = (question.finding, question.place)
        judged = self.moment.judge(*key, text, keep=keep, then=data["power"])
        if judged.ask is not None:
            self._doubt = (index, text)
            return Reply(True, "", judged.ask)
        if not judged.informative:
            self._record("note_made", {"text": f"{question.finding} at {question.place}: {text}"})
            return Reply(
                False,
                "The reading is noted, but what to compare it with is not known "
                f"({judged.says}). Say in words which it is.",
            )
        self._record("answer_given", data | {"answer": judged.answer, "typed": text, "kept": keep})
        return Reply(True, judged.says)

    def confirm(self, fields: dict[str, str]) -> Reply:
        """Take the act shown as done, with its numbers or named observations."""
        shown = self.view()
        if shown.sort == "hazard":
            self._act("hazard_over", {"hazard": shown.ident})
            return Reply(True)
        if shown.sort != "act":
            return Reply(False, "Nothing is waiting to be confirmed.")
        try:
            return self._confirmed(shown, fields)
        except BadReading as error:
            return Reply(False, str(error))

    def _confirmed(self, shown: View, fields: dict[str, str]) -> Reply:
        says: dict[str, str] = {}
        reads: dict[str, float] = {}
        for name, unit in shown.fields:
            typed = fields.get(name, "").strip()
            if not typed:
                continue
            if unit in ("word", "choice"):
                says[name] = typed
            else:
                reads[name] = value_of(typed, "" if unit == "number" else unit)
        if shown.act == "gate":
            return self._gate(shown.ident, says, reads)
        if shown.act == "discharged":
            missing = [name for name, _ in shown.fields if name not in reads]
            if missing:
                return Reply(False, "A number is wanted for each: " + ", ".join(missing))
        says |= views.says_of(self.moment, shown)
        self._act(shown.act, says, reads)
        if shown.act == "discharged" and any(abs(v) >= 10.0 for v in reads.values()):
            return Reply(True, "Not dead yet: discharge again and read again.")
        return Reply(True)

    def _gate(self, gate: str, says: dict[str, str], reads: dict[str, float]) -> Reply:
        act = Act(
            "gate_passed", self._clock(), tuple(sorted(says.items())), tuple(sorted(reads.items()))
        )
        wanted = try_proof(gate, act, self._facts, self.state.safety)
        if wanted is not None:
            self._record("refused", {"gate": gate, "says": says, "reads": reads, "why": wanted})
            return Reply(False, f"Not passed. Wanted: {wanted}.")
        self._act("gate_passed", says | {"gate": gate}, reads)
        return Reply(True, "Passed.")

    def done(self) -> Reply:
        """The repair shown has been made (it may have taken longer than a proof of cold holds)."""
        shown = views.view_of(self.moment)
        if shown.sort != "repair":
            raise SafetyRefusal(["no repair is being shown"])
        mains = self.moment.on_mains_side(shown.place)
        self._record("repair_done", dict(repair=shown.ident, place=shown.place, mains=mains))
        return Reply(True)

    def proof(self, text: str) -> Reply:
        """What the proof of the last repair said."""
        if self.view().sort != "proof":
            return Reply(False, "No repair is waiting for its proof.")
        word = {"p": "passed", "f": "failed", "yes": "passed", "no": "failed"}.get(
            text.strip().lower(), text.strip().lower()
        )
        if word not in ("passed", "failed", "unknown"):
            return Reply(False, "Say passed, failed or unknown.")
        self._record("proof_done", {"result": word})
        if word == "passed":
            self._record("closed", {"outcome": "repaired"})
        return Reply(True)

    def cannot(self) -> Reply:
        """The step, act or repair shown cannot be done."""
        shown = self.view()
        if shown.sort == "hazard":
            return Reply(False, "A hazard stays open until it is dealt with.")
        if shown.sort == "already":
            return self.already("none")
        what = views.declined_as(self.moment, shown)
        if what is None or (what in self.state.declined and what.startswith("gate:")):
            self._record("closed", {"outcome": "stopped"})
            return Reply(True, "Then this job stops here. The sheet says how far it got.")
        self._record("declined", {"what": what})
        return Reply(True, "Noted. Another way is looked for.")

    def back(self) -> Reply:
        """Take back the last answer. Acts stay: what was done was done."""
        if not self.state.answers:
            return Reply(False, "There is no answer to take back.")
        last = self.state.answers[-1]
        self._record("answer_undone", {"target": last.n})
        told = wording.told(self.moment, last.finding, last.place, last.answer)
        return Reply(True, f"Taken back: {told}. What was physically done stays done.")

    def correct(self, n: int, text: str) -> Reply:
        """Change an earlier answer; later ones stay."""
        if (given := next((a for a in self.state.answers if a.n == n), None)) is None:
            return Reply(False, f"There is no answer numbered {n}; 'history' lists them.")
        question = wording.question_of(self.moment, given.finding, given.place)
        try:
            word = wording.choice_of(question, text.strip())
            data: dict[str, Any] = {"finding": given.finding, "place": given.place, "instead_of": n}
            if word is None:
                key = (given.finding, given.place)
                judged = self.moment.judge(*key, text, keep=True, then=given.power)
                data |= {"answer": judged.answer, "typed": text}
            else:
                data["answer"] = word
        except (BadReading, AssertionError) as error:
            return Reply(False, str(error) or "That is not one of its answers.")
        self._record("answer_given", data)
        return Reply(True, "Changed.")

    def history(self) -> tuple[tuple[int, str], ...]:
        """Answers so far, numbered."""
        typed = {a.n: f" ({a.typed})" if a.typed else "" for a in self.state.answers}
        return tuple(
            (a.n, wording.told(self.moment, a.finding, a.place, a.answer) + typed[a.n])
            for a in self.state.answers
        )

    def note(self, text: str) -> Reply:
        """Keep a note; words of danger lock the session, or are asked back."""
        heard = listen(text, self.bench.knowledge.hazards.values())
        self._record("note_made", {"text": text})
        if heard is None:
            return Reply(True, "Noted.")
        if heard.sure == "asked":
            return Reply(True, "", f"Is there {heard.word}? If so, say 'danger'.")
        return self.hazard(heard.hazard)

    def hazard(self, kind: str) -> Reply:
        """Something dangerous is happening: everything else stops."""
        if kind not in self.bench.knowledge.hazards:
            names = ", ".join(self.bench.knowledge.hazards)
            return Reply(False, f"Say which: {names}.")
        self._act("hazard", {"hazard": kind})
        return Reply(True)

    def pause(self) -> Reply:
        """Leave it; on return the amplifier counts as powered and charged."""
        self._act(PAUSED)
        return Reply(True, "Kept. Switch off, pull the plug, and hang a tag on it: DO NOT POWER.")

    def suspects(self) -> tuple[Suspicion, ...]:
        """Suspects, likeliest kind first, with the places inside it."""
        return lists.suspicions(self.moment)

    def reasons(self, index: int) -> tuple[str, ...]:
        """For and against a suspect, strongest first."""
        return lists.reason_lines(self.moment, index)

    def left(self) -> tuple[str, ...]:
        """What could still be asked, best first."""
        return lists.left_lines(self.moment)

    def order(self, depth: int) -> str:
        """The next steps as text."""
        return "\n".join(lists.order_lines(self.moment, depth))

    def sheet(self) -> str:
        """Hand-over sheet."""
        return "\n".join(lists.sheet_lines(self.moment))
