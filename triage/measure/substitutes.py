"""Whether one tube type may stand in for another, worked out of their data and the socket's volts.

``substitute`` compares pin by pin, heater against winding, limits against what the socket gives,
and for rectifiers capacitor, inverse volts, current and drop. Each reason has a level:

``good``     nothing to do,
``differs``  harmless as it stands, though the sound or the volts are not the same,
``change``   something must be altered, or looked up, before the tube goes in,
``bad``      plugged in as it stands it harms the tube, the amplifier or a person.

The verdict is the worst reason: ``safe``, ``with_changes`` or ``unsafe``. What nobody said of the
amplifier is compared type against type, and never makes a verdict better. A limit that is not known
is a ``change`` (look it up), never ``good``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from triage.measure.rectifier_swap import rectifier_reasons
from triage.measure.swap_reasons import Circumstances, Level, Reason, limit_reason
from triage.measure.tube_entry import LimitName, TubeType

__all__ = ["Circumstances", "Level", "Reason", "Substitution", "Verdict", "substitute"]

Verdict = Literal["safe", "with_changes", "unsafe"]

SPREAD = 0.30
"""New receiving tubes differ by about this much from their sheet: a forum on what sheets mean (seen)."""
HEATER_BAND = 0.10
"""Heater volts may be off by a tenth: printed so in the sheet of the 6X4 (6.3 V ±10 %; seen)."""
STRING_BAND = 0.05
"""In a series string the amperes must agree within this; from memory, trade."""
BIAS_BAND = 0.15
"""Cathode resistors that differ by less than this are within tolerances; from memory, trade."""
LITTLE_A = 0.07
"""A heater that takes no more than this above the old one is within any winding; trade, memory."""
POWER_W = 5.0
"""From this plate wattage on a tube counts as an output tube here; ours."""

NOTHING_KNOWN = Circumstances()


@dataclass(frozen=True)
class Substitution:
    """What comes of putting ``new`` where ``old`` belongs."""

    old: str
    new: str
    verdict: Verdict
    reasons: tuple[Reason, ...]

    def why(self, level: Level) -> tuple[str, ...]:
        """Sentences of one level, in the order they were found."""
        return tuple(reason.says for reason in self.reasons if reason.level == level)

    def sources(self) -> frozenset[str]:
        """Ids of the sources the reasons rest on; mark the verdict if one is from memory."""
        return frozenset(source for reason in self.reasons for source in reason.sources)


def substitute(old: TubeType, new: TubeType, at: Circumstances = NOTHING_KNOWN) -> Substitution:
    """Judge ``new`` in the socket of ``old``.

    Parameters
    ----------
    old : the type the socket was made for.
    new : the type to be put in.
    at : what is known of the socket, in V, A, W, F, ohm; None where nobody said.

    Returns
    -------
    Substitution: verdict and all reasons, the worst first.

    Source
    ------
    The data of ``knowledge/tubes/`` with the sources named there; the comparison is ours.
    """
    if old.id == new.id:
        same = Reason("type", "good", f"{new.type} is another number of {old.type}")
        return Substitution(old.type, new.type, "safe", (same,))
    if _rectifies(old) != _rectifies(new):
        what = f"{new.type} and {old.type} do not do the same work: one of them is a rectifier"
        return Substitution(old.type, new.type, "unsafe", (Reason("type", "bad", what),))
    reasons = [*_pins(old, new), *_heater(old, new, at)]
    if _rectifies(old):
        reasons += rectifier_reasons(old, new, at)
    else:
        reasons += [*_limits(old, new, at), *_grid_return(old, new, at), *_work(old, new, at)]
    order: tuple[Level, ...] = ("bad", "change", "differs", "good")
    reasons.sort(key=lambda reason: order.index(reason.level))
    worst = reasons[0].level
    verdict: Verdict = "unsafe" if worst == "bad" else "with_changes"
    if worst in ("differs", "good"):
        verdict = "safe"
    return Substitution(old.type, new.type, verdict, tuple(reasons))


def _rectifies(tube: TubeType) -> bool:
    return "inverse_v" in tube.limits


def _roles(tube: TubeType) -> dict[int, str]:
    """What each pin carries; a cathode that shares a heater pin stays the heater's."""
    found: dict[int, str] = {}
    for role, pins in tube.pins.by_role().items():
        for pin in pins:
            if role != "cathode" or found.get(pin) != "heater":
                found[pin] = role
    if tube.triode is not None:
        triode = tube.triode
        found |= {triode.plate: "triode plate", triode.grid: "triode grid"}
        found[triode.cathode] = "triode cathode"
    return {pin: role for pin, role in found.items() if role != "idle"}


