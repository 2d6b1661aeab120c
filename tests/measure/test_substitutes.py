"""Substitutions: worked out of the data, held against what the trade says and against a run in time."""

import itertools
import math
from dataclasses import replace

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from triage.knowledge.paths import knowledge_dir
from triage.measure.rectifier_swap import b_plus_shift, hot_switch_a
from triage.measure.substitutes import Circumstances, substitute
from triage.measure.trade_swaps import load_swaps, run_swap
from triage.measure.tube_entry import TubeType
from triage.measure.tubes import find_tube, load_tubes


def rows(pattern: str) -> list[dict]:
    files = sorted(knowledge_dir().glob(pattern))
    return [row for file in files for row in yaml.safe_load(file.read_text(encoding="utf-8"))]


ROWS = rows("tubes/*.yaml")
TUBES = load_tubes(ROWS)
KINDS = list({tube.id: tube for tube in TUBES.values()}.values())
SWAPS = load_swaps(ROWS)
SOURCES = {row["id"] for row in rows("sources.yaml")}
RANK = {"safe": 0, "with_changes": 1, "unsafe": 2}


def tube(name: str) -> TubeType:
    found = find_tube(TUBES, name)
    assert found is not None
    return found


def levels(found, about: str) -> list[str]:
    return [reason.level for reason in found.reasons if reason.about == about]


@pytest.mark.parametrize("swap", SWAPS, ids=lambda swap: swap.id)
def test_what_the_trade_says_is_what_is_worked_out(swap) -> None:
    """Verdict and deciding reason of each stated substitution follow from the data."""
    found = run_swap(swap, TUBES)
    assert found.verdict == swap.verdict
    worst = found.reasons[0].level if swap.verdict != "safe" else None
    assert swap.about in {
        reason.about for reason in found.reasons if worst is None or reason.level == worst
    }


def test_stated_substitutions_are_well_formed() -> None:
    """Ids are their own, sources listed, and all three verdicts occur."""
    assert len({swap.id for swap in SWAPS}) == len(SWAPS) >= 30
    assert {source.id for swap in SWAPS for source in swap.source} <= SOURCES
    assert {swap.verdict for swap in SWAPS} == set(RANK)


def test_a_type_that_is_not_there_is_named() -> None:
    """A stated substitution of an unknown type is an error that names it."""
    wrong = SWAPS[0].model_copy(update={"use": "9ZZ9"})
    with pytest.raises(KeyError, match="9ZZ9"):
        run_swap(wrong, TUBES)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.id)
def test_each_type_is_safe_for_itself(kind: TubeType) -> None:
    """Any type may take its own place."""
    assert substitute(kind, kind).verdict == "safe"


def test_all_pairs_give_a_verdict_with_reasons() -> None:
    """Every pair of types, either way, has a verdict that is its worst reason."""
    for old, new in itertools.permutations(KINDS, 2):
        found = substitute(old, new)
        worst = {reason.level for reason in found.reasons}
        assert (found.verdict == "unsafe") is ("bad" in worst)
        assert (found.verdict == "safe") is not bool({"bad", "change"} & worst)
        assert all(reason.says for reason in found.reasons)
        assert found.sources() <= SOURCES


def test_a_rectifier_never_stands_in_for_an_amplifying_tube() -> None:
    """5U4GB in a 6L6GC socket is unsafe, and the other way round."""
    assert substitute(tube("6L6GC"), tube("5U4GB")).verdict == "unsafe"
    assert substitute(tube("5U4GB"), tube("6L6GC")).verdict == "unsafe"


def test_pins_that_move_are_named_one_by_one() -> None:
    """7591A in a 6L6GC socket: pins 5 and 8 are told, with what was there and what comes."""
    found = substitute(tube("6L6GC"), tube("7591A"))
    assert "pin 5: grid in the old, cathode in the new tube" in found.why("bad")
    assert "pin 8: cathode in the old, screen in the new tube" in found.why("bad")


def test_a_suppressor_pin_wants_a_wire() -> None:
    """An EL34 in a 6L6 socket: join pin 1 to the cathode. The other way nothing is needed there."""
    there = substitute(tube("6L6GC"), tube("EL34"))
    back = substitute(tube("EL34"), tube("6L6GC"))
    assert levels(there, "pins") == ["change"] and levels(back, "pins") == ["differs"]


