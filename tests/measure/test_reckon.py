"""Checks as a table: every example runs, every wrong value is named, the JSON keeps its form."""

import json
import math
import shlex

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from triage.cli.reckon import shelf as real_shelf
from triage.cli.reckon import told
from triage.errors import BadReading, TriageError
from triage.measure.asked import Check
from triage.measure.checks import Shelf
from triage.measure.plots import Gauge, Graph
from triage.measure.reckon import CHECKS, find, reckon
from triage.measure.svg import svg
from triage.measure.textplot import text
from triage.terminal.style import Look

KEYS = {
    "check", "inputs", "result", "unit", "u", "also", "steps", "verdict", "rests_on", "marks",
    "lines",
}  # fmt: skip
SHELF: Shelf = real_shelf()
WITHOUT_FILES = sorted(name for name, check in CHECKS.items() if not check.files)


def example(check: Check) -> dict[str, str]:
    return dict(word.split("=", 1) for word in shlex.split(check.example))


@pytest.mark.parametrize("name", WITHOUT_FILES)
def test_every_example_runs_and_says_something(name: str) -> None:
    """Each check answers its own example with a sentence, and with a number or lines."""
    out = reckon(name, example(CHECKS[name]), SHELF).outcome
    assert (
        out.verdict.endswith((".", "!", ")"))
        and out.verdict[0].isupper() | out.verdict[0].isdigit()
    ), out.verdict
    assert out.result is not None or out.lines
    if out.result is not None:
        assert math.isfinite(out.result.value) and out.steps and out.rests_on


@pytest.mark.parametrize("name", WITHOUT_FILES)
def test_every_example_uses_all_values_it_names(name: str) -> None:
    """No example carries a value that the check leaves lying."""
    marks = reckon(name, example(CHECKS[name]), SHELF).outcome.marks
    assert not [mark for mark in marks if "was not used" in mark]


@pytest.mark.parametrize("name", WITHOUT_FILES)
def test_the_json_form_is_stable_and_plain(name: str) -> None:
    """The keys are fixed, numbers are finite or null, and it survives a round trip."""
    found = reckon(name, example(CHECKS[name]), SHELF).as_dict()
    assert set(found) == KEYS
    again = json.loads(json.dumps(found, allow_nan=False))
    assert again == found
    assert found["check"] == name and set(example(CHECKS[name])) <= set(found["inputs"])


@pytest.mark.parametrize("name", sorted(n for n, c in CHECKS.items() if c.draws))
def test_every_check_that_draws_has_a_picture_for_page_and_terminal(name: str) -> None:
    """Its example's picture is an SVG and fits a terminal in ASCII."""
    picture = reckon(name, example(CHECKS[name]), SHELF).outcome.picture
    assert isinstance(picture, (Gauge, Graph))
    assert svg(picture).startswith("<svg ")
    lines = text(picture, 79, 20, ascii_only=True)
    assert all(len(line) <= 79 and line.isascii() for line in lines), lines


@pytest.mark.parametrize("unicode", [True, False])
@pytest.mark.parametrize("name", WITHOUT_FILES)
def test_every_screen_fits_eighty_columns_in_any_alphabet(name: str, unicode: bool) -> None:
    """Lines are broken after signs were put into words, which are longer."""
    screen = told(reckon(name, example(CHECKS[name]), SHELF), True, Look(unicode=unicode))
    assert max(len(line) for line in screen.splitlines()) <= 80
    assert unicode or screen.isascii()


@pytest.mark.parametrize(
    ("name", "formula"),
    [
        ("reactance", "1/(2pi x f x C)"),
        ("discharge", "V^2/R"),
        ("power", "P = V^2/R"),
        ("filter", "(2pi x f)^2 x L x C"),
        ("fuse", "A^2s"),
    ],
)
def test_a_formula_stays_right_without_unicode(name: str, formula: str) -> None:
    """No pi is lost and no square turns into a factor of two in plain letters."""
    screen = told(reckon(name, example(CHECKS[name]), SHELF), True, Look(unicode=False))
    assert formula in " ".join(screen.split())


