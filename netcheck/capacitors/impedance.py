"""The impedance of a net against frequency, by the simulator, with its resonances and the parts that make them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import groupby, pairwise
from typing import Any

from msgspec import Struct

from netcheck.capacitors.roles import Surroundings
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.states import enumerate_states
from netcheck.parts import capacitor_laws as laws
from netcheck.parts.capacitor import family
from netcheck.parts.specs import CapacitorSpec, ResistorSpec
from netcheck.quantities.words import nearest
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.elements import Capacitance, Circuit, Resistance
from netcheck.simulation.impedance import close_up, sweep
from netcheck.simulation.operating_point import solve
from netcheck.solving.solved_states import Corners

FORMAT = "netcheck-impedance/1"
POINTS = 400
"""Points of a curve, over whatever range."""

_NEAR = 81  # points of the close-up of a resonance
_FLAT = 1.02  # how far an extreme stands out from its neighbours, as a ratio, to be told as one
_SHARE = 0.5  # of the largest share that a part must have to be named as making a resonance


class NoNet(ValueError):
    """There is no capacitor on the net asked for; the message says what there is."""


class Branch(Struct, frozen=True):
    """One capacitor as it stands on the net: what is left of it at its volts, its resistance and inductance."""

    part: str
    farad: float
    esr_ohm: float
    esl_H: float
    known: bool = True

    def ohms(self, hertz: float) -> complex:
        """R + j(ωL - 1/ωC)."""
        omega = 2 * math.pi * hertz
        return complex(self.esr_ohm, omega * self.esl_H - 1 / (omega * self.farad))

    @property
    def own_Hz(self) -> float:
        """Where it resonates by itself: 1/(2π√(LC))."""
        return math.inf if self.esl_H == 0 else 1 / (2 * math.pi * math.sqrt(self.esl_H * self.farad))


class Resonance(Struct, frozen=True):
    """A least (series) or a most (parallel) of the impedance, and the parts that make it."""

    hertz: float
    ohms: float
    kind: str
    parts: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        return {"hz": self.hertz, "ohms": self.ohms, "kind": self.kind, "parts": list(self.parts)}


class Curve(Struct, frozen=True):
    """The impedance of a net in one variant. assumed: parts whose resistance or inductance is not known, left out."""

    variant: str
    hertz: tuple[float, ...]
    ohms: tuple[float, ...]
    resonances: tuple[Resonance, ...]
    branches: tuple[Branch, ...]
    assumed: tuple[str, ...]

    def at(self, hertz: float) -> float:
        """|Z| at a frequency, between two points along a straight line in logarithms."""
        for (f0, f1), (z0, z1) in zip(pairwise(self.hertz), pairwise(self.ohms), strict=True):
            if f0 <= hertz <= f1:
                share = math.log(hertz / f0) / math.log(f1 / f0)
                return math.exp(math.log(z0) + share * math.log(z1 / z0))
        return math.nan

    def shares(self, hertz: float) -> dict[str, float]:
        """Each part's current as a share of the whole: |Z| of the net over its own. They may add up to more than 1."""
        whole = abs(1 / sum(1 / branch.ohms(hertz) for branch in self.branches))
        return {branch.part: whole / abs(branch.ohms(hertz)) for branch in self.branches}

    def above(self, target_ohm: float) -> list[tuple[float, float]]:
        """The ranges in which the impedance is above a target."""
        points = zip(self.hertz, self.ohms, strict=True)
        runs = [[hertz for hertz, _ in run] for above, run in groupby(points, lambda one: one[1] > target_ohm) if above]
        return [(run[0], run[-1]) for run in runs]

    def to_dict(self) -> dict[str, Any]:
        return {"variant": self.variant, "hz": list(self.hertz), "ohms": list(self.ohms),
                "resonances": [one.to_dict() for one in self.resonances],
                "parts": {one.part: {"capacitance_F": one.farad, "esr_ohm": one.esr_ohm, "esl_H": one.esl_H}
                          for one in self.branches},
                "not_known": list(self.assumed)}


def curves(
    variants: Sequence[Fragment], net: str, low_Hz: float, high_Hz: float, volts: Mapping[str, float] | None = None
) -> list[Curve]:
    """The curve of each variant. Raises NoNet, and NoImpedance of the simulator.

    volts: net to volts against ground for the bias of ceramics; worked out where it is not given.
    """
    if not any(_on(fragment, net) for fragment in variants):
        every = dict.fromkeys(one for fragment in variants for part in fragment.of_kind(Kind.CAPACITOR)
                              for one in part.nets if one != fragment.ground)
        near = nearest(net, every)
        raise NoNet(f"there is no capacitor on {net}" + (f"; did you mean {near}?" if near else "")
                    + f" There are some on: {', '.join(every)}.")
    return [curve(fragment, net, low_Hz, high_Hz, volts) for fragment in variants if _on(fragment, net)]


