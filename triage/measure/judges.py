"""Judges: what a reading says about a finding, as probabilities over the finding's answers.

A judge never crashes on missing context: it then leaves every answer open with equal shares, which
carries no information, and says what is missing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from triage.errors import OutOfRange
from triage.measure.bands import Settings, Verdict, banded, edges_of, open_verdict, quantity_of
from triage.measure.currents import SCREEN_SHARE
from triage.measure.formulas import leakage_limit
from triage.measure.quantity import Quantity
from triage.measure.ripple import ripple_hertz
from triage.measure.worked import MEMORY
from triage.units import format_si, value_of

Context = Mapping[str, "str | float | Quantity"]
Judge = Callable[[Quantity, Settings, Context, Sequence[str]], Verdict]

LINE_UNKNOWN = 0.08
"""Half width of the line about its nominal where nobody has read it (common practice)."""
AGAINST_WORDS = {
    "earlier": "the earlier reading", "expected": "the expected value", "idle": "the idle reading",
    "own_node": "the supply node that feeds it", "other_half": "the other half",
    "node_before": "the node before", "marked": "the marked value", "mate": "its mate",
}  # fmt: skip


def _line(context: Context) -> tuple[Quantity, str]:
    """Line factor k with uncertainty, and the words for it."""
    now, nominal = quantity_of(context, "line_v", "V"), quantity_of(context, "line_nominal_v", "V")
    if now is None or nominal is None:
        return Quantity(1.0, 0.0, "", spread=LINE_UNKNOWN), "line not read: 8 % either way allowed"
    if nominal.value <= 0.0 or now.value <= 0.0 or now.one_sided or nominal.one_sided:
        return Quantity(1.0, 0.0, "", spread=LINE_UNKNOWN), "line not read as a number"
    k = now / nominal
    return k, f"line at {k.value:.3f} of nominal"


def _reference(context: Context, key: str, unit: str) -> tuple[Quantity | None, str]:
    """What the reading is set against, line-corrected where it is an expected value."""
    found = quantity_of(context, key, unit)
    words = AGAINST_WORDS.get(key, key.replace("_", " "))
    if found is None or key != "expected" or unit != "V":
        return found, words
    k, said = _line(context)
    return found * k, f"{words} ({said})"


def band(
    reading: Quantity, settings: Settings, context: Context, answers: Sequence[str]
) -> Verdict:
    """Bands of the value itself; edges carry their unit ("0.5 V, 5 V")."""
    edges = edges_of(settings, reading.unit)
    if not edges:
        return open_verdict(answers, "no limits are written for this finding")
    size = reading if settings.get("signed") == "yes" else _size(reading)
    return banded(size, edges, settings, answers, "limits of this finding", reading.unit)


def _size(reading: Quantity) -> Quantity:
    return -reading if reading.value < 0 else reading


def ratio_band(
    reading: Quantity, settings: Settings, context: Context, answers: Sequence[str]
) -> Verdict:
    """Bands of the ratio to a reference in the context, named by ``against``."""
    key = str(settings.get("against", "expected"))
    reference, words = _reference(context, key, reading.unit)
    if reference is None or reference.value == 0 or reference.one_sided:
        return open_verdict(answers, f"{AGAINST_WORDS.get(key, key)} is not known")
    ratio = reading / reference
    rests = f"{words}: {format_si(reference.value, reading.unit)}"
    return banded(ratio, edges_of(settings, ""), settings, answers, rests, "")


def line_band(
    reading: Quantity, settings: Settings, context: Context, answers: Sequence[str]
) -> Verdict:
    """Bands of the line as a share of its nominal."""
    nominal = quantity_of(context, "line_nominal_v", "V")
    if nominal is None:
        return open_verdict(answers, "the nominal line voltage is not known")
    share = reading / nominal
    return banded(
        share, edges_of(settings, ""), settings, answers, f"nominal line: {nominal}", ""
    )  # fmt: skip


def heater_band(
    reading: Quantity, settings: Settings, context: Context, answers: Sequence[str]
) -> Verdict:
    """Bands of the share of the rated heater voltage; on a limiter, of rated times line factor."""
    rated = quantity_of(context, "heater_v", "V") or Quantity(6.3, 0.0, "V")
    rests = f"rated heater voltage: {format_si(rated.value, 'V')}"
    if str(context.get("power", "")).startswith("limited"):
        k, said = _line(context)
        rated, rests = rated * k, f"{rests}, {said}"
    return banded(_size(reading) / rated, edges_of(settings, ""), settings, answers, rests, "")


def grid_shift(
    reading: Quantity, settings: Settings, context: Context, answers: Sequence[str]
) -> Verdict:
    """Bands of how far the grid is above where it should be: the mate's grid, else the bias."""
    reference = None
    words = ""
    for key in ("mate", "expected", "grid_expected"):
        reference, words = _reference(context, key, "V")
        if reference is not None:
            break
    if reference is None:
        return open_verdict(
            answers, "where this grid should be (its mate's, or the bias) is not known"
        )
    shift = reading - reference
    verdict = banded(
        shift, edges_of(settings, "V"), settings, answers, f"{words}: {reference}", "V"
    )  # fmt: skip
    steps = [f"shift = {reading} − ({reference}) = {shift}"]
    gm = quantity_of(context, "gm", "S")
    if gm is not None:
        steps.append(f"change of plate current = gm × shift = {shift * gm}")
    leak = _leak(reading, shift, context)
    return verdict.adding(steps + ([leak] if leak else []))


