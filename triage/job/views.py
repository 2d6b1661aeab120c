"""Views: what is shown at a moment. Only cleared steps get in; everything else is refused words."""

from __future__ import annotations

from triage.job.already import next_view
from triage.job.desk import Moment
from triage.job.gatekeeper import providers
from triage.job.lists import expected_lines, sheet_lines, splits, suspicions
from triage.job.view import View
from triage.job.wording import banner_of, placed, power_of, power_then, question_of
from triage.model.entries import Minutes, Procedure, Repair
from triage.plan.candidates import Candidate, open_yields
from triage.safety.cleared import Cleared, clear
from triage.safety.facts import StepFacts
from triage.safety.gates import WHY, passed
from triage.safety.path import Ask, fits_tubes, safe_next, way_to_cold
from triage.safety.states import energised

PROVE = "prove_the_repair"
REST = "Type 'rest' as soon as all that are left are as they should be."
LAMP = "A current limiter (a lamp in series, built or borrowed) would open the powered checks."


def view_of(moment: Moment) -> View:
    """What is wanted next; the order is fixed: hazards, complaint, proof, then the advice."""
    state = moment.state
    if state.safety.hazards:
        return _hazard(moment, sorted(state.safety.hazards)[0])
    if state.closed:
        safe = _made_safe(moment)
        if safe is not None:
            return safe
        return View(
            "closed",
            _closed_title(state.closed),
            power=power_of(moment),
            banner=banner_of(moment),
            lines=tuple(sheet_lines(moment)),
            suspects=suspicions(moment),
        )
    if not state.complaint_over:
        return _complaint(moment)
    if state.pending is not None:
        return _proof(moment)
    raised = [h for h, _ in moment.assessment.hazards if not _dealt_with(moment, h)]
    if raised:
        return _hazard(moment, raised[0])
    before = next_view(moment)
    if isinstance(before, View):
        return before
    if before is not None:
        asked = moment.asked
        applicable = moment.assessment.gathered.applicable
        return step_view(moment, before, open_yields(before, asked, applicable), "")
    return _advised(moment)


ONE_A_LINE = "One thing a line: 'it hums', 'one output tube glows red', 'the left side is dead'."


def _complaint(moment: Moment) -> View:
    """What is noticed: at the start, and again where a repair did not end the trouble."""
    again = bool(moment.state.mended)
    why = (
        "The repair did not end the trouble. What it can have changed is asked again; the rest "
        "stands. There may be a second fault."
        if again
        else "Your own words do: what it does, what still works, since when, after what."
    )
    power = (
        "From the trial just made: do not power it up again for this."
        if again
        else "Do not plug it in to find out."
    )
    return View(
        "complaint",
        "What do you still notice?" if again else "What do you notice?",
        power=power_of(moment),
        banner=banner_of(moment),
        why=why,
        how=(ONE_A_LINE, power),
        ident="still" if again else "",
    )


def _made_safe(moment: Moment) -> View | None:
    """Before a job is left: off, and the plug out."""
    if not energised(moment.state.safety):
        return None
    ask = way_to_cold(moment.state.safety, moment.facts)[0]
    return _act(moment, ask, "leaving it safe")


def _dealt_with(moment: Moment, hazard: str) -> bool:
    return any(
        act.kind == "hazard_over" and act.word("hazard") == hazard for act in moment.state.acts
    )


def _closed_title(outcome: str) -> str:
    return {
        "repaired": "Repaired and proven. Note the readings for next year.",
        "stopped": "Stopped here. This sheet goes with the amplifier.",
    }.get(outcome, "Closed.")


def _hazard(moment: Moment, kind: str) -> View:
    text = moment.bench.knowledge.hazards[kind]
    return View(
        "hazard",
        text.title,
        power=power_of(moment),
        banner=banner_of(moment),
        how=tuple(text.at_once),
        cautions=tuple(text.then),
        ident=kind,
        act="hazard_over",
        why=f"Go on only when {text.over_when}.",
    )


def _advised(moment: Moment) -> View:
    advice = moment.assessment.advice
    if advice.move == "step" and advice.candidate is not None:
        return step_view(moment, advice.candidate, advice.findings, advice.why)
    if advice.move == "repair" and advice.repair is not None:
        return _repair(moment, *advice.repair, advice.why)
    title = (
        "Nothing in these readings is wrong with the amplifier."
        if advice.move == "nothing_wrong"
        else "Stop here and hand it over, with this sheet."
    )
    return View(
        "closed",
        title,
        power=power_of(moment),
        banner=banner_of(moment),
        why=advice.why,
        lines=(*(() if "limiter" in moment.facts.tools else (LAMP,)), *sheet_lines(moment)),
        suspects=suspicions(moment),
    )