def curve(
    fragment: Fragment, net: str, low_Hz: float, high_Hz: float, volts: Mapping[str, float] | None = None
) -> Curve:
    """The impedance of one net to ground: its capacitors, and its resistors to what holds still.

    What drives the net is left out: below some kHz a supply's own regulation holds it.
    """
    parts = _on(fragment, net)
    found_V = _volts(fragment) if volts is None else volts
    branches = tuple(_branch(part, found_V) for part in parts)
    around = Surroundings(fragment)
    circuit = Circuit((
        *(Capacitance(one.part, net, fragment.ground, one.farad, one.esr_ohm, one.esl_H) for one in branches),
        *(Resistance(name, net, fragment.ground, _ohm(fragment.parts[name])) for name, other in
          around.resistors(net).items() if around.held(other) and _ohm(fragment.parts[name]) > 0),
    ), fragment.ground)
    per_decade = max(1, round(POINTS / math.log10(high_Hz / low_Hz)))
    hertz, found = sweep(circuit, net, low_Hz, high_Hz, per_decade)
    ohms = tuple(abs(one) for one in found)
    return Curve(fragment.variant, hertz, ohms, tuple(_resonances(circuit, net, hertz, ohms, branches)), branches,
                 tuple(one.part for one in branches if not one.known))


def _on(fragment: Fragment, net: str) -> list[Part]:
    """The capacitors from a net to what holds still."""
    around = Surroundings(fragment)
    return [part for part in fragment.of_kind(Kind.CAPACITOR)
            if net in part.nets and all(one == net or around.held(one) for one in part.nets)
            and len(set(part.nets)) == 2]


def _ohm(part: Part) -> float:
    assert isinstance(part.spec, ResistorSpec)
    return part.spec.resistance.value


def _volts(fragment: Fragment) -> dict[str, float]:
    """Every net's volts in the first state with a supply on, at room temperature; rails alone where none is solved."""
    volts = {net: rail.volts.value for net, rail in fragment.rails.items()}
    state = next((one for one in enumerate_states(fragment).states if one.live), None)
    if state is not None and any(True for _ in fragment.of_kind(Kind.REGULATOR, Kind.CELL, Kind.RESISTOR)):
        (point,) = solve([circuit_of(fragment, state, Corners.of(fragment).room)])
        volts |= {net: found for net, found in point.volts.items() if found is not None}
    return volts


def _branch(part: Part, volts: Mapping[str, float]) -> Branch:
    spec = part.spec
    assert isinstance(spec, CapacitorSpec)
    first, second = (volts.get(net, 0.0) for net in part.nets)
    esr, esl = laws.esr(spec), laws.esl(spec)
    return Branch(part.name, spec.capacitance.value * laws.bias_left(spec, first - second),
                  0.0 if esr is None else esr.usual, 0.0 if esl is None else esl.usual,
                  family(spec.type) is not None or (spec.esr_ohm is not None and spec.esl_H is not None))


def _resonances(
    circuit: Circuit, net: str, hertz: Sequence[float], ohms: Sequence[float], branches: Sequence[Branch]
) -> list[Resonance]:
    """Every extreme of the curve that stands out, looked at closely."""
    places = _extremes(ohms)
    spans = [(hertz[at - 1], hertz[at + 1]) for at, _ in places]
    found = []
    for (_, kind), (near_Hz, near) in zip(places, close_up(circuit, net, spans, _NEAR), strict=True):
        sizes = [abs(one) for one in near]
        best = (min if kind == "series" else max)(range(len(sizes)), key=sizes.__getitem__)
        found.append(Resonance(near_Hz[best], sizes[best], kind, made_by(branches, near_Hz[best], kind)))
    return found


def _extremes(ohms: Sequence[float]) -> list[tuple[int, str]]:
    """Places of the leasts and mosts by turns; those that stand out less than a little are no resonance."""
    found: list[tuple[int, str]] = []
    for at in range(1, len(ohms) - 1):
        before, here, after = ohms[at - 1: at + 2]
        kind = "series" if before > here <= after else "parallel" if before < here >= after else ""
        if kind:
            found.append((at, kind))
    kept: list[tuple[int, str]] = []
    for place in found:
        if kept and kept[-1][1] != place[1] and _ratio(ohms[kept[-1][0]], ohms[place[0]]) < _FLAT:
            kept.pop()
        elif not kept or kept[-1][1] != place[1]:
            kept.append(place)
        elif (ohms[place[0]] < ohms[kept[-1][0]]) == (place[1] == "series"):
            kept[-1] = place
    return kept


def _ratio(one: float, other: float) -> float:
    return max(one, other) / min(one, other)


def made_by(branches: Sequence[Branch], hertz: float, kind: str) -> tuple[str, ...]:
    """The parts that make a resonance: in series what carries most; in parallel the inductive and the capacitive."""
    admittances = {one.part: 1 / one.ohms(hertz) for one in branches}
    if kind == "series":
        return _largest({name: abs(value) for name, value in admittances.items()})
    inductive = {name: -value.imag for name, value in admittances.items() if value.imag < 0}
    capacitive = {name: value.imag for name, value in admittances.items() if value.imag > 0}
    return (*_largest(inductive), *_largest(capacitive))


def _largest(sizes: Mapping[str, float]) -> tuple[str, ...]:
    most = max(sizes.values(), default=0.0)
    return tuple(name for name, size in sizes.items() if size >= _SHARE * most)
