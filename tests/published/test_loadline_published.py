"""Load lines and tube models against numbers printed elsewhere; each case names its source.

A model is not its sheet: tolerances are those which ``knowledge/models.yaml`` states, or wider where
the printed figure is itself a reading (power at 10 % distortion).
"""

import pytest
import yaml

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
from triage.measure.stages import triode_gain

MODELS = load_models(yaml.safe_load((knowledge_dir() / "models.yaml").read_text(encoding="utf-8")))
STECK = "D. Steck, Analog and Digital Electronics, ch. 6, p. 171-176, eq. 6.3-6.42"
CURVES = "Plate curves of the 6SL7GT on a public page"
ARTICLES = "encyclopaedia articles quoting the makers' sheets"
SHEETS = "Makers' data sheets, from memory"
CHART = "Resistance-coupled amplifier chart of a receiving tube manual, from memory"
BENCH = "Operating points of the demo amplifiers, reckoned in the bench review"


def case(kind: str, source: str, *values):
    return pytest.param(*values, marks=pytest.mark.published(kind, source))


def book():
    return operating_point(MODELS["12ax7_koren"], Stage(330.0, 100e3, 1500.0))


def on_the_line(plate_v: float, plate_a: float) -> float:
    """Plate volts of a 6SL7GT on 250 V and 100k, at the grid where it draws this at that."""
    model = MODELS["6sl7gt"]
    grid = root(lambda v: float(flow(model, plate_v, v).plate) - plate_a, -10.0, 0.0)
    return operating_point(model, Stage(250.0, 100e3, bias_v=grid)).plate_v


def book_gain(cathode: float) -> float:
    """Gain as the book reckons it: mu of 100, rp = mu/gm."""
    return triode_gain(100.0, 100.0 / book().gm, 100e3, cathode).value


@pytest.mark.parametrize(
    ("ours", "published", "within"),
    [
        case("seen", f"{STECK}: plate current", lambda: book().plate_a, 1.07e-3, 0.005),
        case("seen", f"{STECK}: plate to cathode",
             lambda: book().plate_v - book().cathode_v, 221.0, 0.002),
        case("seen", f"{STECK}: grid to cathode", lambda: book().grid_v, -1.61, 0.003),
        case("seen", f"{STECK}: gm", lambda: book().gm, 1880e-6, 0.003),
        case("seen", f"{STECK}: rp = mu/gm", lambda: 100.0 / book().gm, 53.3e3, 0.003),
        case("seen", f"{STECK}: gain unbypassed", lambda: book_gain(1500.0), 33.0, 0.01),
        case("seen", f"{STECK}: gain bypassed", lambda: book_gain(0.0), 65.0, 0.01),
        case("seen", "A stored test of a 12AX7 at 250 V, 0 V, rough hand value 6.66 mA",
             lambda: float(flow(MODELS["12ax7_koren"], 250.0, 0.0).plate), 6.66e-3, 0.03),
        case("seen", f"{CURVES}: 250 V over 100k crosses 0.93 mA at 157 V",
             lambda: on_the_line(157.0, 0.93e-3), 157.0, 1e-4),
    ],
)  # fmt: skip
def test_the_published_stage_is_found(ours, published: float, within: float) -> None:
    """Root, slopes and gains of the published 12AX7 stage."""
    assert ours() == pytest.approx(published, rel=within)


@pytest.mark.parametrize(
    ("grid", "plate", "milliampere"),
    [
        case("seen", f"{CURVES}: {grid} V, {plate} V", grid, plate, ma)
        for grid, points in (
            (0.0, ((97, 2.0), (140, 3.0), (180, 4.0))),
            (-1.0, ((110, 1.0), (163, 2.0), (210, 3.0), (250, 4.0))),
            (-2.0, ((185, 1.0), (235, 2.0), (280, 3.0))),
        )
        for plate, ma in points
    ],
)
def test_the_6sl7gt_follows_its_published_curves(
    grid: float, plate: float, milliampere: float
) -> None:
    """Ten points of the curves within the 17 % that the model states."""
    model = MODELS["6sl7gt"]
    found = float(flow(model, plate, grid).plate) * 1e3
    assert found == pytest.approx(milliampere, rel=model.misfit + 0.005)


