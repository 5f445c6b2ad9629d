"""A study of chance: backup volts and life when every tolerance falls as it likes.

Each sample draws its own resistors, diodes (anywhere between typical and
maximum), cell, loads and temperature; the simulator solves it with a fresh and
with an old cell, and life is walked down the cell's curve from there.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from netcheck.checks.voltage import across, needs
from netcheck.diodes.comparison import Question
from netcheck.fragment.model import Fragment, Kind
from netcheck.fragment.states import State
from netcheck.parts import diode
from netcheck.parts.cell import HOURS_A_YEAR, volts
from netcheck.parts.specs import CellSpec, DiodeSpec, ResistorSpec
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Corner
from netcheck.simulation.elements import Battery, Circuit, Draw, Element, Junction, OperatingPoint, Resistance
from netcheck.simulation.operating_point import solve
from netcheck.solving.solved_states import OLD

DEPTHS = (0.0, OLD)
"""Shares used at which a sample is solved; its drop and current lie on a straight line through the two."""

PERCENTILES = (5, 50, 95)

CAPACITY_SPREAD = 0.10
VOLTAGE_SPREAD = 0.01
"""Half-widths of a cell's spread about its figures (common practice, no source); printed with the study."""

_CURVE_STEPS = 60


class Study(Struct, frozen=True):
    """5, 50 and 95 % of backup volts (fresh and old) and of life, over `samples` that were solved."""

    samples: int
    failed: int
    seed: int
    volts: Mapping[str, tuple[float, ...]]
    life_years: tuple[float, ...]

    def to_dict(self) -> dict[str, Any]:
        return {
            "samples": self.samples, "failed": self.failed, "seed": self.seed, "percentiles": list(PERCENTILES),
            "backup_V": {age: list(values) for age, values in self.volts.items()},
            "life_years": list(self.life_years),
            "cell_spread": {"capacity": CAPACITY_SPREAD, "volts": VOLTAGE_SPREAD},
        }


class _Sample(Struct, frozen=True):
    temperature_C: float
    capacity: float
    volts: float
    resistances: Mapping[str, float]
    chances: Mapping[str, tuple[float, float]]
    draw: float


def study(
    asked: Question, samples: int, seed: int = 1, progress: Callable[[int, int], None] | None = None
) -> Study:
    """Draw and solve `samples` specimens of the circuit, stored. Deterministic for a seed."""
    stored = asked.survey.resting(False)
    assert stored is not None
    chance = random.Random(seed)
    drawn = [_draw(asked.fragment, chance) for _ in range(samples)]
    maker = _Maker(asked.fragment, stored)
    points = solve([maker.circuit(sample, used) for sample in drawn for used in DEPTHS], progress=progress)
    fresh: list[float] = []
    old: list[float] = []
    years: list[float] = []
    for i, sample in enumerate(drawn):
        own = points[i * len(DEPTHS): (i + 1) * len(DEPTHS)]
        at_load = [across(point, asked.load) if point.known else None for point in own]
        known = [value for value in at_load if value is not None]
        if len(known) == len(DEPTHS):
            fresh.append(known[0])
            old.append(known[-1])
            years.append(_life(asked, sample, known, own))
    return Study(len(fresh), samples - len(fresh), seed,
                 {"fresh": _percentiles(fresh), "old": _percentiles(old)}, _percentiles(years))


def _draw(fragment: Fragment, chance: random.Random) -> _Sample:
    temperature = fragment.conditions.temperature
    resistances = {}
    for part in fragment.of_kind(Kind.RESISTOR):
        assert isinstance(part.spec, ResistorSpec)
        resistances[part.name] = chance.uniform(part.spec.resistance.low, part.spec.resistance.high)
    return _Sample(
        temperature_C=float(round(chance.uniform(temperature.low, temperature.high))),
        capacity=1 + chance.uniform(-CAPACITY_SPREAD, CAPACITY_SPREAD),
        volts=1 + chance.uniform(-VOLTAGE_SPREAD, VOLTAGE_SPREAD),
        resistances=resistances,
        chances={part.name: (chance.random(), chance.random()) for part in fragment.of_kind(Kind.DIODE)},
        draw=chance.random(),
    )


