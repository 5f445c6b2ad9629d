"""The output of a regulator as a formula of the resistors around its adjust pin, setting by setting.

V = VREF + (VREF·G_near + I)/G_far: G_near the conductance on the reference's side of the adjust pin (to the output
with the reference between output and adjust, else to ground), G_far that on the other side, I the pin's current.
With one resistor on each side these are the published VREF·(1 + R2/R1) + IADJ·R2 and VREF·(1 + R1/R2) + IFB·R1.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from msgspec import Struct

from netcheck.fragment.model import Fragment
from netcheck.fragment.states import State
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Corner
from netcheck.simulation.elements import Regulation, Resistance
from netcheck.supply.network import COPPER, Network


class NoDivider(ValueError):
    """The resistors do not all lie straight between the adjust pin and output or ground; the message names one."""


class Divider(Struct, frozen=True):
    """Which resistors stand on which side in one setting."""

    positions: Mapping[str, str]
    near: tuple[str, ...]
    far: tuple[str, ...]


class Dividers(Struct, frozen=True):
    """Every setting of a regulator, its reference [V], pin current [A], and the resistors' ohms as they are."""

    reference_V: float
    pin_A: float
    sign: float
    ohms: Mapping[str, float]
    settings: tuple[Divider, ...]


def dividers(found: Network, fragment: Fragment, states: Iterable[tuple[Mapping[str, str], State]]) -> Dividers:
    """The settings of a regulator as dividers. Raises NoDivider."""
    settings, ohms = [], {}
    regulation: Regulation | None = None
    for positions, state in states:
        circuit = circuit_of(fragment, state, Corner("nominal"))
        regulation = next(one for one in circuit.elements  # type: ignore[assignment]
                          if one.name == found.regulator.name)
        assert isinstance(regulation, Regulation)
        resistances = [one for one in circuit.elements if isinstance(one, Resistance)]
        same = _Same()
        for one in resistances:
            part = fragment.parts.get(one.name.split(".")[0])
            if part is not None and part.kind in COPPER:
                same.join(one.a, one.b)
        control = regulation.adjust if regulation.adjust is not None else regulation.ground
        shunt = regulation.between == "shunt"
        output = regulation.input if shunt else regulation.output
        pin, out, low = same.of(control or ""), same.of(output), same.of(fragment.ground)
        setting = {part.name for part in found.setting}
        upper = regulation.between in ("output-adjust", "fixed")
        near: list[str] = []
        far: list[str] = []
        touching = [one for one in resistances if one.name.split(".")[0] in setting]
        for one in touching:
            ends = {same.of(one.a), same.of(one.b)}
            if pin not in ends or len(ends) == 1:
                continue
            (other,) = ends - {pin}
            if other in (out, low):
                (near if (other == out) == upper else far).append(one.name)
                ohms[one.name] = one.ohm
            elif sum(other in (same.of(b.a), same.of(b.b)) for b in resistances) > 1:
                raise NoDivider(f"{one.name} leads from the adjust pin of {found.regulator.name} to {other}, which is "
                                "neither its output nor ground")
        settings.append(Divider(positions, tuple(near), tuple(far)))
    if regulation is None:
        raise NoDivider(f"{found.regulator.name} has no setting")
    return Dividers(regulation.reference_V, regulation.adjust_A if regulation.adjust is not None else
                    regulation.ground_A, found.sign, ohms, tuple(settings))


def volts(given: Dividers, setting: Divider, ohms: Mapping[str, float]) -> float:
    """The output of one setting; infinite where nothing is on the far side."""
    near = sum(1 / ohms[name] for name in setting.near)
    far = sum(1 / ohms[name] for name in setting.far)
    return given.reference_V + (given.reference_V * near + given.pin_A) / far if far else float("inf")


class _Same:
    """Nets that links join."""

    def __init__(self) -> None:
        self._to: dict[str, str] = {}

    def of(self, net: str) -> str:
        while net in self._to:
            net = self._to[net]
        return net

    def join(self, one: str, other: str) -> None:
        a, b = self.of(one), self.of(other)
        if a != b:
            self._to[a] = b
