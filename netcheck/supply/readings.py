"""Readings at a supply's output, fitted to its parts: which one is off, and what it reads as."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from msgspec.structs import replace

from netcheck.fragment.model import Fragment, Kind, Part, Reading
from netcheck.fragment.states import State, enumerate_states
from netcheck.parts.specs import ResistorSpec
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.elements import Circuit, Regulation, Resistance
from netcheck.solving.asking import Asking, abreast, asked
from netcheck.supply.circuits import Bench, swapped
from netcheck.supply.network import network, working
from netcheck.supply.results import Fitted, Setting, Settings
from netcheck.wording.sentence import Word

_STEPS = 6
"""Rounds of narrowing a part's value down."""

_FITS = 0.005
"""Readings are explained by a value that leaves each of them this near (a share, a good meter's own error)."""

_APART = 0.001
"""Explanations that leave this much more than the best are not told beside it (a share, what a meter resolves)."""

_REACH = 8.0
"""A part is looked for between this part and this many times its value."""


def explained(fragment: Fragment, found: Mapping[str, Settings]) -> Asking[dict[str, Settings]]:
    """The settings of each regulator, with what the readings say of its parts."""
    judged = yield from abreast(fitted(fragment, one) for one in found.values())
    return dict(zip(found, judged, strict=True))


def fitted(fragment: Fragment, found: Settings) -> Asking[Settings]:
    """The settings with what the readings say of the parts that set the output, where some are out of their band."""
    readings = list(_readings(fragment, found))
    off = [(reading, setting) for reading, _, setting in readings if not _within(reading, setting)]
    if not off:
        return found
    state = working(fragment, enumerate_states(fragment).states)
    assert state is not None
    from netcheck.conduction.graph import conduction

    parts = network(fragment, fragment.parts[found.of], conduction(fragment, state))
    bench = Bench(fragment, parts)
    fits = []
    for name in [*(part.name for part in parts.setting if part.kind is Kind.RESISTOR), found.of]:
        part = fragment.parts[name]
        scale, error = yield from _scale(bench, name, readings)
        if error <= _FITS and not _in_tolerance(part, scale):
            fits.append((error, name, scale))
    best = min((error for error, _, _ in fits), default=0.0)
    near = [(fragment.parts[name], scale) for error, name, scale in sorted(fits) if error <= best + _APART]
    return replace(found, fitted=(_told(found, off, near, len(readings) == 1),))


def _told(
    found: Settings, off: list[tuple[Reading, Setting]], fits: list[tuple[Part, float]], alone: bool
) -> Fitted:
    """What was read, and what explains it; alone: whether there is one reading only."""
    names: dict[str, Word] = {
        "output": found.output, "read": tuple(_positions(setting) for _, setting in off),
        "fits": tuple(part.name for part, _ in fits), "explained": "it" if alone else "all"}
    figures: dict[str, float] = {}
    for place, (reading, setting) in enumerate(off):
        assert reading.volts is not None
        assert setting.output_min_V is not None
        assert setting.output_max_V is not None
        figures |= {f"read_{place}_V": reading.volts, f"read_{place}_least_V": setting.output_min_V,
                    f"read_{place}_most_V": setting.output_max_V}
    for place, (part, scale) in enumerate(fits):
        if isinstance(part.spec, ResistorSpec):
            names[f"fits_{place}_kind"] = "resistor"
            figures[f"fits_{place}_as_ohm"] = part.spec.resistance.value * scale
        else:
            held = getattr(part.spec, "held", None)
            names[f"fits_{place}_kind"] = "reference"
            figures[f"fits_{place}_as_V"] = (held.value if held else 0.0) * scale
    return Fitted(names, figures)


def _readings(fragment: Fragment, found: Settings) -> Iterator[tuple[Reading, State, Setting]]:
    """The readings of volts at the output, each with its state and setting."""
    states = {state.name: state for state in enumerate_states(fragment).states}
    for reading in fragment.readings:
        state = states.get(reading.state or "")
        grounded = reading.against in (None, fragment.ground)
        if reading.mod != fragment.variant or reading.at != found.output or reading.volts is None or not grounded \
                or reading.without or state is None or not all(state.supplies.values()):
            continue
        for setting in found.settings:
            if setting.positions.items() <= state.positions.items():
                yield reading, state, setting


def _within(reading: Reading, setting: Setting) -> bool:
    low, high, volts = setting.output_min_V, setting.output_max_V, reading.volts
    assert volts is not None
    if low is None or high is None:
        return True
    return low - _FITS * abs(volts) <= volts <= high + _FITS * abs(volts)


def _scale(
    bench: Bench, name: str, readings: list[tuple[Reading, State, Setting]]
) -> Asking[tuple[float, float]]:
    """By what a part's value has to be multiplied to fit all the readings best, and the largest error then left."""
    low, high = 1 / _REACH, _REACH
    best = (float("inf"), 1.0)
    for _ in range(_STEPS):
        tries = [low * (high / low) ** (step / 8) for step in range(9)]
        circuits = {(place, index): _scaled(bench, state, name, scale)
                    for place, scale in enumerate(tries) for index, (_, state, _) in enumerate(readings)}
        points = yield from asked(circuits)
        errors = []
        for place, scale in enumerate(tries):
            volts = [points[place, index].volts.get(bench.network.output) for index in range(len(readings))]
            worst = max(_error(one, reading.volts) for one, (reading, _, _) in zip(volts, readings, strict=True))
            errors.append((worst, scale))
        best = min(best, *errors)
        middle = [scale for _, scale in errors].index(min(errors)[1])
        low, high = tries[max(0, middle - 1)], tries[min(8, middle + 1)]
    return best[1], best[0]


def _error(volts: float | None, read: float | None) -> float:
    return float("inf") if volts is None or not read else abs(volts - read) / abs(read)


def _scaled(bench: Bench, state: State, name: str, scale: float) -> Circuit:
    """The circuit with a resistor's ohms, or a regulator's reference, multiplied."""
    circuit = circuit_of(bench.fragment, state, bench.nominal)
    element = next(one for one in circuit.elements if one.name == name)
    others: Mapping[str, Regulation | Resistance]
    if isinstance(element, Regulation):
        others = {name: replace(element, reference_V=element.reference_V * scale)}
    else:
        assert isinstance(element, Resistance)
        others = {name: replace(element, ohm=element.ohm * scale)}
    return swapped(circuit, others)


def _in_tolerance(part: Part, scale: float) -> bool:
    value = part.spec.resistance if isinstance(part.spec, ResistorSpec) else getattr(part.spec, "held", None)
    return value is None or value.low <= value.value * scale <= value.high


def _positions(setting: Setting) -> str:
    return ", ".join(f"{name} {position}" for name, position in setting.positions.items()) or "everything as it is"
