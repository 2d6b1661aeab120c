"""State of a job: a pure function of its events."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from triage.job.events import Event
from triage.model.profile import Profile
from triage.safety.states import ACTS, Act, SafetyState, apply


@dataclass(frozen=True)
class Answered:
    """One answer as given: typed text where it was a reading, the word else."""

    n: int
    finding: str
    place: str
    answer: str
    typed: str = ""
    kept: bool = False
    happening: Literal["yes", "no", "unknown"] = "yes"
    epoch: int = 0
    power: str = ""
    step: str = ""


@dataclass(frozen=True)
class Mended:
    """A repair that was made, and what its proof said ('' while it is not tried)."""

    repair: str
    place: str
    epoch: int
    proof: str = ""


@dataclass(frozen=True)
class Ticked:
    """One list of what may have been done before the job began, and what of it was.

    ``more`` where the rest of the list is wanted.
    """

    screen: str
    listed: tuple[str, ...]
    chosen: tuple[str, ...]
    more: bool = False


@dataclass(frozen=True)
class JobState:
    """Everything known of a job."""

    profile: Profile | None = None
    knowledge: str = ""
    complaint_over: bool = False
    silence_counts: bool = True
    recalling: bool = False
    ticked: tuple[Ticked, ...] = ()
    answers: tuple[Answered, ...] = ()
    acts: tuple[Act, ...] = ()
    safety: SafetyState = field(default_factory=SafetyState)
    declined: tuple[str, ...] = ()
    mended: tuple[Mended, ...] = ()
    notes: tuple[str, ...] = ()
    shown: tuple[tuple[int, str, str], ...] = ()
    epoch: int = 0
    closed: str = ""
    count: int = 0
    at: float = 0.0

    def latest(self) -> Mapping[tuple[str, str], Answered]:
        """Latest answer per finding and place."""
        return {(a.finding, a.place): a for a in self.answers}

    @property
    def pending(self) -> Mended | None:
        """The repair that still waits for its proof."""
        return self.mended[-1] if self.mended and not self.mended[-1].proof else None


def _needs_answer(state: JobState, target: int, what: str) -> None:
    if all(given.n != target for given in state.answers):
        raise ValueError(
            f"line {target} is no answer that can be {what}: acts stay done, and are only followed "
            "by other acts"
        )


def _answer(state: JobState, event: Event) -> JobState:
    data = event.data
    if "instead_of" in data:
        _needs_answer(state, int(data["instead_of"]), "changed")
    given = Answered(
        n=int(data.get("instead_of", event.n)),
        finding=data["finding"],
        place=data["place"],
        answer=data["answer"],
        typed=data.get("typed", ""),
        kept=bool(data.get("kept", False)),
        happening=data.get("happening", "yes"),
        epoch=state.epoch,
        power=data.get("power", ""),
        step=data.get("step", ""),
    )
    if "instead_of" in data:
        answers = tuple(
            replace(given, epoch=a.epoch, power=a.power, step=a.step) if a.n == given.n else a
            for a in state.answers
        )
    else:
        answers = (*state.answers, given)
    return replace(state, answers=answers)


def _undone(state: JobState, event: Event) -> JobState:
    target = int(event.data["target"])
    _needs_answer(state, target, "taken back")
    return replace(state, answers=tuple(a for a in state.answers if a.n != target))


def _already(state: JobState, event: Event) -> JobState:
    """A list ticked; the screen 'open' begins them anew."""
    data = event.data
    if data["screen"] == "open":
        return replace(state, recalling=True, ticked=())
    row = Ticked(
        screen=str(data["screen"]),
        listed=tuple(str(i) for i in data["listed"]),
        chosen=tuple(str(i) for i in data["chosen"]),
        more=bool(data.get("more", False)),
    )
    return replace(state, ticked=(*state.ticked, row))


def act_of(data: Mapping[str, Any], at: float) -> Act:
    """The physical act of an event's data."""
    says = tuple(sorted((str(k), str(v)) for k, v in data.get("says", {}).items()))
    reads = tuple(sorted((str(k), float(v)) for k, v in data.get("reads", {}).items()))
    return Act(str(data["act"]), at, says, reads)


def _act(state: JobState, event: Event) -> JobState:
    act = act_of(event.data, event.at)
    if act.kind not in ACTS:
        raise ValueError(f"'{act.kind}' is no act that this version knows")
    safety = apply(state.safety, act)
    starts = act.kind in ("swapped", "repaired") or safety.power_ups > state.safety.power_ups
    return replace(
        state, acts=(*state.acts, act), safety=safety, epoch=state.epoch + (1 if starts else 0)
    )


def _repair(state: JobState, event: Event) -> JobState:
    epoch = state.epoch + 1
    mended = Mended(event.data["repair"], event.data["place"], epoch)
    act = Act("repaired", event.at, (("mains", "yes"),) if event.data.get("mains", True) else ())
    return replace(
        state,
        mended=(*state.mended, mended),
        epoch=epoch,
        acts=(*state.acts, act),
        safety=apply(state.safety, act),
    )


def _proof(state: JobState, event: Event) -> JobState:
    """The proof's result; after one that failed, what is noticed now is asked again."""
    if state.pending is None:
        return state
    last = replace(state.mended[-1], proof=str(event.data["result"]))
    return replace(
        state,
        mended=(*state.mended[:-1], last),
        complaint_over=state.complaint_over and last.proof != "failed",
    )


def _started(state: JobState, event: Event) -> JobState:
    return replace(
        state,
        profile=Profile.model_validate(event.data["profile"]),
        knowledge=str(event.data.get("knowledge", "")),
    )


def step(state: JobState, event: Event) -> JobState:
    """State after one more event. A clock that went back makes the amplifier doubtful.

    Raises
    ------
    ValueError : the event does not fit: out of order, or it takes back what is no answer.
    """
    if event.n != state.count:
        raise ValueError(f"event {event.n} stands where event {state.count} belongs")
    ticked = replace(state, safety=apply(state.safety, Act("time", event.at)))
    after = _kind(ticked, event)
    return replace(after, count=event.n + 1, at=event.at)


def _kind(state: JobState, event: Event) -> JobState:
    data = event.data
    match event.kind:
        case "job_started":
            return _started(state, event)
        case "complaint_over":
            return replace(
                state,
                complaint_over=True,
                silence_counts=bool(data.get("silence_counts", True)),
                recalling=state.recalling or bool(data.get("asks_what_was_done", False)),
            )
        case "already_done":
            return _already(state, event)
        case "answer_given":
            return _answer(state, event)
        case "answer_undone":
            return _undone(state, event)
        case "act_done":
            return _act(state, event)
        case "declined":
            return replace(state, declined=(*state.declined, str(data["what"])))
        case "repair_done":
            return _repair(state, event)
        case "proof_done":
            return _proof(state, event)
        case "note_made":
            return replace(state, notes=(*state.notes, str(data["text"])))
        case "closed":
            return replace(state, closed=str(data["outcome"]))
        case "step_shown":
            row = (event.n, str(data["step"]), str(data.get("place", "")))
            return replace(state, shown=(*state.shown, row))
        case "refused":
            return state


def fold(events: Iterable[Event]) -> JobState:
    """State of all events, in order."""
    state = JobState()
    for event in events:
        state = step(state, event)
    return state