def _leak(reading: Quantity, shift: Quantity, context: Context) -> str:
    source, back = quantity_of(context, "source_v", "V"), quantity_of(context, "return_ohm", "ohm")
    if source is None or back is None or shift.value <= 2 * shift.total_u:
        return ""
    ohm = (source.value - reading.value) * back.value / shift.value
    return f"a leak of {format_si(ohm, 'ohm')} in the coupling capacitor would do it"


def idle_share(
    reading: Quantity, settings: Settings, context: Context, answers: Sequence[str]
) -> Verdict:
    """Bands of plate dissipation as a share of the tube's rating, by kind of bias."""
    volts, rated = quantity_of(context, "plate_v", "V"), quantity_of(context, "plate_w", "W")
    bias = str(context.get("bias", ""))
    if volts is None or rated is None or rated.value <= 0 or volts.one_sided:
        unknown = volts is None or volts.one_sided
        missing = "the plate voltage" if unknown else "the tube's rated dissipation"
        return open_verdict(answers, f"{missing} is not known")
    plate = reading
    if context.get("current_of") == "cathode":
        screen = quantity_of(context, "screen_a", "A")
        plate = reading * (1.0 - SCREEN_SHARE) if screen is None else reading - screen
    share = plate * volts / rated
    rests = f"rating {format_si(rated.value, 'W')} at {format_si(volts.value, 'V')} on the plate"
    if context.get("plate_w_memory") == "yes":
        rests += f" ({MEMORY})"
    kinds = [kind for kind in ("fixed", "cathode") if bias in (kind, "", "unknown")]
    kinds = kinds or ["fixed"]
    verdicts = [
        banded(
            share, edges_of(settings, "", f"edges_{kind}"), settings, answers,
            f"{rests}, {kind} bias", "",
        )
        for kind in kinds
    ]  # fmt: skip
    step = f"dissipation = {plate} × {volts} = {plate * volts}"
    return Verdict.mean(verdicts).adding([step])


def ohms_nominal(
    reading: Quantity, settings: Settings, context: Context, answers: Sequence[str]
) -> Verdict:
    """Set a resistance against its marking; low in circuit is left open: other paths lie across."""
    key = str(settings.get("against", "nominal_ohm"))
    nominal = quantity_of(context, key, "ohm") or quantity_of(context, "marked", "ohm")
    if reading.over and "open" in answers:
        return Verdict.sure(answers, "open", "the meter shows over range", "OL")
    if nominal is None or nominal.value <= 0:
        return open_verdict(answers, "the value it should have is not known")
    ratio = reading / nominal
    rests = f"should be {format_si(nominal.value, 'ohm')}"
    if answers[0] == "as_they_should":
        tolerance = float(settings.get("tolerance", 0.2))
        return _folded(ratio, 1 - tolerance, 1 + tolerance, answers, rests)
    verdict = banded(ratio, edges_of(settings, ""), settings, answers, rests, "")
    if context.get("in_circuit", "yes") == "no" or "low" not in verdict.probs:
        return verdict
    return verdict.halved_with("low", "right", "low in circuit: another path may lie across")


def _folded(
    ratio: Quantity, low: float, high: float, answers: Sequence[str], rests: str
) -> Verdict:
    five = ["far", "off", "even", "off_", "far_"]
    wide = banded(ratio, [low / 8, low, high, high * 8], {}, five, rests, "")
    far = wide.probs["far"] + wide.probs["far_"]
    off = wide.probs["off"] + wide.probs["off_"]
    shares = [wide.probs["even"], off, far]
    if len(answers) == 2:
        shares = [shares[0], off + far]
    return Verdict.of(answers, shares, f"{low:g} to {high:g} of it", rests, wide.reading)


