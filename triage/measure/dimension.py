"""Units of products and quotients, by exponents of volt, ampere and second."""

from __future__ import annotations

Powers = tuple[int, int, int]

POWERS: dict[str, Powers] = {
    "": (0, 0, 0), "V": (1, 0, 0), "A": (0, 1, 0), "s": (0, 0, 1), "ohm": (1, -1, 0),
    "S": (-1, 1, 0), "W": (1, 1, 0), "J": (1, 1, 1), "C": (0, 1, 1), "F": (-1, 1, 1),
    "H": (1, -1, 1), "Hz": (0, 0, -1), "V²": (2, 0, 0), "A²": (0, 2, 0),
}  # fmt: skip
"""Exponents of V, A and s in each named unit (SI)."""
_NAMES = {powers: name for name, powers in POWERS.items()}
_BASE = ("V", "A", "s")
_PLAIN = {"rad", "dB"}
"""Units that count as plain numbers in a product."""
_RAISED = {"⁰": "0", "¹": "1", "²": "2", "³": "3", "⁴": "4", "⁵": "5", "⁶": "6", "⁻": "-"}
_RAISE = {digit: mark for mark, digit in _RAISED.items()}


def _spell(powers: Powers) -> str:
    if powers in _NAMES:
        return _NAMES[powers]
    parts = []
    for name, power in zip(_BASE, powers, strict=True):
        if power:
            parts.append(name + ("" if power == 1 else "".join(_RAISE[c] for c in str(power))))
    return "·".join(parts)


def _read(unit: str) -> Powers | None:
    if unit in POWERS:
        return POWERS[unit]
    found = [0, 0, 0]
    for part in unit.split("·"):
        name = part.rstrip("".join(_RAISED))
        if name not in _BASE:
            return None
        raised = "".join(_RAISED[c] for c in part[len(name) :]) or "1"
        found[_BASE.index(name)] += int(raised)
    return (found[0], found[1], found[2])


def _times(a: str, b: str, sign: int) -> str | None:
    first, second = _read(a), _read(b)
    if first is None or second is None:
        return None
    v, amp, s = (x + sign * y for x, y in zip(first, second, strict=True))
    return _spell((v, amp, s))


def product(a: str, b: str) -> str:
    """Unit of a product: ``product("V", "A")`` is ``"W"``; plain numbers leave it as it is."""
    a, b = ("" if unit in _PLAIN else unit for unit in (a, b))
    if not a or not b:
        return a or b
    found = _times(a, b, 1)
    return f"{a}·{b}" if found is None else found


def quotient(a: str, b: str) -> str:
    """Unit of a quotient: ``quotient("V", "ohm")`` is ``"A"``; equal units give a plain number."""
    a, b = ("" if unit in _PLAIN else unit for unit in (a, b))
    if a == b:
        return ""
    if not b:
        return a
    found = _times(a, b, -1)
    return f"{a or 1}/{b}" if found is None else found


def power(unit: str, exponent: float) -> str:
    """Unit of a power: ``power("V²", 0.5)`` is ``"V"``; fractions without a name stay spelled."""
    if unit in _PLAIN or unit == "":
        return ""
    powers = _read(unit)
    if powers is not None:
        raised = [p * exponent for p in powers]
        if all(p == int(p) for p in raised):
            return _spell((int(raised[0]), int(raised[1]), int(raised[2])))
    return f"({unit})^{exponent:g}"
