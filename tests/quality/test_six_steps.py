"""The printed six-step order: frozen, whole, and walked as it stands."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path

import pytest

import triage.quality.six_steps as six
from triage.errors import KnowledgeError
from triage.infer.ground import Grounded, ground
from triage.knowledge.load import Knowledge, load
from triage.plan.candidates import Candidate, ground_procedures

ROOT = Path(__file__).parents[2] / "knowledge"


@pytest.fixture(scope="module")
def kb() -> Knowledge:
    return load(ROOT)


@pytest.fixture(scope="module")
def order(kb: Knowledge) -> six.Order:
    return six.load_order(ROOT, kb)


@pytest.fixture(scope="module")
def amp(kb: Knowledge) -> Grounded:
    profile = kb.profiles["linden_hall"]
    owner = profile.owner.model_copy(
        update={
            "skill": "technician",
            "tools": sorted({t for p in kb.procedures.values() for t in p.tools.need} | {"scope"}),
        }
    )
    return ground(kb, profile.model_copy(update={"owner": owner}))


@pytest.fixture(scope="module")
def candidates(amp: Grounded) -> list[Candidate]:
    return ground_procedures(amp)


Said = Mapping[tuple[str, str], str]


def first(order: six.Order, known: Said, left: list[Candidate], amp: Grounded) -> Candidate:
    found = six.next_by_six_steps(order, known, left, six.wiring(amp.places))
    assert found is not None
    return found


def without(candidates: list[Candidate], *steps: int, order: six.Order) -> list[Candidate]:
    """Candidates of procedures that stand in none of these steps."""
    done = {ask.id for task in order.tasks(*steps) for ask in task.procedures}
    return [c for c in candidates if c.procedure.id not in done]


def test_file_is_the_frozen_one() -> None:
    """The order is byte for byte what was frozen before other orders were compared with it."""
    assert six.digest(ROOT) == (ROOT / six.HASH).read_text(encoding="utf-8").split()[0]


def test_steps_bear_the_printed_names_in_the_printed_order(order: six.Order) -> None:
    """Names of the six steps: NAVEDTRA 14191 p. 1-135 (5, 6 seen) and worksheet after it (1-4)."""
    assert [(step.step, step.name) for step in order.steps] == [
        (1, "symptom recognition"),
        (2, "symptom elaboration"),
        (4, "localizing the faulty function"),
        (5, "localizing trouble to the circuit"),
        (6, "failure analysis"),
    ]


def test_no_test_equipment_before_step_four(order: six.Order, kb: Knowledge) -> None:
    """Steps 1 and 2 need no meter and no open cabinet (NAVEDTRA 14191, as quoted)."""
    for task in order.tasks(1, 2):
        for ask in task.procedures:
            procedure = kb.procedures[ask.id]
            assert not procedure.opens, ask.id
            assert "multimeter" not in procedure.tools.need, ask.id


def test_every_yielding_procedure_is_reached(
    order: six.Order, amp: Grounded, candidates: list[Candidate]
) -> None:
    """With nothing known but candidates open, the walk ends only when all but the proof are done."""
    left = list(candidates)
    while (found := six.next_by_six_steps(order, {}, left, six.wiring(amp.places))) is not None:
        left.remove(found)
    assert {c.procedure.id for c in left} == {"prove_repair"}


def test_owner_is_asked_before_anything_is_done(
    order: six.Order, amp: Grounded, candidates: list[Candidate]
) -> None:
    """The first five steps of the walk on a blank job are questions of step 1, in printed order."""
    left, done = list(candidates), []
    for _ in range(4):
        done.append(first(order, {}, left, amp))
        left.remove(done[-1])
    assert [c.procedure.id for c in done] == [a.id for a in order.tasks(1)[0].procedures]


def test_memory_is_asked_before_the_amplifier_is_switched_on(
    order: six.Order, amp: Grounded, candidates: list[Candidate]
) -> None:
    """Of a look that can be recalled, the recalled one comes first, then the live one."""
    left = [c for c in candidates if c.procedure.id == "look_output_dark"]
    known = {("sound", "amp"): "distorted"}
    assert sorted(c.recalled for c in left) == [False, True]
    found = first(order, known, left, amp)
    assert found.recalled
    left.remove(found)
    assert not first(order, known, left, amp).recalled


def test_hum_questions_wait_for_hum(
    order: six.Order, amp: Grounded, candidates: list[Candidate]
) -> None:
    """In step 2 listening to hum is due only when hum is known."""
    left = [c for c in candidates if c.procedure.id in ("listen_hum", "read_b_plus")]
    assert first(order, {("hum", "amp"): "yes"}, left, amp).procedure.id == "listen_hum"
    assert first(order, {("sound", "x"): "silent"}, left, amp).procedure.id == "read_b_plus"


def test_located_supply_is_searched_before_other_functions(
    order: six.Order, amp: Grounded, candidates: list[Candidate]
) -> None:
    """Once B+ reads low, step 5 of the supply comes before the rest of step 4."""
    left = [c for c in candidates if c.procedure.id in ("inject_at_volume", "look_supply_parts")]
    silent = {("sound", "x"): "silent"}
    assert first(order, silent, left, amp).procedure.id == "inject_at_volume"
    low = {**silent, ("b_plus", "amp"): "low"}
    assert first(order, low, left, amp).procedure.id == "look_supply_parts"


@pytest.mark.parametrize(
    ("heard", "then"), [("silent", "signal_at_output_grid"), ("sounds", "read_wiper_dc")]
)
def test_signal_path_is_halved_at_the_volume_control(
    order: six.Order, amp: Grounded, candidates: list[Candidate], heard: str, then: str
) -> None:
    """Half-split (IT0338 frame 10): a signal there moves one or the other bracket."""
    left = [c for c in candidates if c.procedure.id in ("signal_at_output_grid", "read_wiper_dc")]
    known = {("sound", "x"): "silent", ("input_touched", "x"): heard}
    pick = six.next_by_six_steps(order, known, left, six.wiring(amp.places))
    assert pick is not None and pick.procedure.id == then


def test_pointed_place_and_its_neighbours_come_first(
    order: six.Order, amp: Grounded, candidates: list[Candidate]
) -> None:
    """A red plate brings the readings at that tube before those at its mates."""
    tubes = [c.places[0].id for c in candidates if c.procedure.id == "read_idle_current"]
    assert len(tubes) > 1
    left = without(candidates, 1, 2, order=order)
    for red in tubes:
        known = {("plate_colour", red): "red"}
        readings = [c for c in left if c.procedure.id == "read_idle_current"]
        assert first(order, known, readings, amp).places[0].id == red


def test_nothing_open_gives_nothing(order: six.Order) -> None:
    """An empty list of candidates has no next step."""
    assert six.next_by_six_steps(order, {("hum", "amp"): "yes"}, []) is None


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("finding: hum_here", "finding: hum_her", "unknown finding 'hum_her'"),
        ("[prove_meter]", "[prove_metre]", "unknown procedure 'prove_metre'"),
        ("is: [violet_between]", "is: [violet]", "'violet' is no answer of inner_glow"),
        ("id: it0338", "id: it0339", "unknown source 'it0339'"),
        ("function: mains", "function: main", "unknown function 'main'"),
        ("survey_resistors, ", "", "survey_resistors stands nowhere for sure"),
        (
            "survey_resistors, ",
            "survey_resistors, survey_resistors, ",
            "survey_resistors stands twice in one list",
        ),
        ("at: [output_tube]", "at: [cord]", "is not done at 'cord'"),
        ("rest_because", "rest_becaus", "Extra inputs"),
    ],
)
def test_mistakes_in_the_file_are_told_with_file_and_line(
    kb: Knowledge, tmp_path: Path, old: str, new: str, says: str
) -> None:
    """A misspelt word in the order names its line."""
    root = tmp_path / "knowledge"
    (root / "orders").mkdir(parents=True)
    shutil.copy(ROOT / six.FILE, root / six.FILE)
    text = (root / six.FILE).read_text(encoding="utf-8")
    assert old in text
    (root / six.FILE).write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(KnowledgeError) as caught:
        six.load_order(root, kb)
    told = [p for p in caught.value.problems if says in p.what]
    assert told and told[0].file == "knowledge/orders/six_steps.yaml"
    line = text.replace(old, new, 1).splitlines()[told[0].line - 1]
    assert (new or "rest: [") in line or (says.endswith("one list") and "rest: [" in line)