def _pins(old: TubeType, new: TubeType) -> list[Reason]:
    sources = (old.pins.from_, new.pins.from_)
    if old.base != new.base:
        says = f"{new.type} stands on {new.base}, {old.type} on {old.base}: it needs another socket"
        return [Reason("pins", "change", says, sources)]
    before, after = _roles(old), _roles(new)
    kept = {role for pin, role in before.items() if after.get(pin) == role}
    found = []
    for pin in range(1, old.base_pins + 1):
        was, now = before.get(pin), after.get(pin)
        if was == now or (was, now) == ("shield", None):
            continue
        level, says = _pin_change(was, now, kept)
        found.append(Reason("pins", level, f"pin {pin}: {says}", sources))
    return found or [Reason("pins", "good", "every pin carries the same electrode", sources)]


def _pin_change(was: str | None, now: str | None, kept: set[str]) -> tuple[Level, str]:
    """Level and words for a pin that carried ``was`` and is now to carry ``now``.

    ``kept`` are the electrodes that stay reachable at some other pin.
    """
    if was is None and now == "suppressor":
        return "change", "suppressor grid where nothing was: join it to the cathode"
    if was is None:
        return "change", f"{now} inside where nothing was: see that the contact is not used"
    if now is not None:
        return "bad", f"{was} in the old, {now} in the new tube"
    if was == "suppressor":
        return "differs", "no suppressor grid any more; its lead does no harm"
    if was in kept:
        return "change", f"the {was} is at the other pin only: see that the lead goes there too"
    return "bad", f"the {was} has gone from it"


def _heater(old: TubeType, new: TubeType, at: Circumstances) -> list[Reason]:
    sources = (old.heater.from_, new.heater.from_)
    ways = dict(old.heater_ways())
    volts = at.winding_v if at.winding_v is not None else max(ways)
    if at.winding_v is None and len(ways) == 2 and len(new.heater_ways()) == 1:
        volts = min(ways, key=lambda one: abs(one - new.heater_ways()[0][0]))
    old_a = ways[min(ways, key=lambda one: abs(one - volts))]
    new_v, new_a = min(new.heater_ways(), key=lambda way: abs(way[0] - volts))
    found = []
    if abs(new_v - volts) > HEATER_BAND * new_v:
        says = f"heater {new_v:g} V where the socket gives {volts:g} V"
        found.append(Reason("heater", "bad", says, sources))
    if old.heater.direct != new.heater.direct and not _rectifies(old):
        found.append(Reason("heater", "bad", "filament and separate cathode differ", sources))
    if at.series_string:
        found += _in_string(old_a, new_a, sources)
    elif new_a > old_a * 1.02:
        found.append(_more_heater(new_a - old_a, at, sources))
    elif new_a < old_a * 0.98:
        says = f"heater takes {old_a - new_a:.3g} A less: the winding's volts rise a little"
        found.append(Reason("heater", "good", says, sources))
    return found or [Reason("heater", "good", f"heater {new_v:g} V {new_a:g} A suits", sources)]


def _in_string(old_a: float, new_a: float, sources: tuple[str, ...]) -> list[Reason]:
    if abs(new_a - old_a) <= STRING_BAND * old_a:
        return []
    says = f"heater {new_a:g} A in a series string of {old_a:g} A: one or the other burns"
    return [Reason("heater", "bad", says, sources)]


def _more_heater(more_a: float, at: Circumstances, sources: tuple[str, ...]) -> Reason:
    says = f"heater takes {more_a:.3g} A more for each tube"
    if at.winding_spare_a is None and more_a <= LITTLE_A:
        return Reason("heater", "differs", says, sources)
    if at.winding_spare_a is None:
        return Reason("heater", "change", f"{says}: see what the winding is good for", sources)
    if at.winding_spare_a >= more_a:
        return Reason("heater", "good", f"{says}, which the winding has to spare", sources)
    return Reason("heater", "bad", f"{says}, the winding has {at.winding_spare_a:g} A", sources)