@pytest.mark.parametrize("size", ["1e-320", "1e308", "-1e-200", "1e250", "9e99", "-1e-30"])
@pytest.mark.parametrize("name", WITHOUT_FILES)
def test_sizes_that_no_bench_has_are_refused_by_name(name: str, size: str) -> None:
    """Floats that arithmetic cannot bear are refused where they are typed, in every number."""
    check = CHECKS[name]
    for param in check.all_params():
        if param.sort == "number":
            typed = example(check) | {param.name: f"{size} {param.unit}".strip()}
            with pytest.raises(BadReading, match=f"{param.name}|the number is too"):
                reckon(name, typed, SHELF)


@pytest.mark.parametrize("name", WITHOUT_FILES)
def test_a_value_left_empty_counts_as_left_out(name: str) -> None:
    """``bias=`` takes the default, or is said to be missing; it is no word of its own."""
    check = CHECKS[name]
    for param in check.all_params():
        emptied = example(check) | {param.name: " "}
        without = {key: text for key, text in example(check).items() if key != param.name}
        assert answer(name, emptied) == answer(name, without)


def answer(name: str, typed: dict[str, str]) -> str:
    try:
        return reckon(name, typed, SHELF).outcome.verdict
    except TriageError as error:
        return str(error)


def test_a_discharge_says_what_comes_back_and_what_the_resistor_must_be() -> None:
    """509 V on an electrolytic: up to 51 V come back; an element for 764 V, on for 30 s."""
    also = dict(reckon("discharge", example(CHECKS["discharge"]), SHELF).outcome.also)
    film = reckon("discharge", example(CHECKS["discharge"]) | {"kind": "polypropylene"}, SHELF)
    assert also["may come back, up to"].value == pytest.approx(50.9)
    assert also["resistor rated, at least"].value == pytest.approx(763.5)
    assert also["hold it on, at least"].value == 30.0
    assert dict(film.outcome.also)["may come back, up to"].value == pytest.approx(0.509)


@pytest.mark.parametrize(("winding", "told_of"), [("360 V", False), ("500 V", True)])
def test_a_winding_above_the_rectifiers_ac_limit_is_named(winding: str, told_of: bool) -> None:
    """A 5U4GB takes 450 V a plate into a capacitor; its inverse limit alone lets 500 V pass."""
    typed = example(CHECKS["rectifier"]) | {"winding": winding}
    verdict = reckon("rectifier", typed, SHELF).outcome.verdict
    assert ("AC volts a plate 500 V, limit 450 V: over" in verdict) == told_of


def test_inverse_volts_are_told_where_they_are_highest() -> None:
    """360 V a plate: 1018 V without load, which the limit is about, not what this load leaves."""
    also = dict(reckon("rectifier", example(CHECKS["rectifier"]), SHELF).outcome.also)
    assert also["inverse peak, no load"].value == pytest.approx(1018, abs=1)
    assert also["inverse peak, this load"].value < also["inverse peak, no load"].value


@pytest.mark.parametrize("name", WITHOUT_FILES)
def test_no_check_has_a_picture_it_does_not_tell_of(name: str) -> None:
    """The help offers --plot where there is something to see."""
    out = reckon(name, example(CHECKS[name]), SHELF).outcome
    assert CHECKS[name].draws == (out.picture is not None)


@pytest.mark.parametrize("name", WITHOUT_FILES)
def test_a_missing_value_is_named_with_an_example_that_is_accepted(name: str) -> None:
    """Without its first needed value each check says which is missing."""
    needed = [p for p in CHECKS[name].params if p.default is None]
    if not needed:
        pytest.fail(f"{name} needs nothing: what does it reckon?")
    with pytest.raises(BadReading, match=f"'{needed[0].name}' is missing"):
        reckon(name, {}, SHELF)


@pytest.mark.parametrize("name", WITHOUT_FILES)
def test_an_unknown_value_is_refused_with_the_nearest_name(name: str) -> None:
    """A misspelt key offers the right one."""
    first = CHECKS[name].params[0].name
    with pytest.raises(BadReading, match=f"takes no such value.*'{first}'"):
        reckon(name, {f"{first}x": "1"}, SHELF)


@pytest.mark.parametrize("name", WITHOUT_FILES)
def test_rubbish_in_any_number_is_a_named_error(name: str) -> None:
    """Words, another unit and nothing where a number is due are refused by the value's name."""
    check = CHECKS[name]
    for param in check.params:
        if param.sort != "number":
            continue
        for rubbish in ("plenty", "47 parsec", "1e999"):
            with pytest.raises(TriageError, match=param.name):
                reckon(name, example(check) | {param.name: rubbish}, SHELF)


