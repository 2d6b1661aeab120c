"""Operating points of stages by load line: a resistance-coupled stage, output tubes, a pair.

All volts in V, currents in A, resistances in ohm, slopes in S. A point is that of a middling tube
after its model, and inherits what the model misses (``TubeModel.misfit``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from triage.measure.koren import TubeModel, flow
from triage.measure.roots import root


@dataclass(frozen=True)
class Stage:
    """A resistance-coupled stage. The supply feeds ``load_ohm``; the cathode has ``cathode_ohm``.

    ``next_ohm`` is the grid leak that follows; ``bias_v`` the grid against ground; a pentode's
    screen hangs on ``screen_ohm`` from the supply, or stands at ``screen_v`` against ground, and is
    taken as well bypassed. Under a transformer ``load_ohm`` is the winding's resistance and
    ``signal_ohm`` what it shows to signals; the output resistance is then the tube's alone.
    """

    supply_v: float
    load_ohm: float
    cathode_ohm: float = 0.0
    next_ohm: float = math.inf
    bias_v: float = 0.0
    screen_ohm: float = 0.0
    screen_v: float | None = None
    signal_ohm: float | None = None

    def __post_init__(self) -> None:
        for name in ("supply_v", "load_ohm"):
            if not (getattr(self, name) > 0 and math.isfinite(getattr(self, name))):
                raise ValueError(f"{name} must be above zero: {getattr(self, name):g}")
        for name in ("cathode_ohm", "screen_ohm"):
            if not (getattr(self, name) >= 0 and math.isfinite(getattr(self, name))):
                raise ValueError(f"{name} must not be below zero: {getattr(self, name):g}")
        if not self.next_ohm > 0:
            raise ValueError(f"next_ohm must be above zero: {self.next_ohm:g}")


@dataclass(frozen=True)
class Point:
    """Where a stage settles. Plate, screen and cathode volts are against ground.

    ``grid_v`` is grid against cathode. ``rp`` and ``mu`` are those of this point; the gains are
    without sign; ``out_ohm`` is seen from the next stage's side of the plate, load included.
    """

    plate_a: float
    screen_a: float
    plate_v: float
    screen_v: float
    cathode_v: float
    grid_v: float
    gm: float
    rp: float
    mu: float
    gain_bypassed: float
    gain_unbypassed: float
    out_ohm_bypassed: float
    out_ohm_unbypassed: float

    @property
    def dissipation_w(self) -> float:
        """Power in W in the plate."""
        return (self.plate_v - self.cathode_v) * self.plate_a

    @property
    def screen_w(self) -> float:
        """Power in W in the screen."""
        return (self.screen_v - self.cathode_v) * self.screen_a


def operating_point(model: TubeModel, stage: Stage) -> Point:
    """Where the load line, the cathode's line and the tube meet.

    The cathode's volts are bracketed, and within them screen and plate; each is monotone.
    """

    def surplus(cathode: float) -> float:
        plate_a, screen_a, *_ = _above(model, stage, cathode)
        return (plate_a + screen_a) * stage.cathode_ohm - cathode

    cathode = 0.0
    if stage.cathode_ohm > 0:
        cathode = root(surplus, 0.0, stage.supply_v + max(stage.bias_v, 0.0))
    plate_a, screen_a, plate_v, screen_v = _above(model, stage, cathode)
    grid = stage.bias_v - cathode
    here = flow(model, plate_v - cathode, grid, screen_v - cathode)
    slopes = [float(part) for part in here[2:]]
    load = stage.load_ohm if stage.signal_ohm is None else stage.signal_ohm
    behind = math.inf if stage.signal_ohm is not None else load
    if math.isfinite(stage.next_ohm):
        load = load * stage.next_ohm / (load + stage.next_ohm)
    bare, full = _small(slopes, load, 0.0), _small(slopes, load, stage.cathode_ohm)
    gm, gp = slopes[0], slopes[1]
    rp = 1.0 / gp if gp > 0 else math.inf
    return Point(
        plate_a, screen_a, plate_v, screen_v, cathode, grid, gm, rp,
        gm * rp if math.isfinite(rp) else math.inf,
        bare[0], full[0], _out(slopes, behind, 0.0), _out(slopes, behind, stage.cathode_ohm),
    )  # fmt: skip


def _above(model: TubeModel, stage: Stage, cathode: float) -> tuple[float, float, float, float]:
    """Plate and screen current, plate and screen volts against ground, at given cathode volts."""
    grid = stage.bias_v - cathode
    screen_v, screen_a = 0.0, 0.0
    if model.kind == "pentode":
        screen_v = stage.supply_v if stage.screen_v is None else stage.screen_v
        if stage.screen_ohm > 0:
            full = screen_v

            def sag(volts: float) -> float:
                drawn = float(flow(model, stage.supply_v, grid, volts - cathode).screen)
                return full - drawn * stage.screen_ohm - volts

            screen_v = root(sag, min(cathode, full) - 1.0, full + 1e-9)
        screen_a = float(flow(model, stage.supply_v, grid, screen_v - cathode).screen)

    def line(volts: float) -> float:
        drawn = float(flow(model, volts - cathode, grid, screen_v - cathode).plate)
        return stage.supply_v - drawn * stage.load_ohm - volts

    plate_v = stage.supply_v
    if cathode < stage.supply_v:
        plate_v = root(line, min(cathode, stage.supply_v) - 1.0, stage.supply_v + 1e-9)
    plate_a = float(flow(model, plate_v - cathode, grid, screen_v - cathode).plate)
    return plate_a, screen_a, plate_v, screen_v


def _small(slopes: list[float], load: float, cathode: float) -> tuple[float, float]:
    """Gain (without sign) and share of the input at the cathode, screen held at ground."""
    gm, gp, gs, screen_gm, screen_gs = slopes
    # plate current i = gm (1 - k) + gp (p - k) - gs k with p = -i load; k = (i + s) cathode
    back = gm + gp + gs
    grid_s, back_s = screen_gm, screen_gm + screen_gs
    left = np.array(
        [[1.0 + gp * load, back], [-cathode, 1.0 + back_s * cathode]], dtype=np.float64
    )  # fmt: skip
    current, at_cathode = np.linalg.solve(left, np.array([gm, grid_s * cathode]))
    return float(current) * load, float(at_cathode)


def _out(slopes: list[float], load: float, cathode: float) -> float:
    """Resistance in ohm seen at the plate, the load resistor across it, grid and screen held."""
    gm, gp, gs, screen_gm, screen_gs = slopes
    back, back_s = gm + gp + gs, screen_gm + screen_gs
    # 1 V at the plate: i = gp - back k; k = (i - back_s k) cathode
    share = cathode / (1.0 + (back + back_s) * cathode)
    into = gp - back * gp * share
    through = into + 1.0 / load
    return 1.0 / through if through > 0 else math.inf


@dataclass(frozen=True)
class Output:
    """An output tube under its transformer; of a pair, one of the two.

    ``primary_ohm`` is the winding's DC resistance to this plate, ``load_ohm`` what the winding
    shows to signals (of a pair: plate to plate). ``shared`` tubes stand on one cathode resistor.
    Screens come from ``screen_v`` (the supply if None) by ``screen_ohm``, each its own.
    """

    supply_v: float
    primary_ohm: float
    load_ohm: float
    cathode_ohm: float = 0.0
    bias_v: float = 0.0
    screen_v: float | None = None
    screen_ohm: float = 0.0
    shared: int = 1

    def stage(self) -> Stage:
        """The same as one stage; tubes that share a cathode resistor each see it times them.

        Raises
        ------
        ValueError : fewer than one tube, or a value out of range.
        """
        if self.shared < 1:
            raise ValueError("at least one tube stands on a cathode resistor")
        if not self.load_ohm > 0:
            raise ValueError(f"load_ohm must be above zero: {self.load_ohm:g}")
        return Stage(
            self.supply_v, max(self.primary_ohm, 1e-3), self.cathode_ohm * self.shared,
            bias_v=self.bias_v, screen_v=self.screen_v, screen_ohm=self.screen_ohm,
            signal_ohm=self.load_ohm,
        )  # fmt: skip


def idle_point(model: TubeModel, output: Output) -> Point:
    """Idle of one output tube. A pair on one cathode resistor is taken as two like tubes."""
    return operating_point(model, output.stage())


def single_power(model: TubeModel, output: Output) -> tuple[float, float, float]:
    """Greatest class A1 power in W of one tube, with the current swing's two ends in A.

    The line of ``load_ohm`` through the idle point is followed to the grid at the cathode's volts
    (0 V) and as far down as up would be even; the smaller swing counts: P = (swing/√2)² load.
    """
    idle = idle_point(model, output)
    across = idle.plate_v - idle.cathode_v
    screen = idle.screen_v - idle.cathode_v

    def line(volts: float) -> float:
        drawn = float(flow(model, volts, 0.0, screen).plate)
        return idle.plate_a + (across - volts) / output.load_ohm - drawn

    low = root(line, 0.0, across)
    top = float(flow(model, low, 0.0, screen).plate)
    deep = float(
        flow(model, 2 * across - low, 2 * idle.grid_v, screen).plate
    )  # the grid swings as far down as it does up
    bottom = max(0.0, min(deep, idle.plate_a))
    swing = (top - bottom) / 2.0
    return swing**2 / 2.0 * output.load_ohm, top, bottom


def pair_power(model: TubeModel, output: Output) -> tuple[float, float]:
    """Greatest power in W of a push-pull pair up to grid current, and the peak plate current in A.

    At the peak one tube conducts alone into a quarter of the plate-to-plate load:
    P = I_peak² R_aa/8. Screens are held at their idle volts, the supply does not sag: an upper
    estimate.
    """
    idle = idle_point(model, output)
    fixed = idle.cathode_v
    quarter = output.load_ohm / 4.0
    across, screen = output.supply_v - fixed, idle.screen_v - fixed

    def line(volts: float) -> float:
        return (across - volts) / quarter - float(flow(model, volts, 0.0, screen).plate)

    low = root(line, 0.0, across)
    peak = float(flow(model, low, 0.0, screen).plate)
    return peak**2 * output.load_ohm / 8.0, peak
