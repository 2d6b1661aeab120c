"""Lists a person may ask for at any time: suspects, reasons, what is left, the order, the sheet."""

from __future__ import annotations

import math

from triage.assess import reasons, says
from triage.evidence.readings import unit_of
from triage.job.desk import Moment
from triage.job.gatekeeper import providers
from triage.job.view import Suspicion
from triage.job.wording import banner_of, placed, told
from triage.plan.repeats import SURPRISED
from triage.units import format_si


def splits(moment: Moment, findings: tuple[int, ...]) -> tuple[str, ...]:
    """How each answer would leave the two leading suspects, in words."""
    if len(findings) != 1:
        return ()
    state, grounded = moment.assessment.state, moment.bench.grounded
    column = state.column(findings[0])
    top = [s.row for s in moment.assessment.suspects[:2]]
    lines = []
    for i, answer in enumerate(grounded.instances[findings[0]].answers):
        after = column[i] * state.posterior
        total = float(after.sum())
        if total > 1e-6:
            shares = ", ".join(f"{says(grounded, row)} {after[row] / total:.0%}" for row in top)
            lines.append(f"{answer.replace('_', ' ')}: {shares}")
    return tuple(lines)


def expected_lines(moment: Moment, findings: tuple[int, ...], then: str) -> tuple[str, ...]:
    """What a sound amplifier of this circuit reads at each place of a step, with its band.

    ``then`` is the power state of the step.
    """
    grounded = moment.bench.grounded
    lines = []
    for f in findings:
        finding, place = grounded.instances[f].key
        band = moment.expected(finding, place, then)
        if band is None:
            continue
        unit = unit_of(grounded.instances[f].finding) or "V"
        mid, low, high = (format_si(v, unit) for v in (band.mid, band.low, band.high))
        lines.append(f"Expected at {placed(moment, place)}: {mid} (nine of ten: {low} to {high})")
    return tuple(lines)


def suspicions(moment: Moment) -> tuple[Suspicion, ...]:
    """Kinds first, places inside; nothing wrong and 'not in these files' as rows of their own."""
    found = assessment_rows(moment)
    return tuple(sorted(found, key=lambda s: -s.p)[:8])


def assessment_rows(moment: Moment) -> list[Suspicion]:
    """All rows of the suspects screen, unsorted."""
    assessed = moment.assessment
    rows = []
    for kind in assessed.kinds[:12]:
        places = tuple((s.p, s.says) for s in kind.suspects[:3])
        text = (
            kind.suspects[0].says
            if len(kind.suspects) == 1 or (kind.suspects[0].p > 0.8 * kind.p)
            else f"{kind.label}: {kind.repair.replace('_', ' ')}"
        )
        rows.append(Suspicion(kind.p, text, places))
    grounded, state = moment.bench.grounded, assessed.state
    for pair in assessed.pairs[:1]:
        odds = math.exp(min(pair.log - state.total_log, 50.0))
        both = f"two at once: {says(grounded, pair.a)}; and {says(grounded, pair.b)}"
        if odds / (1.0 + odds) > 0.1:
            rows.append(Suspicion(odds / (1.0 + odds), both))
    rows.append(Suspicion(assessed.healthy, "nothing is wrong with the amplifier"))
    rows.append(Suspicion(assessed.unknown, "something that is not in these files"))
    return rows


def reason_lines(moment: Moment, index: int) -> tuple[str, ...]:
    """For and against the suspect at ``index`` of the suspects screen."""
    shown = suspicions(moment)
    if not 0 <= index < len(shown):
        return ("There is no such suspect.",)
    suspect = next(
        (
            s
            for s in moment.assessment.suspects
            if shown[index].places and s.says == shown[index].places[0][1]
        ),
        None,
    )
    if suspect is None:
        return ("It stands where the others leave it.",)
    lines = []
    for reason in reasons(moment.assessment, suspect.row)[:8]:
        if abs(reason.weight) < 0.02:
            continue
        side = "for" if reason.weight > 0 else "against"
        lines.append(f"{side} (x {10 ** abs(reason.weight):.1f}): {reason.text}")
    if moment.assessment.surprise > SURPRISED:
        lines.append(
            f"Together these findings are {10**moment.assessment.surprise:.0f} times "
            "rarer than apart: one may be wrong, or there are two faults."
        )
    return tuple(lines) or ("Nothing found so far speaks for or against it.",)


def left_lines(moment: Moment) -> tuple[str, ...]:
    """Steps that could still be done, best first, with their worth."""
    lines = []
    for option in moment.assessment.advice.options[:10]:
        candidate = option.priced.candidate
        place = "all" if candidate.swept else candidate.places[0].name
        lines.append(
            f"{candidate.procedure.title} ({place}): worth {option.value:.0f}, price "
            f"{option.priced.cost:.0f} minutes"
        )
    return tuple(lines) or ("Nothing is left to ask.",)


def order_lines(moment: Moment, depth: int) -> list[str]:
    """The order of the best steps, safety first, as far as is known now."""
    from triage.plan.order import order_graph, safest_order  # loads networkx: only when asked for

    advice = moment.assessment.advice
    repair = None
    if moment.assessment.suspects:
        leading = moment.assessment.suspects[0]
        repair = moment.bench.knowledge.repairs[leading.repair]
    graph = order_graph(
        advice.options[: max(3, 3 * depth)],
        providers(moment.bench.knowledge),
        moment.state.safety,
        moment.facts,
        repair,
    )
    lines = [
        "Safety first, then least contact, then worth for its price. It changes with every answer."
    ]
    stage = ""
    for n, row in enumerate(safest_order(graph), start=1):
        if row.stage != stage:
            stage = row.stage
            lines.append(f"-- {stage} --")
        worth = "" if row.worth is None else f", worth {row.worth:.0f}"
        lines.append(
            f"{n}. {row.title.replace('{place}', 'the part')} ({row.price:.0f} min{worth})"
        )
    return lines


def sheet_lines(moment: Moment) -> list[str]:
    """Hand-over sheet: what was done, read and suspected, and why it stopped."""
    state = moment.state
    lines = [
        "HAND-OVER SHEET",
        f"Amplifier: {moment.bench.profile.amplifier}",
        *banner_of(moment),
        "Told and found:",
    ]
    for given in state.latest().values():
        typed = f" ({given.typed})" if given.typed else ""
        lines.append(f"- {told(moment, given.finding, given.place, given.answer)}{typed}")
    for mended in state.mended:
        lines.append(
            f"- repaired: {mended.repair.replace('_', ' ')} at "
            f"{placed(moment, mended.place)}: proof {mended.proof or 'not tried'}"
        )
    lines += [f"- note: {note}" for note in state.notes]
    if state.closed == "repaired":
        return lines
    lines.append("Suspects:")
    lines += [f"- {s.p:.0%} {s.text}" for s in suspicions(moment)[:5]]
    return lines