def hum_rate(
    reading: Quantity, settings: Settings, context: Context, answers: Sequence[str]
) -> Verdict:
    """Tell mains, double mains and rasp apart; or ripple as built from half of it missing."""
    line = quantity_of(context, "hertz", "Hz") or quantity_of(context, "line_hertz", "Hz")
    if line is None:
        return open_verdict(answers, "the line frequency (50 or 60 Hz) is not known")
    at = line.value
    rests = f"line of {format_si(at, 'Hz')}"
    edges = [at * 0.2, at * 1.5, at * 2.5]
    told = banded(reading, edges, {}, ["none", "mains", "double", "rasp"], rests, "Hz")
    if "as_built" not in answers:
        names = {"none": "no_pitch"}
        moved = {names.get(name, name): share for name, share in told.probs.items()}
        return Verdict.of(
            answers, [moved.get(name, 0.0) for name in answers], told.band, rests, told.reading
        )  # fmt: skip
    rectifying = str(context.get("rectifying", context.get("rectifier", "")))
    if rectifying not in ("half_wave", "full_wave", "bridge", "doubler"):
        return open_verdict(answers, "whether the rectifier is half or full wave is not known")
    built = ripple_hertz(at, rectifying)
    missing = told.probs["mains"] if built > at else 0.0
    shares = [1.0 - missing, missing] if answers[0] == "as_built" else [missing, 1.0 - missing]
    rests = f"{rests}, {rectifying.replace('_', ' ')}: {format_si(built, 'Hz')} as built"
    return Verdict.of(answers, shares, told.band, rests, told.reading)


def uneven_band(
    reading: Quantity, settings: Settings, context: Context, answers: Sequence[str]
) -> Verdict:
    """Ratio band with both ends folded into one answer (``fold``)."""
    key = str(settings.get("against", "other_half"))
    reference, words = _reference(context, key, reading.unit)
    edges = edges_of(settings, "")
    if reference is None or reference.value == 0 or len(edges) != 2:
        return open_verdict(answers, f"{words} is not known")
    return _folded(reading / reference, edges[0], edges[1], answers, f"{words}: {reference}")


def leakage(
    reading: Quantity, settings: Settings, context: Context, answers: Sequence[str]
) -> Verdict:
    """Set the leakage of an electrolytic against K C + 0.3 mA (JAN-C-62)."""
    farad = quantity_of(context, "marked", "F") or quantity_of(context, "farad", "F")
    volts = quantity_of(context, "rated_v", "V")
    if farad is None or volts is None:
        return open_verdict(answers, "the capacitor's marked value or voltage is not known")
    limit = leakage_limit(farad.value, volts.value)
    return banded(reading, [limit], settings, answers, "K C + 0.3 mA (JAN-C-62)", "A")


JUDGES: dict[str, Judge] = {
    "band": band,
    "ratio_band": ratio_band,
    "line_band": line_band,
    "heater_band": heater_band,
    "grid_shift": grid_shift,
    "idle_share": idle_share,
    "ohms_nominal": ohms_nominal,
    "hum_rate": hum_rate,
    "leakage": leakage,
}


def judge(
    name: str, reading: Quantity, settings: Settings, context: Context, answers: Sequence[str]
) -> Verdict:
    """Verdict of the judge ``name`` on a reading, over the finding's ``answers`` in their order.

    ``settings`` are ``Finding.takes.settings``; ``context`` holds what is known: ``line_v``,
    ``line_nominal_v``, ``hertz``, ``rectifying``, ``bias``, ``plate_v``, ``plate_w``, ``gm``,
    ``own_node``, ``mate``, ``expected``, ``idle``, ``marked``, ``nominal_ohm``, ... in SI, as a
    Quantity, a number, or text with its unit. Numbers that no formula is valid for leave every
    answer open, and the verdict says which.

    Raises
    ------
    KeyError : no judge of that name.
    """
    if name not in JUDGES:
        raise KeyError(f"no judge is called '{name}'; there are {', '.join(sorted(JUDGES))}")
    chosen = uneven_band if name == "ratio_band" and "fold" in settings else JUDGES[name]
    try:
        return chosen(reading, settings, context, answers)
    except OutOfRange as fault:
        return open_verdict(answers, str(fault).rstrip("."))


def accepts(name: str, settings: Settings, unit: str, answers: int) -> str:
    """Say what is wrong with a finding's settings for a judge; empty if nothing is."""
    if name not in JUDGES:
        return f"no judge is called '{name}'; there are {', '.join(sorted(JUDGES))}"
    edge_unit = unit if name in ("band", "grid_shift") else ""
    for key, text in settings.items():
        if not key.startswith("edges") and key != "spread":
            continue
        edges = [value_of(part.strip(), edge_unit) for part in str(text).split(",")]
        if key == "spread":
            if len(edges) != 2 or edges[0] >= edges[1]:
                return f"spread is two limits that rise: {text}"
            continue
        if edges != sorted(edges):
            return f"{key} must rise: {text}"
        if len(edges) != answers - 1 and "fold" not in settings:
            return f"{key} has {len(edges)} limits; {answers} answers need {answers - 1}"
    return ""
