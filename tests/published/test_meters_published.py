"""What meters load with and show, and what markings mean, against numbers printed elsewhere.

Each case names what was read, or says "from memory" or "common practice, no source".
"""

import math

import pytest
import yaml

from tests.published.rows import memory, practice, seen
from triage.knowledge.paths import knowledge_dir
from triage.measure import (
    waveform,
)
from triage.measure.markings import capacitor_code, nearest_preferred, resistor_bands, resistor_code
from triage.measure.meters import load_meters, shape_error

METERS = load_meters(yaml.safe_load((knowledge_dir() / "meters.yaml").read_text(encoding="utf-8")))
RKM = "en.wikipedia.org EN 60062"
REGIS = "regiscoyne.com cap-resistorcodes"
STUDENT = "eestudenthelp.blogspot.com capacitor markings"
SHARP = "sharpdev.tools capacitor-code"


@pytest.mark.parametrize(
    ("meter", "range_v", "published"),
    [
        seen("listingsbee.com, voltmeters: 20 kΩ/V on 50 V is 1 MΩ", "moving_coil_20k", 50, 1e6),
        seen("same on 250 V is 5 MΩ", "moving_coil_20k", 250, 5e6),
        seen(
            "edudirectory.50webs.com elect99: 20 kΩ/V on 10 V is 200 kΩ",
            "moving_coil_20k",
            10,
            200e3,
        ),
        seen("same: a digital meter has typically 10 MΩ", "digital", None, 10e6),
        practice("1 kΩ/V on 50 V is 50 kΩ", "moving_coil_1k", 50, 50e3),
    ],
)
def test_meters_load_as_printed(meter: str, range_v: float | None, published: float) -> None:
    """The input resistance of a class of meters is the printed one."""
    assert METERS[meter].input_ohm(range_v) == published


@pytest.mark.parametrize(
    ("ours", "published", "rel"),
    [
        seen("Helfrick and Cooper, example 6-2: a sawtooth's form factor is 1.155",
             waveform.form_factor("sawtooth"), 1.155, 5e-4),
        seen("same: its meter shows 0.961",
             waveform.shown_over_true("average", "sawtooth"), 0.961, 1.1e-3),
        seen("same: an error of -3.9 %", shape_error(METERS["digital"], "sawtooth"), -0.039, 0.03),
        seen("manual of a handheld meter (manualshive.com 1090514), p. 19: a square wave shows 1.110",
             waveform.shown_over_true("average", "square"), 1.110, 1e-3),
        seen("same: a triangle shows 0.960",
             waveform.shown_over_true("average", "triangle"), 0.960, 3e-3),
        seen("same: full-wave of RMS 1 has an AC part of 0.435",
             waveform.AC_PART["full_sine"][0] * math.sqrt(2), 0.435, 2e-3),
        seen("same: its meter shows 0.421 of it",
             waveform.AC_PART["full_sine"][1] * math.sqrt(2) * waveform.SINE_FACTOR, 0.421, 1e-3),
        seen("ilovetranslation.com slides on meters: a square wave reads 11 % high",
             shape_error(METERS["digital"], "square"), 0.11, 0.01),
        memory("definition: true RMS has no such error",
               1 + shape_error(METERS["digital_true_rms"], "square"), 1.0, 1e-12),
    ],
)  # fmt: skip
def test_average_responding_meters_err_as_printed(ours: float, published: float, rel: float):
    """What a meter shows of a wave that is no sine is what text books and manuals print."""
    assert ours == pytest.approx(published, rel=rel)


@pytest.mark.parametrize(
    ("marked", "value", "minus", "plus"),
    [
        *(
            seen(f"{RKM}: {code}", resistor_code(code), ohm, None, None)
            for code, ohm in {"R47": 0.47, "4R7": 4.7, "470R": 470, "4K7": 4.7e3, "47K": 47e3,
                              "47K3": 47.3e3, "470K": 470e3, "4M7": 4.7e6}.items()
        ),
        *(
            memory(f"IEC 60062: {code}", capacitor_code(code), farad, None, None)
            for code, farad in {"p33": 0.33e-12, "3p3": 3.3e-12, "33p": 33e-12, "n33": 0.33e-9,
                                "3n3": 3.3e-9, "µ33": 0.33e-6, "3µ3": 3.3e-6, "33µ": 33e-6}.items()
        ),
        seen(f"{REGIS}: 473J", capacitor_code("473J"), 47e-9, -0.05, 0.05),
        seen("zikriqibov2dec.web.app: 474J", capacitor_code("474J"), 470e-9, -0.05, 0.05),
        seen(f"{STUDENT}: 103", capacitor_code("103"), 10e-9, None, None),
        seen(f"{STUDENT}: 2n2", capacitor_code("2n2"), 2.2e-9, None, None),
        seen(f"{SHARP}: 223", capacitor_code("223"), 22e-9, None, None),
        seen(f"{SHARP}: 104K", capacitor_code("104K"), 100e-9, -0.10, 0.10),
        seen(f"{SHARP}: 104M", capacitor_code("104M"), 100e-9, -0.20, 0.20),
        seen(f"{STUDENT}: Z is -20 +80 %", capacitor_code("103Z"), 10e-9, -0.20, 0.80),
        seen(f"{REGIS}: H is 3 %", capacitor_code("103H"), 10e-9, -0.03, 0.03),
        seen(f"{REGIS}: D is 0.5 pF on 5 pF", capacitor_code("5R0D"), 5e-12, -0.1, 0.1),
        seen("tangible-technology.com R_Color_Code: blue red red gold",
             resistor_bands("blue red red gold".split()), 6200, -0.05, 0.05),
        seen("365electric.com 173860: yellow violet brown gold",
             resistor_bands("yellow violet brown gold".split()), 470, -0.05, 0.05),
        seen("tangible-technology.com R_Color_Code: gold moves the point one place",
             resistor_bands("blue red gold silver".split()), 6.2, -0.10, 0.10),
        seen("kodekata.net resistorcolorcode, IEC 60062: no tolerance band is 20 %",
             resistor_bands("brown black orange".split()), 10e3, -0.20, 0.20),
        memory("IEC 60062: five bands, 1 %",
               resistor_bands("yellow violet black brown brown".split()), 4.7e3, -0.01, 0.01),
    ],
)  # fmt: skip
def test_markings_mean_what_is_printed(marked, value: float, minus, plus) -> None:
    """A code or band means the printed value and tolerance."""
    assert marked.value == pytest.approx(value, rel=1e-12)
    assert (marked.minus, marked.plus) == pytest.approx((minus, plus))


@pytest.mark.published("memory", "IEC 60063, E24 series")
def test_preferred_values_are_those_of_the_series() -> None:
    """2.6 rounds to 2.7 and 8.3 to 8.2, where the series departs from its formula."""
    assert [nearest_preferred(x) for x in (2.6, 8.3, 4600, 97e3)] == pytest.approx(
        [2.7, 8.2, 4700, 100e3]
    )