@pytest.mark.parametrize(
    ("spare", "level"), [(None, "change"), ("much", "good"), ("little", "bad")]
)
def test_heater_amperes_are_held_against_the_winding(spare: str | None, level: str) -> None:
    """0.45 A more: to be looked up, allowed with 1 A to spare, refused with 0.2 A."""
    amps = {"much": 1.0, "little": 0.2, None: None}[spare]
    found = substitute(tube("6V6"), tube("6L6GC"), Circumstances(winding_spare_a=amps))
    assert levels(found, "heater") == [level]


def test_in_a_series_string_amperes_must_agree() -> None:
    """50C5 for 50L6GT: another base but one string current; 25L6GT burns or starves the string."""
    string = Circumstances(series_string=True)
    assert "bad" not in levels(substitute(tube("50L6GT"), tube("50C5"), string), "heater")
    assert levels(substitute(tube("50L6GT"), tube("25L6GT"), string), "heater") == ["bad", "bad"]


def test_a_12_volt_heater_on_a_six_volt_winding_takes_its_other_way() -> None:
    """12AX7 and 12AU7 sockets wired for 6.3 V and for 12.6 V suit each other."""
    for winding in (6.3, 12.6):
        found = substitute(tube("12AX7"), tube("12AU7"), Circumstances(winding_v=winding))
        assert levels(found, "heater") == ["good"]


def test_grid_return_is_held_against_the_bias_in_use() -> None:
    """94 kohm under a 6550: refused with fixed bias (50 kohm), fine with cathode bias (250)."""
    old, new = tube("6L6GC"), tube("6550")
    fixed = Circumstances(bias="fixed", grid_return_ohm=94e3)
    assert levels(substitute(old, new, fixed), "grid_return") == ["bad"]
    cathode = replace(fixed, bias="cathode")
    assert levels(substitute(old, new, cathode), "grid_return") == ["good"]


def test_an_unknown_limit_is_never_good() -> None:
    """No cathode current limit of the 6L6GC is known: with or without a reading it is to be looked up."""
    for given_a in (None, 0.05):
        found = substitute(tube("EL34"), tube("6L6GC"), Circumstances(cathode_a=given_a))
        assert levels(found, "cathode_ma") == ["change"]


def test_rating_systems_are_brought_to_one_before_they_are_compared() -> None:
    """12 W design maximum is less than 12 W design centre."""
    found = substitute(tube("EL84"), tube("6973"))
    assert levels(found, "plate_w") == ["change"]


def test_a_filament_where_a_heater_was_raises_b_plus_at_once() -> None:
    """5U4GB for GZ34 at 360 V: 535 V on 450 V capacitors is refused, 600 V capacitors bear it."""
    known = Circumstances(supply_vrms=360.0, capacitor_v=450.0)
    found = substitute(tube("GZ34"), tube("5U4GB"), known)
    assert levels(found, "warm_up") == ["bad"]
    assert any("535 V" in says for says in found.why("bad"))
    found = substitute(tube("GZ34"), tube("5U4GB"), replace(known, capacitor_v=600.0))
    assert levels(found, "warm_up") == ["good"]


def test_inverse_volts_count_twice_the_peak_at_high_line() -> None:
    """340 V a plate is 1010 V inverse at high line: too much for the EZ80's 1000 V; 330 V is not."""
    for vrms, level in ((340.0, "bad"), (330.0, "good")):
        found = substitute(tube("EZ81"), tube("EZ80"), Circumstances(supply_vrms=vrms))
        assert levels(found, "inverse_v") == [level]


def test_a_sliding_limit_is_told_from_end_to_end() -> None:
    """GZ34 for 5U4GB with nothing known: both rows of both, not the last one as if it held always."""
    found = substitute(tube("5U4GB"), tube("GZ34")).why("change")
    assert any("50 ohm at 300 V to 175 ohm at 550 V" in says for says in found)
    known = Circumstances(supply_vrms=300.0, source_ohm=60.0)
    assert levels(substitute(tube("5U4GB"), tube("GZ34"), known), "source_ohm_min") == ["good"]


def test_a_choke_input_asks_nothing_of_first_capacitor_or_source() -> None:
    """5R4GY for 5U4GB into a choke: neither capacitor nor source resistance speaks."""
    choke = Circumstances(filter_input="choke", first_cap_f=80e-6, dc_a=0.1)
    found = substitute(tube("5U4GB"), tube("5R4GY"), choke)
    assert levels(found, "first_cap") == levels(found, "source_ohm_min") == []


