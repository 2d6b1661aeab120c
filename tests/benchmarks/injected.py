"""Amplifiers with one fault each, solved by a general circuit simulator: the world of the bench.

Nothing here is what the ranking computes with: the points are ngspice's, parts and tubes are drawn
at random, the tubes' own curves differ from the models', a fault's size is drawn from a range, the
meter loads every point it is put on and errs by its class. What a cause does to a part is the data
of ``circuit_faults.yaml``; its range is written here.
"""

from __future__ import annotations

import math
import re
import subprocess
import tempfile
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from tests.circuit.simulator import knowledge
from triage.assess import Bench
from triage.circuit.faults import Fault, FaultKind, variants_of
from triage.circuit.netlist import Netlist
from triage.circuit.solve import Variants
from triage.circuit.spice import netlist
from triage.circuit.taps import Key, taps, tubes_out, with_meters
from triage.measure.meters import Meter, load_meters
from triage.units import value_of

CIRCUITS = ("dance_band", "grandmothers_console", "linden_hall", "practice_amp", "shelf_set")
READ = frozenset(
    "b_plus node_volts bias_source bias_at_pin cathode_volts plate_volts plate_share screen_volts "
    "grid_shift_tube_in".split()
)
"""What a technician reads at one visit: all DC volts of the chart."""
RANGES: dict[tuple[str, str], tuple[str, float, float]] = {
    ("resistor", "open"): ("ohm", 1e7, 1e9),
    ("resistor", "high"): ("times", 1 / 1.5, 1 / 15.0),
    ("resistor", "low"): ("times", 1.3, 1.8),
    ("capacitor", "shorted"): ("ohm", 0.1, 1e3),
    ("capacitor", "leaky"): ("ohm", 5e4, 2e7),
    ("tube", "worn"): ("emission", 0.02, 0.65),
    ("tube", "gassy"): ("gas", 2e-4, 4e-3),
    ("tube", "heater_leak"): ("ohm", 50.0, 5e4),
    ("supply", "dried"): ("reservoir", 0.004, 0.2),
    ("supply", "weak"): ("volts", 0.55, 0.93),
    ("supply", "stiff"): ("volts", 1.08, 1.2),
}
"""By part and mode: what is drawn, evenly on a log scale between two ends. Other modes have no size."""
UNLIKE = ((0.35, 0.7), (1.35, 1.8))
CURVES = {"mu": 0.05, "kp": 0.07, "kg2": 0.1}
"""Standard deviations of the log of what makes a tube's own curves (judgement)."""
TUBES = 0.13
LINE = 0.025
METER = "digital"
TIMEOUT_S = 60


@dataclass(frozen=True)
class Injected:
    """One amplifier: the true cause and place, what was typed, how far its points moved.

    ``moved``: largest move of a point from the same amplifier without the fault, V, by key as text;
    ``sound``: what that amplifier read.
    """

    circuit: str
    fault: str
    cause: str
    place: str
    line: str
    typed: dict[str, str]
    moved: dict[str, float]
    sound: dict[str, float]


def text_of(key: Key) -> str:
    """A key as text."""
    return f"{key[0]} {key[1]}"


def key_of(text: str) -> Key:
    """A key of its text."""
    finding, _, place = text.partition(" ")
    return finding, place


@lru_cache(maxsize=8)
def bench_of(name: str) -> Bench:
    """The real bench of a built-in amplifier."""
    kb = knowledge()
    return Bench.make(kb, kb.profiles[name])


@lru_cache(maxsize=1)
def meter() -> Meter:
    """The meter of the visit."""
    return load_meters(knowledge().plain["meters"])[METER]


def tap_nodes(net: Netlist) -> dict[Key, tuple[int, bool]]:
    """Node of each reading, and whether the output tubes are out."""
    return {key: (tap.at, tap.out) for key, tap in taps(net).items() if key[0] in READ}