@pytest.mark.parametrize(
    ("name", "point", "current", "gm", "mu"),
    [
        case("seen", f"12AX7 250 V -2 V: {ARTICLES}", "12ax7", (250, -2, 0), 1.2, 1.6, 100),
        case("seen", f"6SN7GT 250 V -8 V: {ARTICLES}", "6sn7gt", (250, -8, 0), 9.0, 2.6, 20),
        case("memory", f"12AU7 250 V -8.5 V: {SHEETS}", "12au7", (250, -8.5, 0), 10.5, 2.2, 17),
        case("memory", f"12AX7 100 V -1 V: {SHEETS}", "12ax7", (100, -1, 0), 0.5, 1.25, 100),
        case("memory", f"6SL7GT 250 V -2 V: {SHEETS}", "6sl7gt", (250, -2, 0), 2.3, 1.6, 70),
        case("memory", f"6DJ8 90 V -1.3 V: {SHEETS}", "6dj8_refit", (90, -1.3, 0), 15.0, 12.5, 33),
        case("memory", f"12AU7 100 V 0 V: {SHEETS}", "12au7", (100, 0, 0), 11.8, 3.1, 19.5),
        case("memory", f"6SN7GT 90 V 0 V: {SHEETS}", "6sn7gt", (90, 0, 0), 10.0, 3.0, 20),
    ],
)
def test_triode_models_give_current_gm_and_mu_of_the_sheet(
    name: str, point: tuple[float, float, float], current: float, gm: float, mu: float
) -> None:
    """Current within the stated misfit; gm and mu, which differ less, within 20 %."""
    here = flow(MODELS[name], *point)
    assert float(here.plate) * 1e3 == pytest.approx(current, rel=MODELS[name].misfit + 0.005)
    assert float(here.gm) * 1e3 == pytest.approx(gm, rel=0.20)
    assert float(here.gm / here.gp) == pytest.approx(mu, rel=0.20)


@pytest.mark.parametrize(
    ("name", "point", "current", "gm"),
    [
        case("seen", f"6L6GC 350/250 V -18 V: {ARTICLES}", "6l6gc", (350, -18, 250), 54, None),
        case("seen", f"EL84 250/250 V, gm: {ARTICLES}", "el84", (250, -7.3, 250), None, 11.3),
        case("memory", f"6L6GC 250/250 V -14 V: {SHEETS}", "6l6gc", (250, -14, 250), 72, 6.0),
        case("memory", f"6V6GT 250/250 V -12.5 V: {SHEETS}", "6v6gt", (250, -12.5, 250), 45, 4.1),
        case("memory", f"6V6GT 315/225 V -13 V: {SHEETS}", "6v6gt", (315, -13, 225), 34, 3.75),
        case("memory", f"EL34 250/250 V -13.5 V: {SHEETS}", "el34", (250, -13.5, 250), 100, 11.0),
        case("memory", f"6550 250/250 V -14 V: {SHEETS}", "6550", (250, -14, 250), 140, 11.0),
        case("memory", f"6550 400/225 V -16.5 V: {SHEETS}", "6550", (400, -16.5, 225), 87, 9.0),
        case("memory", f"KT88 250/250 V -15 V: {SHEETS}", "kt88", (250, -15, 250), 140, 11.5),
        case("memory", f"EF86 250/140 V -2 V: {SHEETS}", "ef86", (250, -2, 140), 3.0, 2.0),
        case("memory", f"5881 250/250 V -14 V: {SHEETS}", "5881", (250, -14, 250), 75, 6.1),
    ],
)
def test_pentode_models_give_current_and_gm_of_the_sheet(
    name: str, point: tuple[float, float, float], current: float | None, gm: float | None
) -> None:
    """Current within the stated misfit, gm within 15 %."""
    here = flow(MODELS[name], *point)
    if current is not None:
        assert float(here.plate) * 1e3 == pytest.approx(current, rel=MODELS[name].misfit + 0.005)
    if gm is not None:
        assert float(here.gm) * 1e3 == pytest.approx(gm, rel=0.15)


