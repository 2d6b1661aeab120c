"""The form of an owner's circuit: what it asks, takes and refuses; the nearest circuit; source loops."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.circuit.simulator import knowledge
from triage.circuit.form import PAGE, Form, form_of
from triage.circuit.nearest import features, ranked
from triage.circuit.netlist import build, catalogue
from triage.circuit.own_file import text_of
from triage.circuit.table import table
from triage.errors import BadReading, CircuitError
from triage.knowledge.load import read_circuit
from triage.model.circuit import CircuitSpec

NAMES = ("dance_band", "grandmothers_console", "linden_hall", "practice_amp", "shelf_set")


def form(name: str = "practice_amp") -> Form:
    """The form begun from a built-in circuit."""
    base = knowledge()
    return form_of(base.circuits[name], catalogue(base.plain))


def asked(start: Form, path: tuple[str, ...]) -> Form:
    """The form at the item of this path, everything before it kept."""
    while start.item is not None and start.item.path != path:
        start, _ = start.answer("")
    assert start.item is not None
    return start


@pytest.mark.parametrize("name", NAMES)
def test_a_form_in_which_all_is_kept_gives_the_same_circuit(name: str, tmp_path: Path) -> None:
    """Every part, supply and tube is asked once; kept, the written file solves alike."""
    start = done = form(name)
    while done.item is not None:
        done, remark = done.answer("unknown")
        assert remark == ""
    file = tmp_path / "kept.yaml"
    file.write_text(text_of(done.row()), encoding="utf-8")
    spec, base = read_circuit(file), start.base
    mine, theirs = build(spec, start.models), build(base, start.models)

    paths = [item.path for item in start.items]
    assert len(paths) == len(set(paths))
    assert {path[1] for path in paths if path[0] in ("parts", "tubes", "supplies")} == {
        *base.parts, *base.tubes, *base.supplies}  # fmt: skip
    pages = [item.page for item in start.items]
    assert max(map(pages.count, pages)) <= PAGE
    assert pages == sorted(pages, key=pages.index)
    assert np.array_equal(mine.siemens, theirs.siemens) and mine.nodes == theirs.nodes
    assert spec.amplifier is None and spec.parts == base.parts and spec.tubes == base.tubes


@pytest.mark.parametrize(("path", "typed", "kept"), [
    (("parts", "R8", "value"), "4k7", "4.7 kohm"), (("parts", "R8", "value"), "270", "270 ohm"),
    (("parts", "R8", "value"), "R47", "470 mohm"), (("parts", "R1", "value"), "1M5", "1.5 Mohm"),
    (("parts", "C7", "value"), "0.022 µF", "22 nF"), (("parts", "C7", "value"), ".047 mfd", "47 nF"),
    (("supplies", "HT", "winding"), "310", "310 V"), (("parts", "T2", "ohm"), "0,2k", "200 ohm"),
    (("tubes", "V1a", "type"), "ecc83", "ECC83"), (("circuit",), "My Amp!", "my_amp")])  # fmt: skip
def test_values_are_taken_as_they_are_written_on_the_bench(
    path: tuple[str, ...], typed: str, kept: str
) -> None:
    """Engineers' forms, old ones too, are kept in one plain form that the file format reads."""
    here, _ = asked(form(), path).answer(typed)

    assert here.values == {path: kept}
    assert build(CircuitSpec.model_validate(here.row()), here.models).spec.circuit


@pytest.mark.parametrize(("path", "typed", "told"), [
    (("parts", "R8", "value"), "-470", "from 10 mΩ to 1 GΩ"),
    (("parts", "R8", "value"), "0", "nothing was changed"),
    (("parts", "R8", "value"), "brown", "no number was found"),
    (("parts", "R8", "value"), "47 nF", "this is in F, but ohm is asked for"),
    (("parts", "R8", "value"), "1 to 2 k", "one plain value"),
    (("parts", "R8", "value"), "OL", "one plain value"),
    (("parts", "C7", "value"), "0.022", "from 1 pF to"),
    (("tubes", "V2", "type"), "12AX7", "it is a triode, and V2 is wired as a pentode"),
    (("tubes", "V2", "type"), "807", "there is no model of it"),
    (("circuit",), "???", "needs letters")])  # fmt: skip
def test_a_bad_value_is_refused_with_what_where_and_how_and_changes_nothing(
    path: tuple[str, ...], typed: str, told: str
) -> None:
    """The message names the value typed, the reason and an example; the form stays where it is."""
    here = asked(form(), path)
    here, _ = asked(form(), ("line", "nominal")).answer("117 V")
    here = asked(here if path != ("circuit",) else form(), path)
    with pytest.raises(BadReading, match="Write for example") as caught:
        here.answer(typed)

    assert told in str(caught.value) and f"'{typed}'" in str(caught.value)
    assert here.item is not None and here.item.path == path
    assert dict(here.values) == ({} if path == ("circuit",) else {("line", "nominal"): "117 V"})


def test_back_asks_the_value_before_again_and_shows_what_was_given() -> None:
    """A given value can be given again; kept after going back, it stays as given."""
    here, _ = asked(form(), ("parts", "R8", "value")).answer("390")
    here = here.back()

    assert here.item is not None and here.now(here.item) == "390 ohm"
    kept, _ = here.answer("")
    assert kept.values[("parts", "R8", "value")] == "390 ohm"
    assert form().back().at == 0