class _Maker:
    """Circuits of samples: the stored circuit once for each depth, its elements then drawn anew."""

    def __init__(self, fragment: Fragment, stored: State) -> None:
        self._fragment = fragment
        self._typical = {used: circuit_of(fragment, stored, Corner("typical", used=used)) for used in DEPTHS}
        self._draws = {
            element.name: element
            for element in circuit_of(fragment, stored, Corner("most", draw="maximum")).elements
            if isinstance(element, Draw)
        }

    def circuit(self, sample: _Sample, used: float) -> Circuit:
        elements = tuple(self._drawn(element, sample) for element in self._typical[used].elements)
        return replace(self._typical[used], elements=elements, temperature_C=sample.temperature_C)

    def _drawn(self, element: Element, sample: _Sample) -> Element:
        match element:
            case Resistance() if element.name in sample.resistances:
                return replace(element, ohm=sample.resistances[element.name])
            case Battery():
                return replace(element, volts=element.volts * sample.volts)
            case Draw():
                most = self._draws[element.name]
                return replace(element, amps=element.amps + sample.draw * (most.amps - element.amps))
            case Junction() if element.name in sample.chances:
                return self._junction(element, sample)
            case _:
                return element

    def _junction(self, element: Junction, sample: _Sample) -> Junction:
        """A specimen between typical and maximum: its drop in volts, its leakage in decades."""
        spec = self._fragment.parts[element.name].spec
        assert isinstance(spec, DiodeSpec)
        drop, leak = sample.chances[element.name]
        typical = diode.at(spec, sample.temperature_C)
        most = diode.at(spec, sample.temperature_C, "maximum", "maximum")
        return replace(
            element,
            saturation_A=_between(typical.saturation_A, most.saturation_A, drop),
            emission=typical.emission + drop * (most.emission - typical.emission),
            series_ohm=typical.series_ohm + drop * (most.series_ohm - typical.series_ohm),
            leakage_A=_between(typical.leakage_A, most.leakage_A, leak),
            leakage_at_V=typical.leakage_at_V, leakage_power=typical.leakage_power,
            leakage_from_V=typical.leakage_from_V,
        )


def _between(low: float, high: float, share: float) -> float:
    """Geometric interpolation: currents of diodes spread over decades."""
    return low if low <= 0 or high <= 0 else float(low * (high / low) ** share)


def _life(asked: Question, sample: _Sample, at_load: Sequence[float], points: Sequence[OperatingPoint]) -> float:
    """Years down the cell's curve, with drop and current on straight lines through the two solved depths."""
    spec = asked.cell.spec
    assert isinstance(spec, CellSpec)
    name = asked.cell.name
    span = needs(asked.load)
    amps = [max(0.0, point.amps[name]) for point in points]
    curve = [sample.volts * volts(spec, depth, asked.cell.measured_V) for depth in DEPTHS]
    drop = [open_V - at for open_V, at in zip(curve, at_load, strict=True)]
    capacity = spec.capacity_Ah * sample.capacity
    own_A = capacity * spec.self_discharge_per_year / HOURS_A_YEAR
    hours = 0.0
    for step in range(_CURVE_STEPS):
        used = (step + 0.5) / _CURVE_STEPS
        at = sample.volts * volts(spec, used, asked.cell.measured_V) - _line(drop, used)
        if span is not None and at < span.low:
            break
        drawn = _line(amps, used) + own_A
        if drawn > 0:
            hours += capacity / _CURVE_STEPS / drawn
    return hours / HOURS_A_YEAR


def _line(values: Sequence[float], used: float) -> float:
    return values[0] + (values[1] - values[0]) * (used - DEPTHS[0]) / (DEPTHS[1] - DEPTHS[0])


def _percentiles(values: Sequence[float]) -> tuple[float, ...]:
    """The 5, 50 and 95 % points, by straight lines between the ordered values; empty for no values."""
    if not values:
        return ()
    ordered = sorted(values)
    found = []
    for percent in PERCENTILES:
        place = percent / 100 * (len(ordered) - 1)
        below = int(place)
        above = min(below + 1, len(ordered) - 1)
        found.append(ordered[below] + (place - below) * (ordered[above] - ordered[below]))
    return tuple(found)
