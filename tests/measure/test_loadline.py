"""Load lines: points satisfy their own equations, and move the way amplifiers do."""

import math
from itertools import pairwise

import pytest
import yaml
from hypothesis import example, given, settings
from hypothesis import strategies as st

from triage.knowledge.paths import knowledge_dir
from triage.measure.koren import flow, load_models
from triage.measure.loadline import (
    Output,
    Stage,
    idle_point,
    operating_point,
    pair_power,
    single_power,
)
from triage.measure.roots import root

MODELS = load_models(yaml.safe_load((knowledge_dir() / "models.yaml").read_text(encoding="utf-8")))
TRIODES = sorted(name for name, model in MODELS.items() if model.kind == "triode")


@given(
    name=st.sampled_from(TRIODES),
    supply=st.floats(50, 500),
    load=st.floats(1e3, 1e6),
    cathode=st.floats(0, 20e3),
    bias=st.floats(-20, 0),
)
@settings(max_examples=80, deadline=None)
@example(name="6dj8", supply=50.0, load=1e3, cathode=2.225073858507e-311, bias=-4.0)
def test_a_triode_point_lies_on_both_its_lines(
    name: str, supply: float, load: float, cathode: float, bias: float
) -> None:
    """Plate = supply - I load, cathode = I cathode resistor, and I is the model's current."""
    point = operating_point(MODELS[name], Stage(supply, load, cathode, bias_v=bias))
    assert point.plate_v == pytest.approx(supply - point.plate_a * load, abs=1e-5 * supply)
    assert point.cathode_v == pytest.approx(point.plate_a * cathode, abs=1e-5 * supply)
    own = flow(MODELS[name], point.plate_v - point.cathode_v, point.grid_v)
    assert point.plate_a == pytest.approx(float(own.plate), rel=1e-6, abs=1e-12)


def test_a_pentode_stage_with_a_screen_resistor_lies_on_all_three_lines() -> None:
    """EF86, 250 V, 100k, 390k to the screen, 1k: plate, screen and cathode agree with the model."""
    point = operating_point(MODELS["ef86"], Stage(250.0, 100e3, 1000.0, screen_ohm=390e3))
    assert point.screen_v == pytest.approx(250 - point.screen_a * 390e3, abs=1e-4)
    assert point.cathode_v == pytest.approx((point.plate_a + point.screen_a) * 1000, abs=1e-6)
    assert 20 < point.plate_v < 230 and 20 < point.screen_v < 200


def test_gains_are_those_of_small_steps_of_the_whole_stage() -> None:
    """Unbypassed gain and cathode volts agree with moving the grid by a millivolt."""
    for name, stage in (
        ("12ax7", Stage(300, 100e3, 1500)),
        ("6sn7gt", Stage(344, 47e3, 1500)),
        ("ef86", Stage(250, 100e3, 1000, screen_v=100.0)),
    ):
        step = 1e-3
        here = operating_point(MODELS[name], stage)
        up, down = (
            operating_point(MODELS[name], Stage(**{**vars(stage), "bias_v": sign * step}))
            for sign in (1, -1)
        )
        found = (down.plate_v - up.plate_v) / (2 * step)
        assert found == pytest.approx(here.gain_unbypassed, rel=1e-3)


def test_a_triodes_gains_follow_the_textbook_forms() -> None:
    """mu R/(rp + R) bypassed; mu R/(rp + R + (mu + 1) Rk) unbypassed; rp || R (textbook forms)."""
    point = operating_point(MODELS["12ax7"], Stage(300, 100e3, 1500, next_ohm=220e3))
    load = 100e3 * 220e3 / 320e3
    assert point.gain_bypassed == pytest.approx(point.mu * load / (point.rp + load))
    assert point.gain_unbypassed == pytest.approx(
        point.mu * load / (point.rp + load + (point.mu + 1) * 1500)
    )
    assert point.out_ohm_bypassed == pytest.approx(1 / (1 / point.rp + 1 / 100e3))
    raised = point.rp + (point.mu + 1) * 1500
    assert point.out_ohm_unbypassed == pytest.approx(1 / (1 / raised + 1 / 100e3))


