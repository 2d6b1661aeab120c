"""Steady states of supplies against ngspice transients: kept results always, live where it is."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from triage.measure.child import Diode, silicon, tube
from triage.measure.rectifier import Load, Steady, Supply, steady

HERE = Path(__file__).resolve().parent / "ngspice"
KEPT: dict[str, Any] = json.loads((HERE / "results.json").read_text(encoding="utf-8"))
"""Results of ngspice for each netlist beside it, with the same supply in our words."""
NAMES = ("dc", "pp", "peak", "winding")


def supply(row: dict[str, Any]) -> Supply:
    g = row["perveance"]
    diode: Diode = silicon() if g is None else tube(g)
    return Supply(row["kind"], row["secondary_v"], row["line_hz"], row["source_ohm"], diode,
                  row["reservoir_f"], Load(**row["load"]), row.get("choke_h"),
                  row.get("choke_ohm", 0.0))  # fmt: skip


def ours(found: Steady) -> dict[str, float]:
    return {"dc": found.dc_v, "pp": found.ripple_pp_v, "peak": found.peak_a,
            "winding": found.winding_rms_a}  # fmt: skip


def live(netlist: Path) -> dict[str, float]:
    """Measured results of a run of ngspice in batch mode."""
    said = subprocess.run(
        ["ngspice", "-b", str(netlist)], capture_output=True, text=True, timeout=60, check=False
    ).stdout
    found = re.findall(r"^(\w+)\s+=\s+([-+.\deE]+)", said, re.MULTILINE)
    return {name: float(value) for name, value in found if name in NAMES}


@pytest.mark.published("seen", "ngspice 39, transient of the netlist beside the kept result")
@pytest.mark.parametrize("quantity", NAMES)
@pytest.mark.parametrize("name", sorted(KEPT))
def test_a_steady_state_agrees_with_the_kept_transient_within_one_per_cent(
    name: str, quantity: str
) -> None:
    """DC, ripple, peak and RMS current agree with ngspice; DC within a part in a thousand."""
    row = KEPT[name]

    found = ours(steady(supply(row["supply"])))

    close = 1e-3 if quantity == "dc" else 1e-2
    assert found[quantity] == pytest.approx(row["results"][quantity], rel=close)


@pytest.mark.published("seen", "ngspice on this machine, else the kept run of ngspice 39")
@pytest.mark.parametrize("name", sorted(KEPT))
def test_a_live_transient_repeats_the_kept_one(name: str) -> None:
    """Where ngspice is installed it gives what is kept; where not, the kept one is complete."""
    kept = KEPT[name]["results"]
    found = live(HERE / f"{name}.cir") if shutil.which("ngspice") else dict(kept)

    assert found == pytest.approx(kept, rel=2e-3)
    assert sorted(found) == sorted(NAMES)


@pytest.mark.published("practice", "each kept result belongs to a netlist")
def test_each_netlist_has_a_kept_result() -> None:
    """No netlist without result, no result without netlist; at least six."""
    assert sorted(path.stem for path in HERE.glob("*.cir")) == sorted(KEPT)
    assert len(KEPT) >= 6