def _limits(old: TubeType, new: TubeType, at: Circumstances) -> list[Reason]:
    given: dict[LimitName, float | None] = {
        "plate_v": at.plate_v,
        "screen_v": at.screen_v,
        "plate_w": at.plate_w,
        "screen_w": at.screen_w,
        "cathode_ma": at.cathode_a,
        "heater_cathode_v": at.heater_cathode_v,
    }
    found = []
    for name, value in given.items():
        reason = limit_reason(name, old, new, value)
        if reason is not None and name == "heater_cathode_v" and value is None:
            reason = _only_where_lifted(reason)
        if reason is not None:
            found.append(reason)
    return [*found, *_triode_limits(old, new)]


def _only_where_lifted(reason: Reason) -> Reason:
    """Heater to cathode matters in followers and lifted heaters: said, yet no change by itself."""
    if reason.level != "change":
        return reason
    return Reason(reason.about, "differs", f"{reason.says} (cathode followers)", reason.sources)


def _triode_limits(old: TubeType, new: TubeType) -> list[Reason]:
    if (old.triode is None) == (new.triode is None):
        return []
    with_it = old if old.triode is not None else new
    return [Reason("pins", "bad", f"only {with_it.type} has a triode of its own", ())]


def _grid_return(old: TubeType, new: TubeType, at: Circumstances) -> list[Reason]:
    bias = at.bias
    most, before = new.return_limit(bias), old.return_limit(bias)
    sources = tuple(tube.grid_return.from_ for tube in (old, new) if tube.grid_return is not None)
    if most is None:
        if _power(new):
            says = f"no grid return limit of {new.type} is known here: look it up in its sheet"
            return [Reason("grid_return", "change", says, sources)]
        return []
    if at.grid_return_ohm is not None:
        text = f"grid return {at.grid_return_ohm / 1e3:g} kohm, {new.type} bears {most / 1e3:g}"
        level: Level = "good" if at.grid_return_ohm <= most else "bad"
        return [Reason("grid_return", level, text, sources)]
    if before is None or most >= before:
        return [Reason("grid_return", "good", "the grid return may stay", sources)]
    says = f"grid return at most {most / 1e3:g} kohm, {old.type} bore {before / 1e3:g}"
    return [Reason("grid_return", "change", says, sources)]


def _power(tube: TubeType) -> bool:
    return (tube.limit("plate_w") or 0.0) >= POWER_W


def _work(old: TubeType, new: TubeType, at: Circumstances) -> list[Reason]:
    """Bias and gain: idle current of output tubes, mu and current of small ones."""
    found = []
    if _power(old) and at.bias != "cathode":
        says = "set the idle current anew, from the most negative setting"
        found.append(Reason("bias", "change", says, ()))
    pair = _same_point(old, new)
    if pair is None:
        says = "no published points of both at the same volts: compare their curves"
        return [*found, Reason("gain", "change", says, ())]
    found += _bias_resistor(*pair, _power(old))
    found += _gain(*pair)
    return found


Rated = tuple[float, float, float | None, str]
"""Cathode bias ohm, cathode current A, mu (None in pentodes), source, all at one point."""


def _same_point(old: TubeType, new: TubeType) -> tuple[Rated, Rated] | None:
    for one in old.points:
        for two in new.points:
            if abs(one.volts()[0] - two.volts()[0]) > 0.1 * one.volts()[0]:
                continue
            if abs(one.volts()[1] - two.volts()[1]) > 0.1 * (one.volts()[1] or 1.0):
                continue
            return one.rated(), two.rated()
    return None


def _bias_resistor(old: Rated, new: Rated, power: bool) -> list[Reason]:
    sources = (old[3], new[3])
    if old[0] <= 0.0:
        return []
    change = new[0] / old[0] - 1.0
    if abs(change) <= (BIAS_BAND if power else SPREAD):
        return [Reason("bias", "good", "cathode resistor about the same", sources)]
    says = f"its cathode resistor is {new[0]:.0f} ohm where the old one's is {old[0]:.0f}"
    return [Reason("bias", "change" if power or abs(change) > 1.0 else "differs", says, sources)]


def _gain(old: Rated, new: Rated) -> list[Reason]:
    sources = (old[3], new[3])
    if old[2] is None or new[2] is None:
        return []
    change = new[2] / old[2] - 1.0
    if abs(change) <= SPREAD + 1e-9:
        return [Reason("gain", "good", "gain within what tubes of one type differ by", sources)]
    says = f"mu {new[2]:g} in place of {old[2]:g}: the stage's gain is another"
    return [Reason("gain", "change", says, sources)]