def test_a_worn_tube_draws_less_and_its_plate_rises() -> None:
    """Each step of wear raises the plate and lowers the cathode."""
    points = [
        operating_point(MODELS["12ax7"].giving(share), Stage(300, 100e3, 1500))
        for share in (1.0, 0.7, 0.4)
    ]
    assert [p.plate_v for p in points] == sorted(p.plate_v for p in points)
    assert [p.cathode_v for p in points] == sorted((p.cathode_v for p in points), reverse=True)


def test_two_tubes_on_one_cathode_resistor_stand_like_each_on_twice_of_it() -> None:
    """The pair on 130 ohm idles as one tube on 260 ohm."""
    pair = idle_point(MODELS["el84"], Output(310, 100, 8000, cathode_ohm=130, shared=2))
    one = idle_point(MODELS["el84"], Output(310, 100, 8000, cathode_ohm=260))
    assert pair == one


def test_more_bias_means_less_dissipation_in_plate_and_screen() -> None:
    """A colder bias lowers every current of the tube."""
    points = [
        idle_point(MODELS["6l6gc"], Output(404, 100, 6600, bias_v=bias, screen_ohm=470))
        for bias in (-32.0, -36.0, -40.0, -44.0)
    ]
    for warm, cold in pairwise(points):
        assert warm.dissipation_w > cold.dissipation_w and warm.screen_w > cold.screen_w


def test_power_of_a_single_tube_is_bounded_by_half_its_idle_dissipation() -> None:
    """Class A gives at most half of what the plate takes at idle, and something."""
    output = Output(262, 200, 5200, cathode_ohm=180, screen_v=252)
    watts, top, bottom = single_power(MODELS["el84"], output)
    idle = idle_point(MODELS["el84"], output)
    assert 0.2 < watts / idle.dissipation_w <= 0.55
    assert bottom < idle.plate_a < top


def test_a_pair_into_twice_the_load_reaches_the_knee_with_less_current() -> None:
    """The peak current falls with the plate-to-plate load."""
    peaks = [
        pair_power(MODELS["6l6gc"], Output(404, 100, load, bias_v=-38.7))[1]
        for load in (3300.0, 6600.0, 13200.0)
    ]
    assert peaks == sorted(peaks, reverse=True)


@pytest.mark.parametrize(
    ("values", "word"),
    [
        ({"supply_v": 0.0}, "supply_v"),
        ({"load_ohm": -1.0}, "load_ohm"),
        ({"cathode_ohm": -5.0}, "cathode_ohm"),
        ({"screen_ohm": math.inf}, "screen_ohm"),
        ({"next_ohm": 0.0}, "next_ohm"),
        ({"supply_v": math.nan}, "supply_v"),
    ],
)
def test_a_value_out_of_range_is_refused_by_its_name(values: dict, word: str) -> None:
    """No NaN comes out of a stage that cannot be."""
    with pytest.raises(ValueError, match=word):
        Stage(**({"supply_v": 300.0, "load_ohm": 100e3} | values))


def test_no_tube_on_a_cathode_resistor_is_refused() -> None:
    """Nought tubes share nothing."""
    with pytest.raises(ValueError, match="at least one tube"):
        idle_point(MODELS["el84"], Output(300, 100, 8000, cathode_ohm=130, shared=0))


def test_the_root_finder_takes_steep_flat_and_falling_functions() -> None:
    """A cube, an exponential and a falling line, each to 1e-9; unbracketed is an error."""
    assert root(lambda x: x**3 - 2, 0, 10) == pytest.approx(2 ** (1 / 3), abs=1e-9)
    assert root(lambda x: math.exp(x) - 1e6, 0, 50) == pytest.approx(math.log(1e6), abs=1e-9)
    assert root(lambda x: 3 - x, 0, 3) == 3
    assert root(lambda x: 1e-313 - x, 0, 50) == pytest.approx(0.0, abs=1e-9)  # halves to zero
    with pytest.raises(ValueError, match="no root"):
        root(lambda x: 1.0, 0, 1)