@pytest.mark.parametrize("name", WITHOUT_FILES)
@given(data=st.data())
@settings(max_examples=12, deadline=None)
def test_any_numbers_give_a_verdict_or_a_named_error(name: str, data: st.DataObject) -> None:
    """Whatever numbers are typed, nothing crashes and nothing that is not a number comes out."""
    check = CHECKS[name]
    typed = example(check)
    for param in check.params:
        if param.sort == "number" and param.name in typed:
            value = data.draw(st.sampled_from([-1e9, -40.0, -1.0, 0.0, 1e-9, 0.5, 3.0, 250.0, 1e9]))
            unit = {"S": "S"}.get(param.unit, param.unit)
            typed[param.name] = f"{value!r} {unit}".strip()
    try:
        out = reckon(name, typed, SHELF).outcome
    except TriageError as error:
        assert len(str(error)) > 10
        return
    assert out.verdict
    if out.result is not None:
        assert not math.isnan(out.result.value)


def test_a_check_that_is_not_there_offers_the_nearest() -> None:
    """'idel' is answered with 'idle', 'grid_return' is found with a stroke."""
    with pytest.raises(BadReading, match="did you mean 'idle'"):
        find("idel")
    assert find("grid_return") is CHECKS["grid-return"]


def test_the_meter_makes_the_uncertainty() -> None:
    """The same 5.8 V is surer from a digital than from a moving-coil meter."""
    typed = {"volts": "5.8 V", "rated": "6.3 V"}
    sharp = reckon("heater", typed, SHELF).outcome.result
    blunt = reckon("heater", typed | {"meter": "moving_coil_20k"}, SHELF).outcome.result
    assert sharp is not None and blunt is not None and blunt.total_u > 2 * sharp.total_u


def test_a_meter_that_does_not_bear_the_volts_is_named() -> None:
    """402 V on a meter rated 20 V: said beside the result."""
    typed = example(CHECKS["idle"]) | {"meter": "small_mv"}
    marks = reckon("idle", typed, SHELF).outcome.marks
    assert any("'small_mv' is rated 20 V" in mark for mark in marks)
    assert not any(
        "is rated" in mark for mark in reckon("idle", example(CHECKS["idle"]), SHELF).outcome.marks
    )


def test_an_unknown_meter_or_tube_offers_the_nearest() -> None:
    """Misspelt names are corrected, not guessed."""
    with pytest.raises(BadReading, match="did you mean 'digital'"):
        reckon("heater", {"volts": "6 V", "meter": "digitl"}, SHELF)
    with pytest.raises(BadReading, match="did you mean '6L6GC'"):
        reckon("heater", {"volts": "6 V", "tube": "6L6CG"}, SHELF)


def test_current_without_a_unit_is_refused() -> None:
    """35 could be A or mA: it is asked for with its unit."""
    with pytest.raises(BadReading, match="unit is missing"):
        reckon("emission", {"current": "35", "expected": "48 mA"}, SHELF)


def test_a_rising_reading_is_marked() -> None:
    """'47 mV rising' is reckoned with, and said to be unsettled."""
    typed = example(CHECKS["idle"]) | {"volts": "470 mV rising"}
    marks = reckon("idle", typed, SHELF).outcome.marks
    assert any("volts was rising" in mark for mark in marks)


def test_a_written_tolerance_becomes_uncertainty() -> None:
    """10 ± 1 % enters as a rectangular limit, and 5 % more than 1 %."""
    one, five = (
        reckon("idle", example(CHECKS["idle"]) | {"ohm": f"10 ± {p} %"}, SHELF).outcome
        for p in (1, 5)
    )
    assert one.result is not None and five.result is not None
    assert five.result.total_u > one.result.total_u


def test_limits_from_memory_are_marked() -> None:
    """A grid-return limit that nobody read in its sheet says so, and opens no gate."""
    marks = reckon("grid-return", example(CHECKS["grid-return"]), SHELF).outcome.marks
    assert any("from memory" in mark and "opens no gate" in mark for mark in marks)
