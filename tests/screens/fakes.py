"""A session that decides nothing, for tests of the terminal alone: it records what it was told."""

from __future__ import annotations

from dataclasses import dataclass, field

from triage.job.view import Choice, Question, Suspicion, View

LONG = "and dress the leads so that nothing slips while somebody looks away from the bench, " * 3


@dataclass(frozen=True)
class FakeReply:
    ok: bool = True
    message: str = ""
    ask: str | None = None


def question(name: str = "grid_dc", unit: str | None = "V") -> Question:
    return Question(
        name,
        "V3",
        "DC volts from grid to ground of V3",
        (
            Choice("far_negative", "far more negative than its mate"),
            Choice("normal", "as its mate"),
            Choice("positive", "positive"),
        ),
        "normal",
        unit,
        "-38 V ± 2 V",
        "Black lead to chassis.",
    )


VIEWS: dict[str, View] = {
    "complaint": View(
        "complaint",
        "",
        banner=("unplugged, may be charged.",),
        lines=("Understood so far: hum: yes", "Say what you notice."),
    ),
    "step": View(
        "step",
        "Read the grid of V3 with the tube out",
        number=7,
        power="idle",
        banner=("idle - chassis may be live, B+ up. Off switch: rear, left.",),
        why="It tells a leaky coupling capacitor from a gassy tube.",
        how=(
            "Plug out, discharge, prove dead.",
            f"Pull V3; clip black to chassis {LONG}",
            "Plug in, read, switch off.",
        ),
        good="-38 V, steady",
        bad="positive or climbing: a leak from the stage before",
        mistakes=("meter on AC",),
        cautions=("High voltage at the next pin.",),
        questions=(question(), question("grid_ac", None)),
        ident="read_grid",
        place="V3",
        minutes=4,
        splits=("C9 leaky", "V3 gassy"),
    ),
    "act": View(
        "act",
        "Discharge and prove dead",
        power="unplugged",
        act="discharged",
        cautions=("Charged capacitors can kill.",),
        ident="discharge",
        how=("Clip the discharge lead on.",),
        fields=(("b_plus", "V"), ("bias_supply", "V")),
    ),
    "repair": View(
        "repair", "Replace C9", why="It leaks.", how=("Cut the leads.",), ident="c9", minutes=20
    ),
    "proof": View("proof", "Play it for 40 minutes", power="driven", ident="proof"),
    "hazard": View(
        "hazard", "Red plate", power="idle", lines=("Switch off now.",), ident="red_plate"
    ),
    "already": View(
        "already",
        "What was tried before?",
        power="unplugged",
        banner=("unplugged",),
        how=("Type the numbers, or 'none'. Add 'more' for 3 more.",),
        questions=(
            Question(
                "areas",
                "",
                "Which?",
                (Choice("changed", "tubes swapped"), Choice("x", "volts")),
                "",
            ),
        ),
        more=3,
        ident="areas",
    ),
    "closed": View("closed", "In service", suspects=(Suspicion(0.97, "C9 was leaky"),)),
}


@dataclass
class FakeDesk:
    """Shows views one after another; each thing taken moves on to the next, unless told not to."""

    views: list[View]
    told: list[tuple[str, ...]] = field(default_factory=list)
    replies: list[FakeReply] = field(default_factory=list)
    stay: bool = False

    def view(self) -> View:
        return self.views[0]

    def _take(self, *what: str) -> FakeReply:
        self.told.append(what)
        reply = self.replies.pop(0) if self.replies else FakeReply()
        if reply.ok and not reply.ask and not self.stay and len(self.views) > 1:
            self.views.pop(0)
        return reply

    def _hear(self, *what: str) -> FakeReply:
        self.told.append(what)
        return FakeReply(message="heard")

    def answer(self, question_index: int, text: str) -> FakeReply:
        return self._take("answer", str(question_index), text)

    def confirm(self, fields: dict[str, str]) -> FakeReply:
        return self._take("confirm", *(f"{name}={typed}" for name, typed in fields.items()))

    def done(self) -> FakeReply:
        return self._take("done")

    def proof(self, text: str) -> FakeReply:
        return self._take("proof", text)

    def complaint(self, text: str) -> FakeReply:
        return self._hear("complaint", text)

    def complaint_over(self) -> FakeReply:
        return self._take("complaint_over")

    def already(self, text: str = "") -> FakeReply:
        return self._take("already", text)

    def cannot(self) -> FakeReply:
        return self._take("cannot")

    def back(self) -> FakeReply:
        return self._hear("back")

    def correct(self, n: int, text: str) -> FakeReply:
        return self._hear("correct", str(n), text)

    def history(self) -> list[tuple[int, str]]:
        return [(1, "hum: yes"), (2, "grid of V3: -38 V")]

    def note(self, text: str) -> FakeReply:
        return self._hear("note", text)

    def hazard(self, kind: str) -> FakeReply:
        return self._hear("hazard", kind)

    def pause(self) -> FakeReply:
        return self._hear("pause")

    def suspects(self) -> list[Suspicion]:
        return [
            Suspicion(0.62, "C9 lets plate voltage through", ((0.5, "C9"), (0.12, "C10"))),
            Suspicion(0.003, "V3 is gassy"),
        ]

    def reasons(self, index: int) -> list[str]:
        return [f"reason for {index}"]

    def left(self) -> list[str]:
        return ["not asked: ripple"]

    def order(self, depth: int) -> str:
        return f"order to depth {depth}"

    def sheet(self) -> str:
        return "hand-over sheet"