def test_a_value_far_from_the_built_in_one_is_taken_with_a_remark() -> None:
    """47k for 470 ohm may be a slip of the pen: it is said, not refused."""
    here, remark = asked(form(), ("parts", "R8", "value")).answer("47k")

    assert "100 times more than 470 ohm" in remark and "back" in remark
    assert here.values[("parts", "R8", "value")] == "47 kohm"


def test_a_part_is_told_by_where_it_stands() -> None:
    """Electrodes, ground and supply in words; a coupling capacitor stands with the grid it feeds."""
    items = {item.path[1]: item for item in form().items if item.path[0] == "parts"}

    assert items["R8"].says == "R8 (resistor), cathode of V2 to ground"
    assert items["C7"].says == "C7 (capacitor), plate of V1b to grid of V2"
    assert items["T2"].says == "T2 (winding), supply HT (b1) to plate of V2"
    assert items["C7"].page.startswith("Around V2") and items["R20"].page.startswith("Supply")


@pytest.mark.parametrize("name", NAMES)
def test_what_is_true_of_a_circuit_finds_it(name: str) -> None:
    """Its own output stage, rectifier, bias and tubes, under other names, rank it first."""
    base = knowledge()
    models, spec = catalogue(base.plain), base.circuits[name]
    tubes = tuple(tube.type.lower() for tube in spec.tubes.values())

    assert ranked(base.circuits, features(spec), tubes, models)[0].name == name


def test_the_features_read_off_the_built_in_circuits_are_theirs() -> None:
    """Two windings of one transformer: push-pull; two transformers: two single-ended channels."""
    said = {name: features(knowledge().circuits[name]) for name in NAMES}

    assert {n for n in NAMES if said[n]["output"] == "push_pull"} == {"dance_band", "linden_hall"}
    assert {n for n in NAMES if said[n]["rectifier"] == "silicon"} == {"dance_band"}
    assert {n for n in NAMES if said[n]["bias"] == "fixed"} == {"dance_band", "linden_hall"}


def test_other_names_of_a_tube_and_nothing_known_are_ranked_too() -> None:
    """6BQ5 is an EL84; with nothing said every circuit is offered, none ahead."""
    base = knowledge()
    models = catalogue(base.plain)

    assert ranked(base.circuits, {}, ("6BQ5",), models)[0].name == "grandmothers_console"
    assert {row.score for row in ranked(base.circuits, {}, (), models)} == {0.0}


def two_supplies(node: str, **parts: dict[str, object]) -> CircuitSpec:
    """HT at b, a second supply at ``node``, a bleeder, and more parts."""
    supply = {"kind": "bridge", "winding": "200 V", "source": "20 ohm", "reservoir": "50 uF"}
    bleeder = {"kind": "resistor", "value": "47 kohm", "nodes": ["b", "chassis"]}
    return CircuitSpec.model_validate({
        "circuit": "mine", "says": "two supplies", "line": {"nominal": "230 V", "hertz": "50 Hz"},
        "supplies": {"HT": supply | {"node": "b"}, "AUX": supply | {"node": node}},
        "parts": {"R1": bleeder, **parts}, "tubes": {},
        "source": [{"id": "judgement", "because": "made for a test"}],
    })  # fmt: skip


def link(ohm: str) -> dict[str, object]:
    """A resistor between the two supplies."""
    return {"kind": "resistor", "value": ohm, "nodes": ["b", "c"]}


@pytest.mark.parametrize(("spec", "told"), [
    (two_supplies("b"), "supplies HT and AUX feed one node"),
    (two_supplies("chassis"), "supply AUX feeds 'chassis', which is ground"),
    (two_supplies("c", R2=link("0 ohm")), "supplies HT and AUX feed one node"),
    (two_supplies("c", R2=link("0"), R3={"kind": "winding", "ohm": "1 mohm",
        "nodes": ["c", "chassis"]}), "which is ground")])  # fmt: skip
def test_a_loop_of_sources_is_told_in_words(spec: CircuitSpec, told: str) -> None:
    """Two supplies at one node, or one at ground, also over a part of next to no ohms."""
    with pytest.raises(CircuitError, match="loop of sources") as caught:
        build(spec, {})

    assert told in str(caught.value)


def test_two_supplies_with_a_resistor_between_them_are_no_loop() -> None:
    """1 ohm between them is enough to decide who gives how much."""
    assert build(two_supplies("c", R2=link("1 ohm")), {}).supplies == ("HT", "AUX")


def test_the_example_in_the_page_for_contributors_is_solved(tmp_path: Path) -> None:
    """The smallest file of DEVELOPERS.md is right as it stands there."""
    page = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")
    example = next(block for block in page.split("```") if "circuit: mine" in block)
    file = tmp_path / "mine.yaml"
    file.write_text(example.removeprefix("yaml\n"), encoding="utf-8")
    rows = table(build(read_circuit(file), catalogue(knowledge().plain)))

    assert {row.point for row in rows} >= {"HT", "V1 plate", "V1 cathode"}