def step_view(moment: Moment, candidate: Candidate, findings: tuple[int, ...], why: str) -> View:
    """A cleared step, or what has to be done first."""
    procedure = candidate.procedure
    place = "" if candidate.swept else candidate.places[0].id
    on_the_way = _first(moment, procedure)
    if on_the_way is not None:
        return on_the_way
    cleared = clear(procedure, place, moment.state.safety, moment.facts)
    if not isinstance(cleared, Cleared):
        return _refused(moment, procedure.title, cleared.reasons, candidate.key[0])
    return _shown(moment, cleared, candidate, findings, why)


def _shown(
    moment: Moment, cleared: Cleared, candidate: Candidate, findings: tuple[int, ...], why: str
) -> View:
    procedure = cleared.entry
    assert isinstance(procedure, Procedure)
    grounded = moment.bench.grounded
    questions = tuple(question_of(moment, *grounded.instances[f].key) for f in findings)
    names = ", ".join(place.name for place in candidate.places[:4])
    shown = moment.state.shown
    here = (candidate.key[0], cleared.place)
    number = len(shown) + (0 if shown and shown[-1][1:] == here else 1)
    return View(
        "step",
        _title(moment, procedure.title, names, candidate),
        number=number,
        power=power_of(moment),
        banner=cleared.banner,
        why=f"{procedure.why} {why}".strip(),
        how=(*procedure.steps, *((REST,) if len(questions) > 2 else ())),
        good=procedure.good,
        bad=procedure.bad,
        mistakes=tuple(procedure.mistakes),
        cautions=tuple(cleared.cautions),
        questions=questions,
        ident=candidate.key[0],
        place=cleared.place,
        minutes=procedure.minutes.setup + procedure.minutes.each,
        splits=splits(moment, findings),
        lines=(
            *expected_lines(moment, findings, power_then(moment, candidate.key[0])),
            *(schools.told for schools in procedure.schools),
        ),
    )


def _title(moment: Moment, title: str, names: str, candidate: Candidate) -> str:
    """The step's title, with the part it is done at where there are several."""
    if "{place}" in title:
        return title.replace("{place}", names)
    several = len(moment.bench.grounded.places.of_kind([candidate.places[0].kind])) > 1
    if candidate.swept or not several:
        return title
    return f"{title.rstrip('?')} ({names})" + ("?" if title.endswith("?") else "")


def _first(moment: Moment, entry: Procedure | Repair) -> View | None:
    """What safety wants next on the way to a step; None where the step is in place."""
    step, safety = StepFacts.of(entry), moment.state.safety
    ask = safe_next(step, safety, moment.facts)
    if fits_tubes(step, safety) and not passed("G10", safety, moment.facts):
        ask = Ask("gate", WHY["G10"], gate="G10")  # proven under power, so before it is made safe
    return None if ask is None else _wanted_by_safety(moment, ask, entry, frozenset())


def _wanted_by_safety(
    moment: Moment, ask: Ask, entry: Procedure | Repair, asked: frozenset[str]
) -> View:
    """An act, or a gate with what has to come before its own proof."""
    if ask.kind != "gate":
        return _act(moment, ask, _name(entry))
    procedure = providers(moment.bench.knowledge).get(ask.gate)
    if procedure is None or ask.gate in ("G9", "G16") or ask.gate in asked:
        return _gate_fields(moment, ask.gate, (), _name(entry))
    before = safe_next(StepFacts.of(procedure), moment.state.safety, moment.facts)
    if before is None or before.gate == ask.gate:
        return _gate_fields(moment, ask.gate, tuple(procedure.steps), _name(entry))
    return _wanted_by_safety(moment, before, procedure, asked | {ask.gate})


def _name(entry: Procedure | Repair) -> str:
    return entry.title if isinstance(entry, Procedure) else entry.says


def _act(moment: Moment, ask: Ask, for_what: str) -> View:
    fields: tuple[tuple[str, str], ...] = ()
    if ask.kind == "discharged":
        fields = tuple((node, "V") for node in moment.facts.nodes)
    return View(
        "act",
        ask.text,
        power=power_of(moment),
        banner=banner_of(moment),
        why=f"On the way to: {for_what.replace('{place}', 'the part')}",
        act=ask.kind,
        ident=ask.kind,
        fields=fields,
        place=ask.tubes or ask.procedure,
    )