@pytest.mark.parametrize(
    ("name", "stage", "gain", "within"),
    [
        case("memory", f"{CHART}: 12AX7, 300 V, 0.1M, 0.22M, 1500 ohm", "12ax7",
             Stage(300.0, 100e3, 1500.0, next_ohm=220e3), 57.0, 0.12),
        case("memory", f"{CHART}: 12AX7, 300 V, 0.22M, 0.47M, 3100 ohm", "12ax7",
             Stage(300.0, 220e3, 3100.0, next_ohm=470e3), 70.0, 0.12),
        case("memory", f"{CHART}: 12AX7, 300 V, 0.1M, 0.22M, the article's set", "12ax7_koren",
             Stage(300.0, 100e3, 1500.0, next_ohm=220e3), 57.0, 0.12),
        case("practice", f"{BENCH}: 6SN7 47k 1k5 at 344 V, gain about 16", "6sn7gt",
             Stage(344.0, 47e3, 1500.0, next_ohm=1e6), 16.0, 0.05),
        case("practice", f"{BENCH}: 6SL7 220k 2k7 at 288 V, gain about 58", "6sl7gt",
             Stage(288.0, 220e3, 2700.0), 58.0, 0.05),
    ],
)  # fmt: skip
def test_bypassed_gains_agree_with_charts(
    name: str, stage: Stage, gain: float, within: float
) -> None:
    """Gain of a resistance-coupled stage, cathode bypassed."""
    assert operating_point(MODELS[name], stage).gain_bypassed == pytest.approx(gain, rel=within)


@pytest.mark.parametrize(
    ("name", "stage", "plate", "cathode", "milliampere"),
    [
        case("practice", f"{BENCH}: console ECC83, 240 V, 100k, 1k5", "12ax7_koren",
             Stage(240.0, 100e3, 1500.0), (163, 163), (1.15, 1.15), 0.77),
        case("practice", f"{BENCH}: hall V1, 288 V, 220k, 2k7", "6sl7gt",
             Stage(288.0, 220e3, 2700.0), (146, 163), (1.6, 1.8), 0.6),
        case("practice", f"{BENCH}: hall V2a, 344 V, 47k, 1k5", "6sn7gt",
             Stage(344.0, 47e3, 1500.0), (166, 166), (5.7, 5.7), 3.8),
        case("practice", f"{BENCH}: hall V2b, split load 22k/22k and 1k5", "6sn7gt",
             Stage(344.0, 22e3, 23.5e3, bias_v=86.0), (258, 258), (92, 92), 3.9),
    ],
)  # fmt: skip
def test_small_stages_of_the_demo_amplifiers_settle_where_reckoned(
    name: str,
    stage: Stage,
    plate: tuple[float, float],
    cathode: tuple[float, float],
    milliampere: float,
) -> None:
    """Plate within 2 %, cathode within 3 %, current within 10 % of the other reckoning."""
    point = operating_point(MODELS[name], stage)
    assert 0.98 * plate[0] <= point.plate_v <= 1.02 * plate[1]
    assert 0.97 * cathode[0] <= point.cathode_v <= 1.03 * cathode[1]
    assert point.plate_a * 1e3 == pytest.approx(milliampere, rel=0.10)


@pytest.mark.parametrize(
    ("name", "output", "milliampere", "cathode"),
    [
        case("practice", f"{BENCH}: console EL84, 180 ohm", "el84",
             Output(262.0, 200.0, 5200.0, cathode_ohm=180.0, screen_v=252.0), 39.7, 7.9),
        case("practice", f"{BENCH}: practice amplifier 6V6, 470 ohm", "6v6gt",
             Output(318.0, 200.0, 5000.0, cathode_ohm=470.0, screen_v=303.0), 36.0, 18.3),
        case("practice", f"{BENCH}: hall 6L6GC at -38.7 V", "6l6gc",
             Output(404.0, 100.0, 6600.0, bias_v=-38.7, screen_ohm=470.0), 44.0, None),
        case("memory", f"EL84 pair, 300 V, 130 ohm: 2 x 36 mA: {SHEETS}", "el84",
             Output(300.0, 1.0, 8000.0, cathode_ohm=130.0, shared=2), 36.0, None),
        case("memory", f"6L6GC pair, 450/400 V, -37 V: 2 x 58 mA: {SHEETS}", "6l6gc",
             Output(450.0, 1.0, 5600.0, bias_v=-37.0, screen_v=400.0), 58.0, None),
        case("memory", f"6V6GT pair, 285 V, -19 V: 2 x 35 mA: {SHEETS}", "6v6gt",
             Output(285.0, 1.0, 8000.0, bias_v=-19.0), 35.0, None),
    ],
)  # fmt: skip
def test_output_tubes_idle_where_sheets_and_the_bench_say(
    name: str, output: Output, milliampere: float, cathode: float | None
) -> None:
    """Idle current of each tube within 15 %, cathode volts within 3 %."""
    point = idle_point(MODELS[name], output)
    assert point.plate_a * 1e3 == pytest.approx(milliampere, rel=0.15)
    if cathode is not None:
        assert point.cathode_v == pytest.approx(cathode, rel=0.03)