def drawn_fault(bench: Bench, rng: np.random.Generator) -> tuple[Fault, str]:
    """A part and a way it fails, each alike likely; its cause as often as at the bench; its size."""
    likelihood = bench.likelihood
    assert likelihood is not None
    rows = {(h.cause, h.place): i for i, h in enumerate(bench.grounded.hypotheses)}
    known = [f for f in likelihood.faults if any((cause, f.place) in rows for cause in f.causes)]
    modes = sorted({(f.part, f.kind.mode, f.place) for f in known})
    part, mode, place = modes[rng.integers(len(modes))]
    members = [f for f in known if (f.part, f.kind.mode, f.place) == (part, mode, place)]
    causes = sorted({c for f in members for c in f.causes if (c, f.place) in rows})
    weights = np.array([bench.grounded.prior[rows[(c, place)]] for c in causes])
    cause = causes[rng.choice(len(causes), p=weights / weights.sum())]
    ways = [f for f in members if cause in f.causes]
    fault = ways[rng.integers(len(ways))]
    return replace(fault, kind=_sized(fault.kind, cause, rng)), cause


def _sized(kind: FaultKind, cause: str, rng: np.random.Generator) -> FaultKind:
    if cause == "resistor.misread":
        return kind.model_copy(update={"times": 10.0 if kind.mode == "low" else 0.1, "gas": None})
    if cause.endswith(".burnt"):
        return kind.model_copy(update={"open": False, "times": _even(rng, 0.05, 1e-4)})
    if (kind.part, kind.mode) == ("tube", "unlike"):
        low, high = UNLIKE[(kind.emission or 0.0) > 1.0]
        return kind.model_copy(update={"emission": _even(rng, low, high)})
    if (kind.part, kind.mode) not in RANGES:
        return kind
    field, low, high = RANGES[(kind.part, kind.mode)]
    size = _even(rng, low, high)
    value: float | str = f"{size:.6g} ohm" if field == "ohm" else size
    return kind.model_copy(update={"open": False, field: value})


def _even(rng: np.random.Generator, a: float, b: float) -> float:
    return float(math.exp(rng.uniform(*sorted((math.log(a), math.log(b))))))


def drawn_amplifier(net: Netlist, rng: np.random.Generator) -> tuple[Netlist, Variants]:
    """A sound amplifier as it comes: its parts, its tubes and their own curves, its line."""
    tubes = []
    for tube in net.tubes:
        changed = {
            name: getattr(tube.model, name) * math.exp(rng.normal(0.0, width))
            for name, width in CURVES.items()
            if getattr(tube.model, name, None) is not None
        }
        tubes.append(replace(tube, model=tube.model.model_copy(update=changed)))
    own = replace(net, tubes=tuple(tubes))
    sound = Variants.sound(own)
    for i, part in enumerate(net.spec.parts.values()):
        tolerance = value_of(part.tol, "%") / 100.0
        sound.siemens[0, i] *= math.exp(
            -np.clip(rng.normal(0.0, tolerance / 2), -tolerance, tolerance)
        )
    sound.emission[0] = np.exp(rng.normal(0.0, TUBES, len(net.tubes)))
    sound.line[0] = float(np.clip(math.exp(rng.normal(0.0, LINE)), 0.93, 1.07))
    return own, sound


def with_fault(net: Netlist, sound: Variants, fault: Fault) -> Variants:
    """The amplifier with the fault put in: what the fault changes of a nominal one, changed here."""
    nominal, faulty = Variants.sound(net), variants_of(net, [fault])
    graded = fault.kind.times is not None
    touched = faulty.siemens != nominal.siemens
    scaled = sound.siemens * faulty.siemens / nominal.siemens if graded else faulty.siemens
    return replace(
        sound,
        siemens=np.where(touched, scaled, sound.siemens),
        emission=sound.emission * faulty.emission,
        gas=faulty.gas,
        curves=faulty.curves,
    )


