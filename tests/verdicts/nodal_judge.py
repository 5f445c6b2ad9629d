"""An independent judge of small circuits: whether a cell is charged, by nodal analysis written for the tests alone.

It knows nothing of the program: circuits are described by the dataclasses below, which also write themselves as a
fragment file, so that both sides know the same devices. Shockley diodes, zeners between two bounds, Ebers-Moll
transistors (transport form), cells as volts behind ohms. All states and corners of a circuit are solved at once by
Newton's method, led from a well-conducting circuit to the true one (Gmin continuation).

Zeners: every real one lies between a sharp knee (kT/q a decade) and a soft one, I = 5 mA (V/Vz)^k, where k follows from
the largest differential resistance at 1 mA that makers print, k = V/(1 mA rzjk): 600 ohm to 3.9 V, 500 ohm at 4.7 V,
480 ohm at 5.1 V, 400 ohm at 5.6 V, 150 ohm at 6.2 V, 80 to 100 ohm at 6.8 to 9.1 V (BZX84C tables; BZX55C differs
little). A current is sure where the sharp knee gives it, possible where the soft one does.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import product

import numpy as np

THERMAL_V = 0.025693  # kT/q at 25 °C
LEAST_S = 1e-12
_STEEPEST = 40.0
_GMINS = (1e-3, 1e-5, 1e-7, 1e-9, 1e-10, 1e-11, LEAST_S)
KNEE_OHM = ((3.9, 600.0), (4.7, 500.0), (5.1, 480.0), (5.6, 400.0), (6.2, 150.0), (6.8, 80.0), (9.1, 100.0))
GROUND = "GND"


@dataclass(frozen=True)
class Resistor:
    name: str
    one: str
    two: str
    ohm: float

    def pins(self) -> tuple[str, ...]:
        return self.one, self.two

    def yaml(self) -> str:
        return f"{{resistor: {self.ohm:.6g}, between: [{self.one}, {self.two}]}}"


@dataclass(frozen=True)
class Diode:
    """saturation_A is its leakage too, at every reverse voltage."""

    name: str
    anode: str
    cathode: str
    saturation_A: float = 2.52e-9
    emission: float = 1.752

    def pins(self) -> tuple[str, ...]:
        return self.anode, self.cathode

    def yaml(self) -> str:
        return (f"{{diode: {{IS: {self.saturation_A * 1e9:.6g} nA, N: {self.emission:g}}}, "
                f"anode: {self.anode}, cathode: {self.cathode}}}")


@dataclass(frozen=True)
class Zener:
    name: str
    anode: str
    cathode: str
    volts: float

    def pins(self) -> tuple[str, ...]:
        return self.anode, self.cathode

    def yaml(self) -> str:
        return (f"{{diode: {{zener: {self.volts:g} V ±5%, leakage: {self.leakage_A * 1e6:g} uA at 1 V}}, "
                f"anode: {self.anode}, cathode: {self.cathode}}}")

    @property
    def leakage_A(self) -> float:
        """At 1 V: 2 µA to 3.9 V, 0.5 µA at 4.7 V, 0.1 µA above (Vishay, BZX55 series: IR at VR, from memory)."""
        return 2e-6 if self.volts < 4.5 else 0.5e-6 if self.volts < 5.0 else 0.1e-6

    @property
    def power(self) -> float:
        """The exponent of its soft knee."""
        return self.volts / (1e-3 * float(np.interp(self.volts, *zip(*KNEE_OHM, strict=True))))


@dataclass(frozen=True)
class Cell:
    """A coin cell, where its chemistry is not another: 3 mA for good at most, as makers of CR2032 print."""

    name: str
    plus: str
    minus: str
    fresh_V: float = 3.25
    flat_V: float = 2.0
    ohm: float = 15.0
    chemistry: str = "lithium-primary"

    def pins(self) -> tuple[str, ...]:
        return self.plus, self.minus

    def yaml(self) -> str:
        nominal = (self.fresh_V + self.flat_V) / 2
        continuous = ", continuous: 3 mA" if self.chemistry == "lithium-primary" else ""
        return (f"{{cell: {{chemistry: {self.chemistry}, volts: {nominal:g}, capacity: 220 mAh, "
                f"resistance: {self.ohm:g}, abnormal_charge: 10 mA{continuous}, "
                f"curve: [[0 %, {self.fresh_V:g}], [100 %, {self.flat_V:g}]]}}, "
                f"plus: {self.plus}, minus: {self.minus}}}")


@dataclass(frozen=True)
class Bipolar:
    """sign: +1 npn, -1 pnp."""

    name: str
    collector: str
    base: str
    emitter: str
    sign: int = -1
    gain: float = 100.0
    reverse_gain: float = 1.0
    saturation_A: float = 1e-14

    def pins(self) -> tuple[str, ...]:
        return self.collector, self.base, self.emitter

    def yaml(self) -> str:
        return (f"{{transistor: {{polarity: {'npn' if self.sign > 0 else 'pnp'}, gain: {self.gain:g}, IS: 1e-14}}, "
                f"collector: {self.collector}, base: {self.base}, emitter: {self.emitter}}}")


@dataclass(frozen=True)
class Load:
    name: str
    plus: str
    minus: str
    amps: float = 2e-6
    most_V: float = 5.5

    def pins(self) -> tuple[str, ...]:
        return self.plus, self.minus

    def yaml(self) -> str:
        return (f"{{load: {self.amps * 1e6:g} uA, plus: {self.plus}, minus: {self.minus}, "
                f"works: 1.2 V to {self.most_V:g} V}}")


@dataclass(frozen=True)
class Jumper:
    name: str
    one: str
    two: str

    def pins(self) -> tuple[str, ...]:
        return self.one, self.two

    def yaml(self) -> str:
        return f"{{jumper: [{self.one}, {self.two}]}}"


Part = Resistor | Diode | Zener | Cell | Bipolar | Load | Jumper


@dataclass(frozen=True)
class Rail:
    volts: float
    tolerance: float = 0.05
    supply: str = "main"


@dataclass(frozen=True)
class Sketch:
    """A circuit: what the judge solves, and what it writes as a fragment file."""

    rails: dict[str, Rail]
    parts: tuple[Part, ...]
    title: str = "random"

    def text(self) -> str:
        rails = [f"  {net}: {{volts: {rail.volts:g} V ±{rail.tolerance:.0%}, supply: {rail.supply}}}"
                 for net, rail in self.rails.items()]
        parts = [f"  {part.name}: {part.yaml()}" for part in self.parts]
        return "\n".join([f"title: {self.title}", "rails:", *rails,
                          "conditions: {temperature: 25 °C, powered: 2 h/day}", "parts:", *parts, ""])

    def of(self, kind: type) -> Iterator[Part]:
        return (part for part in self.parts if isinstance(part, kind))

    def with_part(self, old: str, new: Part) -> Sketch:
        return replace(self, parts=tuple(new if part.name == old else part for part in self.parts))


@dataclass(frozen=True)
class Corner:
    """One way the circuit can stand: volts of every rail (None: that supply is off), open jumpers, cell volts."""

    rails: dict[str, float]
    open_jumpers: frozenset[str]
    cells: dict[str, float]


def corners(sketch: Sketch, spent: bool = False) -> list[Corner]:
    """Every state at every corner. spent: each cell at 0 V in place of its least volts."""
    supplies = sorted({rail.supply for rail in sketch.rails.values()})
    jumpers = [part.name for part in sketch.of(Jumper)]
    cells = list(sketch.of(Cell))
    found = []
    for on in product((True, False), repeat=len(supplies)):
        live = dict(zip(supplies, on, strict=True))
        choices = [((1 - rail.tolerance) * rail.volts, (1 + rail.tolerance) * rail.volts)
                   if live[rail.supply] else (0.0,) for rail in sketch.rails.values()]
        volts = [(0.0 if spent else cell.flat_V, cell.fresh_V) for cell in cells]
        for rails, positions, emfs in product(product(*choices), product((True, False), repeat=len(jumpers)),
                                              product(*volts)):
            found.append(Corner(dict(zip(sketch.rails, rails, strict=True)),
                                frozenset(j for j, is_open in zip(jumpers, positions, strict=True) if is_open),
                                dict(zip((cell.name for cell in cells), emfs, strict=True))))
    return found


@dataclass(frozen=True)
class Solved:
    """Volts of every net at every corner (rows), and whether each corner settled."""

    sketch: Sketch
    corners: list[Corner]
    nets: list[str]
    volts: np.ndarray
    settled: np.ndarray
    index: dict[str, int] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "index", {net: i for i, net in enumerate(self.nets)})

    def across(self, plus: str, minus: str) -> np.ndarray:
        return self.volts[:, self.index[plus]] - self.volts[:, self.index[minus]]

    def charge(self, cell: Cell) -> np.ndarray:
        """Current into the plus pin [A] at every corner; NaN where it did not settle."""
        emf = np.array([corner.cells[cell.name] for corner in self.corners])
        amps = (self.across(cell.plus, cell.minus) - emf) / cell.ohm
        return np.where(self.settled, amps, np.nan)


class _Equations:
    """Currents out of every net, and their derivatives, at all corners together."""

    def __init__(self, sketch: Sketch, found: list[Corner], soft: bool, zener_share: float, tight: bool) -> None:
        nets = dict.fromkeys([GROUND, *sketch.rails])
        for part in sketch.parts:
            nets.update(dict.fromkeys(part.pins()))
        self.nets = list(nets)
        self.sketch, self.corners, self.soft, self.zener_share, self.tight = sketch, found, soft, zener_share, tight
        self.index = {net: i for i, net in enumerate(self.nets)}
        self.free = [self.index[net] for net in self.nets if net != GROUND and net not in sketch.rails]
        self.rows, self.size = len(found), len(self.nets)
        self.emf = {cell.name: np.array([corner.cells[cell.name] for corner in found]) for cell in sketch.of(Cell)}
        self.closed = {jumper.name: np.array([jumper.name not in corner.open_jumpers for corner in found])
                       for jumper in sketch.of(Jumper)}

    def start(self) -> np.ndarray:
        volts = np.zeros((self.rows, self.size))
        for net in self.sketch.rails:
            volts[:, self.index[net]] = [corner.rails[net] for corner in self.corners]
        return volts

    def currents(self, volts: np.ndarray, gmin: float) -> tuple[np.ndarray, np.ndarray]:
        out = gmin * volts
        slope = np.zeros((self.rows, self.size, self.size)) + gmin * np.eye(self.size)

        def branch(plus: str, minus: str, amps: np.ndarray, siemens: np.ndarray | float) -> None:
            p, m = self.index[plus], self.index[minus]
            out[:, p] += amps
            out[:, m] -= amps
            slope[:, p, p] += siemens
            slope[:, m, m] += siemens
            slope[:, p, m] -= siemens
            slope[:, m, p] -= siemens

        for part in self.sketch.parts:
            if isinstance(part, Bipolar):
                self._bipolar(part, volts, gmin, out, slope)
                continue
            plus, minus = part.pins()
            across = volts[:, self.index[plus]] - volts[:, self.index[minus]]
            if isinstance(part, Resistor):
                branch(plus, minus, across / part.ohm, 1 / part.ohm)
            elif isinstance(part, Cell):
                branch(plus, minus, (across - self.emf[part.name]) / part.ohm, 1 / part.ohm)
            elif isinstance(part, Jumper):
                siemens = np.where(self.closed[part.name], 100.0, 0.0)
                branch(plus, minus, across * siemens, siemens)
            elif isinstance(part, Load):
                level = np.tanh(across / 0.3)
                branch(plus, minus, part.amps * level, part.amps * (1 - level**2) / 0.3)
            elif isinstance(part, Diode):
                value, rise = _exponential(across / (part.emission * THERMAL_V))
                passing = (across > 0) if self.tight else 1.0
                branch(plus, minus, part.saturation_A * (value - 1) * passing + gmin * across,
                       part.saturation_A * rise / (part.emission * THERMAL_V) * passing + gmin)
            else:
                branch(plus, minus, *self._zener(part, across, gmin))
        return out, slope

    def _zener(self, part: Zener, across: np.ndarray, gmin: float) -> tuple[np.ndarray, np.ndarray]:
        saturation_A, slope_V = (1e-8, 1.752 * THERMAL_V) if self.soft else (1e-14, THERMAL_V)
        value, rise = _exponential(across / slope_V)
        amps, siemens = saturation_A * (value - 1) + gmin * across, saturation_A * rise / slope_V + gmin
        knee_V = part.volts * self.zener_share
        if self.soft:
            share = np.maximum(-across, 0.0) / knee_V
            steep = np.minimum(share, 2.0)
            back = 5e-3 * steep**part.power
            back_rise = 5e-3 * part.power * steep ** (part.power - 1) / knee_V
            back = back + back_rise * (share - steep) * knee_V
        else:
            value, rise = _exponential((-across - knee_V) / THERMAL_V)
            back, back_rise = 5e-3 * value, 5e-3 * rise / THERMAL_V
        return amps - back, siemens + back_rise

    def _bipolar(self, part: Bipolar, volts: np.ndarray, gmin: float, out: np.ndarray, slope: np.ndarray) -> None:
        c, b, e = (self.index[pin] for pin in part.pins())
        forward, forward_rise = _exponential(part.sign * (volts[:, b] - volts[:, e]) / THERMAL_V)
        back, back_rise = _exponential(part.sign * (volts[:, b] - volts[:, c]) / THERMAL_V)
        scale, g = part.saturation_A, part.saturation_A / THERMAL_V
        transport = part.sign * scale * (forward - back)
        base_e = part.sign * scale / part.gain * (forward - 1) + gmin * (volts[:, b] - volts[:, e])
        base_c = part.sign * scale / part.reverse_gain * (back - 1) + gmin * (volts[:, b] - volts[:, c])
        out[:, c] += transport - base_c
        out[:, b] += base_e + base_c
        out[:, e] -= transport + base_e
        f, r = g * forward_rise, g * back_rise
        fb, rb = f / part.gain + gmin, r / part.reverse_gain + gmin
        for row, by_base, by_emitter, by_collector in (
                (c, f - r - rb, -f, r + rb), (b, fb + rb, -fb, -rb), (e, -(f - r) - fb, f + fb, -r)):
            slope[:, row, b] += by_base
            slope[:, row, e] += by_emitter
            slope[:, row, c] += by_collector


def _exponential(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """exp(x) and its slope, straight beyond the steepest point."""
    low = np.exp(np.minimum(x, _STEEPEST))
    return low * (1 + np.maximum(x - _STEEPEST, 0.0)), low


def solve(
    sketch: Sketch, found: list[Corner] | None = None, soft: bool = False, zener_share: float = 1.0, tight: bool = False
) -> Solved:
    """Volts at every corner. soft: the soft knee of zeners. zener_share: of their nominal volts. tight: no leakage."""
    found = corners(sketch) if found is None else found
    equations = _Equations(sketch, found, soft, zener_share, tight)
    volts = equations.start()
    free = np.array(equations.free)
    settled = np.zeros(len(found), dtype=bool)
    for gmin in _GMINS:
        settled[:] = False
        for _ in range(120):
            out, slope = equations.currents(volts, gmin)
            step = -np.linalg.solve(slope[:, free[:, None], free[None, :]], out[:, free, None])[:, :, 0]
            largest = np.abs(step).max(axis=1, keepdims=True)
            step *= np.minimum(1.0, 0.4 / np.maximum(largest, 1e-12))
            volts[:, free] += np.where(settled[:, None], 0.0, step)
            settled = largest[:, 0] < 1e-8
            if settled.all():
                break
    out, slope = equations.currents(volts, LEAST_S)
    steepest = np.maximum(1.0, slope[:, free, free].max(axis=1))  # amperes through a diode come to microamperes only
    settled &= np.abs(out[:, free]).max(axis=1) < 1e-8 * steepest
    return Solved(sketch, found, equations.nets, volts, settled)


LEAK_A = 1e-6
"""What cell makers aim for; below this, or below what the diodes let through in reverse, nothing counts as charge."""
CHARGED_A = 20e-6
"""Twice the 10 µA that the most lenient maker permits (Tadiran): above this, and above the leakage, it is charged."""


@dataclass(frozen=True)
class Judgement:
    """Charge of the primary cells [A]: sure with sharp zeners, possible with soft ones at low tolerance.

    forward_A: possible with diodes that do not leak, so that none of it is leakage.
    """

    sure_A: float
    possible_A: float
    forward_A: float
    leakage_A: float
    settled: bool

    @cached_property
    def charged(self) -> bool:
        return self.settled and self.sure_A > max(CHARGED_A, 3 * self.leakage_A)

    @cached_property
    def quiet(self) -> bool:
        return (self.settled and self.possible_A < max(LEAK_A, 1.2 * self.leakage_A)
                and self.forward_A < LEAK_A / 2)


def primaries(sketch: Sketch) -> list[Cell]:
    return [cell for cell in sketch.of(Cell) if cell.chemistry.startswith(("lithium-primary", "alkaline"))]


def charge_of(sketch: Sketch, cells: Iterable[Cell]) -> Judgement:
    """Whether any of these cells is charged in any state at any corner."""
    cells = list(cells)
    sharp = solve(sketch)
    zeners = any(True for _ in sketch.of(Zener))
    soft = solve(sketch, soft=True, zener_share=0.95) if zeners else sharp
    tight = solve(sketch, soft=zeners, zener_share=0.95 if zeners else 1.0, tight=True)
    leakage = sum(diode.saturation_A for diode in sketch.of(Diode)) + sum(z.leakage_A for z in sketch.of(Zener))
    return Judgement(
        max(float(np.nanmax(sharp.charge(cell), initial=0.0)) for cell in cells),
        max(float(np.nanmax(found.charge(cell), initial=0.0)) for cell in cells for found in (sharp, soft)),
        max(float(np.nanmax(tight.charge(cell), initial=0.0)) for cell in cells),
        leakage, bool(sharp.settled.all() and soft.settled.all() and tight.settled.all()))