def test_a_reversed_swap_reverses_the_shift() -> None:
    """What B+ gains one way it loses the other."""
    there = b_plus_shift(tube("5U4GB"), tube("GZ34"), 0.1)
    back = b_plus_shift(tube("GZ34"), tube("5U4GB"), 0.1)
    assert there is not None and back is not None
    assert (there.low_v, there.high_v) == pytest.approx((-back.high_v, -back.low_v))
    assert b_plus_shift(tube("5U4GB"), tube("UY85"), 0.1) is None


def test_hot_switching_obeys_source_and_tube_together() -> None:
    """The surge of a 5U4GB at 360 V and 76 ohm drops the crest in both, and less ohm makes it more."""
    kind = tube("5U4GB")
    surge = hot_switch_a(kind, 360.0, 76.0)
    assert surge is not None
    crest = 360.0 * math.sqrt(2) * 1.05
    assert surge * 76.0 + 50.0 * (surge / 0.275) ** (2 / 3) == pytest.approx(crest, rel=1e-6)
    assert (hot_switch_a(kind, 360.0, 30.0) or 0.0) > surge
    assert hot_switch_a(tube("UY85"), 230.0, 100.0) is None


def test_a_surge_above_the_sheet_forbids_hot_switching() -> None:
    """A GZ34 at 350 V and 125 ohm stays within its 3.7 A hot; at 20 ohm it does not."""
    known = Circumstances(supply_vrms=350.0, source_ohm=125.0)
    found = substitute(tube("5U4GB"), tube("GZ34"), known)
    assert levels(found, "transient_ma") == ["good"]
    found = substitute(tube("5U4GB"), tube("GZ34"), replace(known, source_ohm=20.0))
    assert levels(found, "transient_ma") == ["change"]


def supply_v(perveance: float, load_a: float) -> float:
    """Mean B+ of a full-wave supply run in time: 360 V and 76 ohm a plate, 40 uF, 60 Hz.

    Child's law with its perveance solved by bisection at each of 3000 steps a cycle.
    """
    peak, source, farad, step = 360.0 * math.sqrt(2), 76.0, 40e-6, 1 / 60 / 3000
    volts, total = 380.0, 0.0
    for n in range(24 * 3000):
        drive = abs(peak * math.sin(2 * math.pi * 60 * n * step)) - volts
        amps = 0.0
        if drive > 0:
            low, high = 0.0, drive / source
            for _ in range(24):
                amps = (low + high) / 2
                if (amps / perveance) ** (2 / 3) + amps * source > drive:
                    high = amps
                else:
                    low = amps
        volts += step * (amps - load_a) / farad
        if n >= 20 * 3000:
            total += volts / 4 / 3000
    return total


def test_the_shift_agrees_with_a_supply_run_in_time() -> None:
    """5U4GB to GZ34 at 105 mA: the estimate is at or above the run, by no more than half."""
    before, after = tube("5U4GB").drop, tube("GZ34").drop
    assert before is not None and after is not None
    run = supply_v(0.225 / 17**1.5, 0.105) - supply_v(0.275 / 50**1.5, 0.105)
    shift = b_plus_shift(tube("5U4GB"), tube("GZ34"), 0.105)
    assert shift is not None
    assert 0.67 * shift.low_v <= run <= shift.high_v


@given(
    st.sampled_from(KINDS),
    st.sampled_from(KINDS),
    st.floats(50, 800),
    st.floats(0.01, 0.4),
    st.floats(1e-6, 2e-4),
)
def test_more_stress_never_makes_a_verdict_better(old, new, volts, amps, farad) -> None:
    """Raising volts, amperes and microfarads all at once leaves a verdict or worsens it."""
    mild = Circumstances(plate_v=volts, screen_v=volts, supply_vrms=volts, dc_a=amps,
                         first_cap_f=farad, bias="fixed", grid_return_ohm=1e5, source_ohm=100.0)  # fmt: skip
    harsh = replace(mild, plate_v=2 * volts, screen_v=2 * volts, supply_vrms=2 * volts,
                    first_cap_f=2 * farad, grid_return_ohm=2e5)  # fmt: skip
    before, after = substitute(old, new, mild), substitute(old, new, harsh)
    assert RANK[after.verdict] >= RANK[before.verdict]