def simulated_visit(
    net: Netlist, variants: Variants, nodes: dict[Key, tuple[int, bool]], ohm: float
) -> dict[Key, float]:
    """Volts at every point with the meter on it, each by an operating point of its own (ngspice)."""
    found: dict[Key, float] = {}
    metered = with_meters(net)
    for out in sorted({o for _, o in nodes.values()}):
        members = tubes_out(net, variants) if out else variants
        off = np.full((1, len(net.nodes)), 1e-15)
        members = replace(members, siemens=np.concatenate([members.siemens, off], axis=1))
        head, _ = netlist(metered, members).split(".control")
        lines, keys = [], [key for key, (_, o) in nodes.items() if o is out]
        for i, key in enumerate(keys):
            node = nodes[key][0]
            name = f"R{len(net.branches) + node}"
            lines += [f"alter {name} = {ohm:.6g}", "op", f"echo tap {i}", f"print v(n{node})"]
            lines += [f"alter {name} = 1e15"]
        said = _asked(head + ".control\n" + "\n".join(lines) + "\n.endc\n.end\n")
        for i, value in re.findall(r"tap (\d+)\s+v\(n\d+\) = (\S+)", said):
            found[keys[int(i)]] = float(value)
    return found


def _asked(text: str) -> str:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "visit.cir"
        file.write_text(text, encoding="utf-8")
        try:
            return subprocess.run(
                ["ngspice", "-b", str(file)],
                capture_output=True, text=True, check=False, timeout=TIMEOUT_S,
            ).stdout  # fmt: skip
        except subprocess.TimeoutExpired:
            return ""


def noisy(values: dict[Key, float], rng: np.random.Generator) -> dict[Key, float]:
    """As the meter shows them: half of its limit common to all, half each reading's own; rounded."""
    common = rng.uniform(-1.0, 1.0)
    shown = {}
    for key, value in values.items():
        limit = meter().limit(value, "dc_volts")
        error = limit * (0.5 * common + 0.5 * rng.uniform(-1.0, 1.0))
        shown[key] = float(f"{value + error:.4g}") if abs(value + error) >= 0.005 else 0.0
    return shown


def draw(rng: np.random.Generator) -> Injected | None:
    """One amplifier with one fault; None where ngspice found no point."""
    name = CIRCUITS[rng.integers(len(CIRCUITS))]
    bench = bench_of(name)
    assert bench.circuit is not None
    net = bench.circuit.net
    fault, cause = drawn_fault(bench, rng)
    own, sound = drawn_amplifier(net, rng)
    nodes = tap_nodes(net)
    ohm = meter().ohm or 1e9
    before = simulated_visit(own, sound, nodes, ohm)
    after = simulated_visit(own, with_fault(own, sound, fault), nodes, ohm)
    if len(before) < len(nodes) or len(after) < len(nodes):
        return None
    nominal = value_of(net.spec.line["nominal"], "V")
    read = nominal * float(sound.line[0]) * (1.0 + rng.uniform(-0.01, 0.01))
    return Injected(
        name, f"{fault.name} {_size_of(fault)}", cause, fault.place or "", f"{read:.1f} V",
        {text_of(k): f"{v:.5g} V" for k, v in noisy(after, rng).items()},
        {text_of(k): round(abs(after[k] - before[k]), 5) for k in nodes},
        {text_of(k): round(v, 5) for k, v in noisy(before, rng).items()},
    )  # fmt: skip


def _size_of(fault: Fault) -> str:
    kind = fault.kind
    sizes = {f: getattr(kind, f) for f in ("times", "ohm", "emission", "gas", "reservoir", "volts")}
    return " ".join(
        f"{k}={v:.3g}" if isinstance(v, float) else f"{k}={v}" for k, v in sizes.items() if v
    )


def plain(row: Injected) -> dict[str, object]:
    """For a file of JSON."""
    return asdict(row)
