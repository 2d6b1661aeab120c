"""Tube models after Koren (1996): plate and screen current with their slopes, arrays in and out.

The models reproduce the shape of a sheet's curves and miss single points of it by up to a third
(each set states by how much). They answer "what would a middling tube do here"; the sheet decides
what a tube may do, and a reading decides what this one does.

Source: N. L. Koren, "Improved Vacuum-Tube Models for SPICE Simulations", Glass Audio 8(5), 1996,
equations 4 and 5 and the parameter sets, as quoted in a public listing of the equations.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Literal, NamedTuple

import numpy as np
import numpy.typing as npt
from pydantic import Field, model_validator

from triage.errors import KnowledgeError, Problem
from triage.model.base import Entry, Frozen
from triage.units import value_of

Array = npt.NDArray[np.float64]
Volts = npt.ArrayLike

LEAST_SCREEN_V = 1e-3
"""Screen volts below which the model is read at this value: it divides by them."""
GRID_ONSET_V = 0.4
"""Grid volts above the cathode where grid current sets in (judgement: the listing's grid diode)."""
GRID_KNEE_V = 0.05
"""Width of that onset (judgement)."""


class Missed(Frozen):
    """A published point and the share by which the model misses its plate current.

    ``misfit`` is (model - sheet)/sheet, ``screen_misfit`` the same of the screen current; ``from``
    the source of the sheet's values.
    """

    plate_v: str
    grid_v: str
    screen_v: str | None = None
    sheet: str
    misfit: float
    screen_sheet: str | None = None
    screen_misfit: float | None = None
    from_: str = Field(alias="from")


class TubeModel(Entry):
    """One parameter set, for one section. ``type`` is a type number of ``knowledge/tubes``.

    ``mu`` and ``ex`` are plain numbers; ``kg1``, ``kg2``, ``kp`` and ``kvb`` as the article gives
    them (volts and amperes; ``kvb`` in V² for a triode, V for a pentode); ``vct`` is added to the
    grid volts; ``rgi`` in ohm is the resistance of the positive grid.
    """

    type: str
    kind: Literal["triode", "pentode"]
    mu: float = Field(gt=0)
    ex: float = Field(ge=1, le=2)
    kg1: float = Field(gt=0)
    kg2: float | None = Field(default=None, gt=0)
    kp: float = Field(gt=0)
    kvb: float = Field(ge=0)
    vct: float = 0.0
    rgi: float = Field(default=2000.0, gt=0)
    misses: list[Missed] = Field(min_length=1)
    note: str = ""

    @model_validator(mode="after")
    def _screen_where_it_belongs(self) -> TubeModel:
        if self.kind == "pentode" and (self.kg2 is None or self.kvb == 0):
            raise ValueError(f"{self.type}: a pentode model needs kg2 and a kvb above zero")
        if self.kind == "triode" and self.kg2 is not None:
            raise ValueError(f"{self.type}: a triode model has no kg2")
        return self

    @property
    def misfit(self) -> float:
        """Largest share, without its sign, by which the model misses a named published point."""
        return max(abs(row.misfit) for row in self.misses)

    def misfit_at(self, plate_a: float) -> float:
        """Share missed, without its sign, at the named point of the current nearest to this one."""

        def apart(row: Missed) -> float:
            sheet = value_of(row.sheet, "A")
            return abs(math.log(max(plate_a, 1e-9) / sheet))

        return abs(min(self.misses, key=apart).misfit)

    @property
    def misfit_words(self) -> str:
        """The misfit as one clause for a person."""
        worst = max(self.misses, key=lambda row: abs(row.misfit))
        where = f"{worst.plate_v} plate, {worst.grid_v} grid"
        return f"the model misses the sheet by up to {worst.misfit:+.0%} (at {where})"

    def giving(self, share: float) -> TubeModel:
        """The same tube with all currents times ``share`` (0.6: a worn one).

        Raises
        ------
        ValueError : the share is not above zero.
        """
        if not share > 0:
            raise ValueError("the share of current must be above zero")
        kg2 = None if self.kg2 is None else self.kg2 / share
        return self.model_copy(update={"kg1": self.kg1 / share, "kg2": kg2})


class Bank(NamedTuple):
    """Parameters of several tubes of one kind, each an array of shape (tubes, 1).

    ``flow`` and ``grid_current`` take it in place of a model; volts then have shape (tubes, members).
    """

    kind: Literal["triode", "pentode"]
    mu: Array
    ex: Array
    kg1: Array
    kg2: Array | None
    kp: Array
    kvb: Array
    vct: Array
    rgi: Array

    @classmethod
    def of(cls, models: Sequence[TubeModel]) -> Bank:
        """Parameters of these models, which are all triodes or all pentodes, in their order."""
        kind = models[0].kind
        assert all(model.kind == kind for model in models)

        def column(name: str) -> Array:
            return np.array([[getattr(model, name)] for model in models], dtype=np.float64)

        kg2 = column("kg2") if kind == "pentode" else None
        names = ("kp", "kvb", "vct", "rgi")
        return cls(kind, column("mu"), column("ex"), column("kg1"), kg2, *map(column, names))


class Flow(NamedTuple):
    """Currents in A and their slopes in S, each an array of the shape of the volts given.

    ``gm``, ``gp``, ``gs``: of plate current by grid, plate and screen volts. ``screen_gm`` and
    ``screen_gs``: of screen current by grid and screen volts (it does not depend on plate volts).
    """

    plate: Array
    screen: Array
    gm: Array
    gp: Array
    gs: Array
    screen_gm: Array
    screen_gs: Array


def _soft(x: Array) -> tuple[Array, Array]:
    """``softplus`` and ``sigmoid`` at once: they share their exponential."""
    small = np.exp(-np.abs(x))
    return (
        np.maximum(x, 0.0) + np.log1p(small),
        np.where(x >= 0, 1.0, small) / (1.0 + small),
    )


def softplus(x: Volts) -> Array:
    """log(1 + exp(x)) without overflow or loss of small values."""
    return np.asarray(_soft(np.asarray(x, dtype=np.float64))[0])


def sigmoid(x: Volts) -> Array:
    """Slope of ``softplus``: 1/(1 + exp(-x)) without overflow."""
    return np.asarray(_soft(np.asarray(x, dtype=np.float64))[1])


def flow(model: TubeModel | Bank, plate_v: Volts, grid_v: Volts, screen_v: Volts = 0.0) -> Flow:
    """Currents and slopes at volts against the cathode; the arguments broadcast.

    Valid for any finite volts: no current flows with the plate (in a pentode, the screen) at or
    below the cathode. A triode ignores ``screen_v``.

    Parameters
    ----------
    model : parameter set, or those of several tubes.
    plate_v, grid_v, screen_v : V against the cathode.
    """
    plate, grid, screen = np.broadcast_arrays(
        *(np.asarray(volts, dtype=np.float64) for volts in (plate_v, grid_v, screen_v))
    )
    if model.kind == "triode":
        return _triode(model, plate, grid + model.vct)
    return _pentode(model, plate, grid + model.vct, screen)


def grid_current(model: TubeModel | Bank, grid_v: Volts) -> tuple[Array, Array]:
    """Current in A into a positive grid and its slope in S: a soft onset, then ``rgi``.

    Judgement: the published sets give a diode and ``rgi`` in series; this is that diode, smooth.
    """
    over = (np.asarray(grid_v, dtype=np.float64) - GRID_ONSET_V) / GRID_KNEE_V
    soft, rise = _soft(over)
    return soft * (GRID_KNEE_V / model.rgi), rise / model.rgi


def _triode(model: TubeModel | Bank, plate: Array, grid: Array) -> Flow:
    """Equation 4: E = (Vp/kp) ln(1 + exp(kp (1/mu + Vg/sqrt(kvb + Vp²)))), I = 2 E^ex/kg1."""
    volts = np.maximum(plate, 0.0)
    root = np.sqrt(np.maximum(model.kvb + volts**2, 1e-12))
    inner = model.kp * (1.0 / model.mu + grid / root)
    fill, slope = _soft(inner)
    drive = volts * fill / model.kp
    by_grid = volts * slope / root
    by_plate = np.where(plate > 0, fill / model.kp - volts**2 * grid * slope / root**3, 0.0)
    power = drive ** (model.ex - 1.0) * (2.0 / model.kg1)
    current, steep = power * drive, power * model.ex
    none = np.zeros_like(current)
    return Flow(current, none, steep * by_grid, steep * by_plate, none, none, none)


def _pentode(model: TubeModel | Bank, plate: Array, grid: Array, screen: Array) -> Flow:
    """Equation 5, and Ig2 = (Vg1 + Vg2/mu)^1.5/kg2 as the article has it."""
    assert model.kg2 is not None
    alive = screen > LEAST_SCREEN_V
    volts = np.maximum(screen, LEAST_SCREEN_V)
    inner = model.kp * (1.0 / model.mu + grid / volts)
    fill, slope = _soft(inner)
    drive = volts * fill / model.kp
    knee = np.arctan(np.maximum(plate, 0.0) / model.kvb)
    power = drive ** (model.ex - 1.0) * (2.0 / model.kg1)
    full = power * drive
    steep = power * model.ex * knee
    by_screen = fill / model.kp - grid * slope / volts
    bend = model.kvb / (model.kvb**2 + plate**2)
    rise = np.maximum(grid + volts / model.mu, 0.0)
    root = np.sqrt(rise) / model.kg2
    share = 1.5 * root
    return Flow(
        plate=full * knee,
        screen=np.where(alive, rise * root, 0.0),
        gm=steep * slope,
        gp=np.where(plate > 0, full * bend, 0.0),
        gs=np.where(alive, steep * by_screen, 0.0),
        screen_gm=np.where(alive, share, 0.0),
        screen_gs=np.where(alive, share / model.mu, 0.0),
    )


def load_models(rows: Iterable[Mapping[str, Any]]) -> dict[str, TubeModel]:
    """Models by id, out of the rows of ``knowledge/models.yaml``.

    Raises
    ------
    KnowledgeError : two models share an id.
    """
    models: dict[str, TubeModel] = {}
    for row in rows:
        model = TubeModel.model_validate(row)
        if models.setdefault(model.id, model) is not model:
            what = f"id '{model.id}' stands twice"
            raise KnowledgeError([Problem("models", 0, what, mend="ids are never reused.")])
    return models


def model_of(models: Mapping[str, TubeModel], *names: str) -> TubeModel | None:
    """First model of a tube of any of these names (id or type, spelling free), or None."""
    plain = {_plain(name) for name in names}
    for model in models.values():
        if _plain(model.id) in plain or _plain(model.type) in plain:
            return model
    return None


def _plain(name: str) -> str:
    return "".join(char for char in name.upper() if char.isalnum())
