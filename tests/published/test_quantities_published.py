"""Formulas against numbers printed elsewhere.

Each case names what was read, or says "from memory" or "common practice, no source".
"""

import pytest

from tests.published.rows import memory, practice, seen
from triage.measure import (
    currents,
    decibels,
    grids,
    line,
    loading,
    output,
    ripple,
    safety_checks,
    stages,
)
from triage.measure.quantity import Quantity

LECTURE = "angelfire.com funwithtubes, Basics 04 Triodes, example"
OT = "regiscoyne.com unknownOT"
BENCH = "bench practice, worked out for it"


MA = 1e-3
NUMBERS = [
    # loading
    seen(
        "electronica.guru question 60452: 4.65 V behind 820 kΩ reads 2.555 V on 1 MΩ",
        loading.loaded(4.65, 820e3, 1e6),
        2.555,
        1e-3,
    ),
    seen(
        "viztrainings.org 21022318, a 100 Ω voltmeter: 10 Ω with it is 9.09 Ω",
        loading.parallel(10, 100),
        9.09,
        1e-3,
    ),
    seen(
        "same: 5 V behind 1 Ω, read over 10 Ω, 4.5 V",
        loading.divider(5.0, 1.0, loading.parallel(10, 100).quantity),
        4.5,
        2e-3,
    ),
    seen(
        "curioustab.com 49395: 20 kΩ with a 10 kΩ/V meter on 10 V is 16.7 kΩ",
        loading.parallel(20e3, 100e3),
        16.7e3,
        3e-3,
    ),
    seen("same: with a 1 kΩ/V meter on 10 V 6.7 kΩ", loading.parallel(20e3, 10e3), 6.7e3, 6e-3),
    seen(
        "NEETS module 3, figure 1-28 (rfcafe.com): 1 kΩ, 10 V movement reads 100 V with 9 kΩ",
        loading.divider(100.0, 9e3, 1e3),
        10.0,
        1e-9,
    ),
    memory(
        "arithmetic: 250 V, 100 kΩ, 1.2 mA read with 5 MΩ is 129.0 V",
        loading.loaded(130.0, loading.parallel(100e3, 62.5e3), 5e6),
        129.0,
        5e-4,
    ),
    memory(
        "same with 10 MΩ is 129.5 V",
        loading.loaded(130.0, loading.parallel(100e3, 62.5e3), 10e6),
        129.5,
        5e-4,
    ),
    memory(
        "arithmetic: behind 1 MΩ a 10 MΩ meter shows 90.9 %",
        loading.loaded(1, 1e6, 10e6),
        0.909,
        1e-3,
    ),
    practice(
        f"{BENCH}: -40 V behind 220 kΩ with 50 kΩ is -7.4 V",
        loading.loaded(-40.0, 220e3, 50e3),
        -7.4,
        2e-3,
    ),
    practice(f"{BENCH}: with 1 MΩ it is -32.8 V", loading.loaded(-40.0, 220e3, 1e6), -32.8, 1e-3),
    # stages
    seen(
        f"{LECTURE} 4.1: 220 kΩ and 470 kΩ make 150 kΩ",
        stages.plate_load(220e3, 470e3),
        150e3,
        2e-3,
    ),
    seen(f"{LECTURE} 4.1: 12AX7 gains 65.2", stages.triode_gain(100, 80e3, 150e3), 65.2, 5e-4),
    seen(
        f"{LECTURE} 4.2: 12AT7 on 3 kΩ gains 12.9", stages.triode_gain(60, 10900, 3e3), 12.9, 5e-3
    ),
    seen(f"{LECTURE} 4.2: 12AU7 on 3 kΩ gains 4.77", stages.triode_gain(17, 7700, 3e3), 4.77, 2e-3),
    seen(f"{LECTURE} 4.2: 12AV7 on 3 kΩ gains 15.8", stages.triode_gain(41, 4800, 3e3), 15.8, 3e-3),
    seen(
        f"{LECTURE} 4.2: 12AX7 on 3 kΩ gains 3.61", stages.triode_gain(100, 80e3, 3e3), 3.61, 2e-3
    ),
    seen(
        "D. Steck, ch. 6, eq. 6.42: bypassed gain 65",
        stages.triode_gain(100, 53.3e3, 100e3),
        65,
        5e-3,
    ),
    seen(
        "D. Steck, ch. 6, eq. 6.41: gain 33 without bypass",
        stages.triode_gain(100, 53.3e3, 100e3, 1.5e3),
        33,
        8e-3,
    ),
    seen(
        "diystompboxes.com topic 121740: mu 100, 70 kΩ, 100 kΩ is about 58",
        stages.triode_gain(100, 70e3, 100e3),
        58,
        0.02,
    ),
    seen(
        "bbs.hifidiy.net thread 309122, pentode: 1.8 mA/V on 56 kΩ gains 101",
        stages.pentode_gain(1.8e-3, 56e3),
        101,
        3e-3,
    ),
    seen(
        "funwithtransistors FIG-4A-06, 6SL7: 250 V to 157 V over 100 kΩ is 0.93 mA",
        stages.plate_current(250, 157, 100e3),
        0.93 * MA,
        1e-9,
    ),
    seen(
        "chegg.com q129335: A 10 000 with beta 0.0999 keeps 10",
        stages.gain_with_feedback(1e4, 0.0999),
        10,
        1e-4,
    ),
    seen("same: 60 dB of feedback", stages.feedback_db(1e4, 10.0), 60, 1e-9),
    seen(
        "cuetmock.com 2FS5NSQV53: A 100 with 9 % feedback keeps 10",
        stages.gain_with_feedback(100, 0.09),
        10,
        1e-9,
    ),
    memory(
        "tube sheets: EL84 at -7.3 V, 48 + 5.5 mA wants 136 Ω",
        stages.cathode_resistor(7.3, 48 * MA, 5.5 * MA),
        136,
        5e-3,
    ),
    memory(
        "tube sheets: 6V6GT at -12.5 V, 45 + 4.5 mA wants 252 Ω",
        stages.cathode_resistor(12.5, 45 * MA, 4.5 * MA),
        252,
        3e-3,
    ),
    # output
    seen(f"{OT}: 158 V from 5 V is 31.6:1", output.turns_ratio(158, 5), 31.6, 1e-9),
    seen(f"{OT}: 31.6 squared is 998.6", output.reflected_load(31.6, 1.0), 998.6, 1e-4),
    seen(
        "tubes.njunis.net p=398: 8 kΩ to 8 Ω is 31.62", output.ratio_of_loads(8e3, 8), 31.62, 1e-4
    ),
    seen("same: 31.62 on 4 Ω shows 3999 Ω", output.reflected_load(31.62, 4), 3999, 1e-4),
    seen(
        "diyaudio.com thread 172659: 20:1 on 8 Ω shows 3200 Ω",
        output.reflected_load(20, 8),
        3200,
        1e-9,
    ),
    seen("same: 20:1 on 50 Ω shows 20 kΩ", output.reflected_load(20, 50), 20e3, 1e-9),
    seen(
        "el34world.com topic 17208: 10 W in 8 kΩ is 282.8 V",
        stages.sensitivity(10, 8e3, 1.0),
        282.8,
        5e-4,
    ),
    seen("same turned round", output.output_power(282.8, 8e3), 10, 1e-3),
    practice(
        f"{BENCH}: 6.3 V into a 25:1 secondary makes 158 V", output.turns_ratio(158, 6.3), 25, 5e-3
    ),
    # currents
    seen(
        "music-electronics-forum.com 14750: 400 V and 25 mA is 10 W",
        currents.dissipation(400, 25 * MA),
        10,
        1e-9,
    ),
    seen(
        "scribd.com 551389659, biasing a push-pull stage: 21 W is 70 % of a 6L6GC's 30 W",
        currents.share_of_rating(21, 30),
        0.70,
        1e-9,
    ),
    seen("same: 17.5 W is 70 % of an EL34's 25 W", currents.share_of_rating(17.5, 25), 0.70, 1e-9),
    seen(
        "blissaudio.blogspot.com, load line: 100 V over 5 kΩ is 20 mA",
        currents.cathode_bias_current(100, 5e3),
        20 * MA,
        1e-9,
    ),
    practice(
        f"{BENCH}: 7.9 V over 180 Ω is 39.7 + 4.4 mA",
        currents.cathode_bias_current(7.9, 180),
        44.1 * MA,
        6e-3,
    ),
    practice(
        f"{BENCH}: 402 V and 44 mA is 17.7 W", currents.dissipation(402, 44 * MA, 0.47), 17.7, 3e-3
    ),
    practice(
        f"{BENCH}: the line 5 % up is 13 % more watts", line.dissipation_factor(1.05), 1.13, 2e-3
    ),
    practice(f"{BENCH}: 10 % up is 27 %", line.dissipation_factor(1.10), 1.27, 2e-3),
    practice(
        f"{BENCH}: 35 + 50 + 12.6 V at 120 V wants 150 Ω",
        line.heater_string([35, 50, 12.6], 120, 0.15),
        150,
        6e-3,
    ),
    practice(
        f"{BENCH}: 0.5 V at 4.4 mA/V is 2.2 mA",
        currents.current_change(4.4e-3, Quantity(0.5, 0.0, "V")),
        2.2 * MA,
        1e-9,
    ),
    practice(
        f"{BENCH}: 0.5 V from 250 V at 1 MΩ is a leak of 500 MΩ",
        grids.leak_resistance(250, 0.5, 1e6, Quantity(0.5, 0.0, "V")),
        500e6,
        3e-3,
    ),
    # supply
    seen(
        "aptitudecrack.com 82248: 20 V loaded at 100 % regulation is 40 V without",
        ripple.regulation(40, 20),
        100,
        1e-9,
    ),
    memory("NEETS 7 formula: 450 V to 400 V is 12.5 %", ripple.regulation(450, 400), 12.5, 1e-9),
    memory(
        "RC section, arithmetic: 1 kΩ, 47 µF, 120 Hz leaves 1/35.5",
        ripple.rc_attenuation(1e3, 47e-6, 120),
        1 / 35.5,
        2e-3,
    ),
    memory("same at 100 Hz: 1/29.5", ripple.rc_attenuation(1e3, 47e-6, 100), 1 / 29.5, 2e-3),
    memory(
        "LC section (RDH4 ch. 31): 10 H, 20 µF, 120 Hz leaves 1/112.7",
        ripple.lc_attenuation(10, 20e-6, 120),
        1 / 112.7,
        1e-3,
    ),
    memory("same at 100 Hz: 1/78.0", ripple.lc_attenuation(10, 20e-6, 100), 1 / 78.0, 1e-3),
    # safety
    seen(
        "holooly.com 1233606: 100 nF at 50 Hz is 31.8 kΩ",
        ripple.capacitor_reactance(100e-9, 50),
        31.8e3,
        2e-3,
    ),
    seen(
        "same: at 240 V it takes 7.5 mA",
        safety_checks.line_capacitor_current(100e-9, 240, 50),
        7.5 * MA,
        6e-3,
    ),
    seen(
        "diyaudio.com thread 59315: 4.7 nF at 240 V, 50 Hz takes 0.354 mA",
        safety_checks.line_capacitor_current(4.7e-9, 240, 50),
        0.354 * MA,
        2e-3,
    ),
    practice(
        f"{BENCH}: 4.7 nF at 120 V, 60 Hz takes 0.21 mA",
        safety_checks.line_capacitor_current(4.7e-9, 120, 60),
        0.21 * MA,
        2e-2,
    ),
    practice(
        f"{BENCH}: 0.047 µF at 230 V, 50 Hz takes 3.4 mA",
        safety_checks.line_capacitor_current(0.047e-6, 230, 50),
        3.4 * MA,
        5e-3,
    ),
    seen(
        "service manual (user-manuals.com 836532) quoting IEC 60990: 1.0 V on its 500 Ω is 2.0 mA",
        safety_checks.touch_current(1.0, 50, "iec_500"),
        2.0 * MA,
        1e-9,
    ),
    memory(
        "arithmetic: 220 kΩ on 100 µF, 450 V to 60 V in 44.3 s",
        safety_checks.bleeder(450, 220e3, 100e-6).to_60_v,
        44.3,
        1e-3,
    ),
    # decibels
    seen("epanorama.net, levels: 0.316 V is -10 dBV", decibels.level(0.316, "dBV"), -10, 1e-3),
    seen("same: 0.7746 V is 0 dBu", decibels.level(0.7746, "dBu"), 0.0, 0.0),
    seen(
        "amsat.org list 200601/446: 7 dB is 5.0119 in power",
        decibels.ratio_of_db(7, True),
        5.011872336,
        1e-9,
    ),
    seen("same: 12 dB is 15.849", decibels.ratio_of_db(12, True), 15.848931925, 1e-9),
    seen("wfrjr.com deciBell: 60 dB is 1000 in volts", decibels.ratio_of_db(60), 1000, 1e-9),
    seen(
        "training.weather.gov, The Decibel: log(7.5/1.3) is 0.761",
        decibels.db_of_power(7.5, 1.3),
        7.61,
        1e-3,
    ),
    memory("ITU: dBu is dBV + 2.218 dB", decibels.level(1.0, "dBu"), 2.218, 1e-3),
]


@pytest.mark.parametrize(("ours", "published", "rel"), NUMBERS)
def test_formula_gives_the_printed_number(ours, published: float, rel: float) -> None:
    """Our result is the printed one within its digits, and shows its steps."""
    assert ours.value == pytest.approx(published, rel=rel or None, abs=1e-3 if not rel else 0.0)
    assert ours.steps and str(ours.quantity) == ours.steps[-1].result


@pytest.mark.published("seen", "epanorama.net, levels: 0.25 mA for class II (IEC 950)")
def test_touch_limit_of_class_two_is_the_printed_one() -> None:
    """0.24 mA is below the limit of double insulation, 0.26 mA above; neither opens a gate."""
    below, above = (
        safety_checks.judge_touch(safety_checks.touch_current(v, 50, "plain"), "double_square")
        for v in (0.48, 0.52)
    )
    assert not below.above and above.above
    assert not below.opens_gate and not above.opens_gate