@pytest.mark.parametrize(
    ("name", "output", "watts"),
    [
        case("seen", f"6L6GC pair 450/400 V 5.6k, 55 W: {ARTICLES}", "6l6gc",
             Output(450.0, 1.0, 5600.0, bias_v=-37.0, screen_v=400.0), 55.0),
        case("seen", f"EL84 pair 300 V 8k, 17 W: {ARTICLES}", "el84",
             Output(300.0, 1.0, 8000.0, cathode_ohm=130.0, shared=2), 17.0),
        case("memory", f"6L6GC pair 360/270 V 6.6k, 26.5 W: {SHEETS}", "6l6gc",
             Output(360.0, 1.0, 6600.0, bias_v=-22.5, screen_v=270.0), 26.5),
        case("memory", f"6V6GT pair 285 V 8k, 14 W: {SHEETS}", "6v6gt",
             Output(285.0, 1.0, 8000.0, bias_v=-19.0), 14.0),
        case("memory", f"6550 pair 600/300 V 5k, 100 W: {SHEETS}", "6550",
             Output(600.0, 1.0, 5000.0, bias_v=-33.0, screen_v=300.0), 100.0),
    ],
)  # fmt: skip
def test_pairs_give_the_power_of_the_sheet(name: str, output: Output, watts: float) -> None:
    """Power up to grid current within 20 %: the sheet's tube sags and its load is real."""
    assert pair_power(MODELS[name], output)[0] == pytest.approx(watts, rel=0.20)


@pytest.mark.parametrize(
    ("name", "output", "watts"),
    [
        case("seen", f"EL84 250 V 4.5k, 5.7 W at 10 %: {ARTICLES}", "el84",
             Output(250.0, 1.0, 4500.0, bias_v=-7.3), 5.7),
        case("memory", f"6L6GC 250 V 2.5k, 6.5 W: {SHEETS}", "6l6gc",
             Output(250.0, 1.0, 2500.0, bias_v=-14.0), 6.5),
        case("memory", f"6L6GC 350/250 V 4.2k, 10.8 W: {SHEETS}", "6l6gc",
             Output(350.0, 1.0, 4200.0, bias_v=-18.0, screen_v=250.0), 10.8),
        case("memory", f"6V6GT 250 V 5k, 4.5 W: {SHEETS}", "6v6gt",
             Output(250.0, 1.0, 5000.0, bias_v=-12.5), 4.5),
        case("memory", f"EL34 250 V 2k, 11 W: {SHEETS}", "el34",
             Output(250.0, 1.0, 2000.0, bias_v=-13.5), 11.0),
        case("memory", f"6550 250 V 1.5k, 12.5 W: {SHEETS}", "6550",
             Output(250.0, 1.0, 1500.0, bias_v=-14.0), 12.5),
        case("memory", f"5881 250 V 2.5k, 6.7 W: {SHEETS}", "5881",
             Output(250.0, 1.0, 2500.0, bias_v=-14.0), 6.7),
    ],
)  # fmt: skip
def test_single_tubes_give_the_power_of_the_sheet(name: str, output: Output, watts: float) -> None:
    """Class A power within 30 %, never above by more than 10 %: sheets count distortion in."""
    assert 0.70 * watts <= single_power(MODELS[name], output)[0] <= 1.10 * watts