def says_of(moment: Moment, shown: View) -> dict[str, str]:
    """Named observations that an act itself means."""
    if shown.act == "tubes":
        return {"tubes": shown.place}
    if shown.act == "leads_clipped":
        return {"procedure": shown.place}
    if shown.act == "external_on":
        return {"level": "hazardous"}
    return {}


def _gate_fields(moment: Moment, gate: str, steps: tuple[str, ...], for_what: str) -> View:
    text = moment.bench.knowledge.gates[gate]
    fields = tuple(
        (
            field.name,
            "choice" if field.choices else "word" if field.words else field.unit or "number",
        )
        for field in text.fields
    )
    lines = [
        f"{field.name}: {field.asks}"
        + (
            " (" + "; ".join(f"{k} = {v}" for k, v in field.choices.items()) + ")"
            if field.choices
            else ""
        )
        for field in text.fields
    ]
    return View(
        "act",
        text.title,
        power=power_of(moment),
        banner=banner_of(moment),
        why=f"{text.why} Needed before: {for_what.replace('{place}', 'the part')}",
        how=tuple(text.how) or steps,
        act="gate",
        ident=gate,
        fields=fields,
        lines=tuple(lines),
    )


def _refused(moment: Moment, title: str, why: tuple[str, ...], ident: str) -> View:
    return View(
        "closed",
        f"Not possible here: {title}",
        power=power_of(moment),
        banner=banner_of(moment),
        why=" ".join(why),
        ident=ident,
        lines=tuple(sheet_lines(moment)),
        suspects=suspicions(moment),
    )


def _repair(moment: Moment, repair_id: str, place: str, why: str) -> View:
    repair = moment.bench.knowledge.repairs[repair_id]
    if repair.hand_over and moment.facts.skill != "technician":
        return _refused(
            moment,
            repair.says.replace("{place}", placed(moment, place)),
            ("This repair is for a technician.", why),
            repair_id,
        )
    waiting = _first(moment, repair)
    if waiting is not None:
        return waiting
    cleared = clear(repair, place, moment.state.safety, moment.facts)
    if not isinstance(cleared, Cleared):
        return _refused(moment, repair.says, cleared.reasons, repair_id)
    name = placed(moment, place)
    leading = next(
        (s for s in moment.assessment.suspects if s.repair == repair_id and s.place == place), None
    )
    title = repair.says.replace("{place}", name)
    return View(
        "repair",
        title,
        power=power_of(moment),
        banner=cleared.banner,
        why=(f"Found: {leading.says}. {why}" if leading else why),
        how=tuple(repair.steps),
        cautions=tuple(cleared.cautions),
        ident=repair_id,
        place=place,
        minutes=repair.minutes,
        lines=(
            *(f"Part: {part}" for part in repair.parts),
            *(schools.told for schools in repair.schools),
        ),
        good="Then it is proven: " + "; ".join(repair.proof),
    )


def _proof(moment: Moment) -> View:
    mended = moment.state.pending
    assert mended is not None
    repair = moment.bench.knowledge.repairs[mended.repair]
    trial = Procedure(
        id=PROVE,
        at=["amp"],
        title="Prove the repair",
        why="",
        power="idle",
        minutes=Minutes(setup=0.0, each=40.0),
        steps=["Listen and watch."],
        source=repair.source,
    )
    waiting = _first(moment, trial)
    if waiting is not None:
        return waiting
    cleared = clear(trial, "amp", moment.state.safety, moment.facts)
    if not isinstance(cleared, Cleared):
        return _refused(moment, "proving the repair", cleared.reasons, PROVE)
    return View(
        "proof",
        "Prove the repair under the complaint's own conditions",
        power=power_of(moment),
        banner=cleared.banner,
        how=tuple(repair.proof),
        ident=mended.repair,
        place=mended.place,
        why="Gone at once is strong, not proof: wait as long as the complaint used to take.",
    )


def declined_as(moment: Moment, shown: View) -> str | None:
    """What a 'cannot' stands for: a step at its place, a gate, or None where nothing else is left."""
    if shown.sort == "step":
        return f"{shown.ident}@{shown.place or '*'}"
    if shown.sort == "act":
        return f"gate:{shown.ident}" if shown.act == "gate" else _wanted(moment)
    return None


def _wanted(moment: Moment) -> str | None:
    advice = moment.assessment.advice
    if moment.state.pending is None and advice.move == "step" and advice.candidate is not None:
        return "@".join(advice.candidate.key)
    return None
