"""Tube models: shape, slopes, stated misfits, behaviour at the edges."""

import math

import numpy as np
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from triage.errors import KnowledgeError
from triage.knowledge.paths import knowledge_dir
from triage.measure.koren import (
    Flow,
    TubeModel,
    flow,
    grid_current,
    load_models,
    model_of,
    sigmoid,
    softplus,
)
from triage.units import value_of

ROWS = yaml.safe_load((knowledge_dir() / "models.yaml").read_text(encoding="utf-8"))
SOURCES = {
    row["id"]
    for row in yaml.safe_load((knowledge_dir() / "sources.yaml").read_text(encoding="utf-8"))
}
MODELS = load_models(ROWS)
ALL = sorted(MODELS)
PENTODES = [name for name in ALL if MODELS[name].kind == "pentode"]
TRIODES = [name for name in ALL if MODELS[name].kind == "triode"]


@pytest.mark.parametrize("name", ALL)
def test_each_model_misses_its_named_points_by_what_it_states(name: str) -> None:
    """The misfit in the file is the one computed, to the printed hundredth."""
    model = MODELS[name]
    for row in model.misses:
        screen = value_of(row.screen_v, "V") if row.screen_v else 0.0
        here = flow(model, value_of(row.plate_v, "V"), value_of(row.grid_v, "V"), screen)
        assert float(here.plate) / value_of(row.sheet, "A") - 1 == pytest.approx(
            row.misfit, abs=0.0051
        )
        if row.screen_sheet is not None:
            found = float(here.screen) / value_of(row.screen_sheet, "A") - 1
            assert found == pytest.approx(row.screen_misfit, abs=0.0051)


@pytest.mark.parametrize("name", ALL)
def test_each_model_names_sources_that_exist(name: str) -> None:
    """Parameters and points say where they come from."""
    model = MODELS[name]
    assert {s.id for s in model.source} <= SOURCES
    assert {row.from_ for row in model.misses} <= SOURCES


def test_the_first_model_of_each_type_misses_by_less_than_a_third() -> None:
    """What a check uses without being told otherwise is no worse than tubes differ (30 %)."""
    for kind in {model.type for model in MODELS.values()}:
        found = model_of(MODELS, kind)
        assert found is not None and found.misfit < 0.30, kind


@pytest.mark.parametrize("name", ALL)
def test_slopes_are_those_of_finite_differences(name: str) -> None:
    """gm, gp, gs and the screen's slopes agree with central differences over the whole sheet."""
    model = MODELS[name]
    plate, grid, screen = np.meshgrid(
        [5.0, 40.0, 120.0, 300.0], [-30.0, -8.0, -2.0, -0.5, 0.7], [80.0, 250.0]
    )
    here, h = flow(model, plate, grid, screen), 1e-4

    def slope(of: str, dp: float, dg: float, ds: float) -> np.ndarray:
        up = getattr(flow(model, plate + dp, grid + dg, screen + ds), of)
        down = getattr(flow(model, plate - dp, grid - dg, screen - ds), of)
        return (up - down) / (2 * h)

    wanted = {
        "gm": slope("plate", 0, h, 0),
        "gp": slope("plate", h, 0, 0),
        "gs": slope("plate", 0, 0, h),
        "screen_gm": slope("screen", 0, h, 0),
        "screen_gs": slope("screen", 0, 0, h),
    }
    for part, expected in wanted.items():
        np.testing.assert_allclose(getattr(here, part), expected, rtol=2e-4, atol=3e-10)


@pytest.mark.parametrize("name", ALL)
@given(plate=st.floats(-1e4, 1e4), grid=st.floats(-1e4, 1e3), screen=st.floats(-1e4, 1e4))
@settings(max_examples=40, deadline=None)
def test_any_finite_volts_give_finite_currents_that_are_not_negative(
    name: str, plate: float, grid: float, screen: float
) -> None:
    """No overflow, no NaN, nothing below zero, however far off the volts are."""
    here = flow(MODELS[name], plate, grid, screen)
    assert all(np.isfinite(part).all() for part in here)
    assert here.plate >= 0 and here.screen >= 0
    if plate <= 0:
        assert here.plate == 0


@pytest.mark.parametrize("name", ALL)
def test_current_rises_with_every_voltage(name: str) -> None:
    """More plate, screen or grid volts never give less plate current."""
    model = MODELS[name]
    volts = np.linspace(0, 400, 81)
    assert (np.diff(flow(model, volts, -2.0, 250.0).plate) >= 0).all()
    assert (np.diff(flow(model, 250.0, np.linspace(-60, 0, 81), 250.0).plate) >= 0).all()
    assert (np.diff(flow(model, 250.0, -2.0, volts).plate) >= 0).all()


def test_the_arguments_broadcast_and_keep_their_shape() -> None:
    """A column of plate volts and a row of grid volts give a sheet of curves."""
    here = flow(MODELS["12ax7"], np.arange(0.0, 300.0, 50.0)[:, None], np.array([-3.0, -1.0]))
    assert isinstance(here, Flow)
    assert all(part.shape == (6, 2) for part in here)


def test_softplus_is_exact_where_the_plain_form_overflows_or_vanishes() -> None:
    """log(1 + exp(x)) at 1e4 is 1e4, at -700 it is exp(-700), and its slope is between 0 and 1."""
    np.testing.assert_allclose(
        softplus([1e4, 0.0, -700.0]), [1e4, math.log(2), math.exp(-700)], rtol=1e-15
    )
    np.testing.assert_allclose(sigmoid([-1e4, 0.0, 1e4]), [0, 0.5, 1])


def test_a_worn_tube_gives_its_share_of_every_current() -> None:
    """At 60 % emission plate and screen current and slopes are 60 %."""
    new, worn = MODELS["6l6gc"], MODELS["6l6gc"].giving(0.6)
    for part, other in zip(flow(new, 300, -20, 300), flow(worn, 300, -20, 300), strict=True):
        assert float(other) == pytest.approx(0.6 * float(part))
    with pytest.raises(ValueError, match="above zero"):
        new.giving(0.0)


def test_grid_current_sets_in_softly_and_ends_at_rgi() -> None:
    """None at -1 V, next to none at 0 V, and far up one more volt gives 1/rgi more."""
    current, slope = grid_current(MODELS["12ax7_koren"], [-1.0, 0.0, 5.0])
    assert current[0] < 1e-15 and current[1] < 1e-7
    assert slope[2] == pytest.approx(1 / 2000)


def test_models_are_found_by_type_with_free_spelling() -> None:
    """'12 ax7' finds the first 12AX7 set; another tube finds none."""
    found = model_of(MODELS, "12 ax7")
    assert found is not None and found.id == "12ax7"
    assert model_of(MODELS, "6XX6") is None


def test_two_models_of_one_id_are_refused() -> None:
    """An id stands once."""
    with pytest.raises(KnowledgeError, match="stands twice"):
        load_models([ROWS[0], ROWS[0]])


@pytest.mark.parametrize(
    ("change", "words"),
    [({"kg2": None}, "needs kg2"), ({"kvb": 0}, "kvb above zero"), ({"kind": "triode"}, "no kg2")],
)
def test_a_set_that_cannot_be_reckoned_with_is_refused(change: dict, words: str) -> None:
    """A pentode without kg2 or knee, a triode with kg2."""
    row = next(row for row in ROWS if row["id"] == "el34")
    with pytest.raises(ValueError, match=words):
        TubeModel.model_validate(row | change)
