"""Every setting of a regulator: its volts, its heat, what it does to the loads, and what a failed part would do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import islice, product
from math import prod

from netcheck.conduction.graph import conduction
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.states import State, enumerate_states
from netcheck.simulation.corner import Fault
from netcheck.simulation.elements import OperatingPoint, Regulation
from netcheck.solving.asking import Asking, abreast, asked
from netcheck.supply import heat
from netcheck.supply.circuits import Bench
from netcheck.supply.judgement import Figures, Volts, Window, gravity, harmed, reasons
from netcheck.supply.mistakes import NEAR, mistakes
from netcheck.supply.network import Network, network, options, put, working
from netcheck.supply.results import Failure, Setting, Settings

LIMIT = 256
"""Settings of one regulator that are tried; more are told as untried."""

MOVES_V = 1e-3
"""A link that moves the output by less does not set it."""

_HELD = 0.01
"""A reference that is off by more than this share, with no dropout and no limit in the way, holds nothing."""

Positions = dict[str, str]


def settings(fragment: Fragment, regulator: Part, state: State | None = None) -> Asking[Settings | None]:
    """Every setting of one regulator, lowest volts first; None where no state has its supply on.

    state: the one in which the supply works (as a rule: every supply on, links as set).
    """
    state = state or working(fragment, enumerate_states(fragment).states)
    if state is None:
        return None
    found = network(fragment, regulator, conduction(fragment, state))
    bench = Bench(fragment, found)
    links = yield from _moving(bench, state)
    axes = [(link.name, options(link)) for link in links]
    every = [dict(zip((name for name, _ in axes), chosen, strict=True))
             for chosen in islice(product(*(words for _, words in axes)), LIMIT)]
    windows = {load.name: Window.of(load) for load in found.loads}
    results = yield from abreast(_setting(bench, put(state, positions), positions, windows) for positions in every)
    ordered = sorted(results, key=lambda one: (one.output_V is None, found.sign * round(one.output_V or 0.0, 3),
                                               found.sign * (one.asked_V or 0.0)))
    wanted = tuple(volts for entry in fragment.settings if entry.of == regulator.name for volts in entry.volts)
    within = next((entry.within for entry in fragment.settings if entry.of == regulator.name), None)
    cooled = heat.cooling(regulator)
    return Settings(
        of=regulator.name, kind=found.spec.name, output=found.output, settings=tuple(ordered),
        links=tuple(link.name for link in links), setting_parts=tuple(part.name for part in found.setting),
        mistakes=tuple(mistakes(ordered, links, wanted, within)),
        windows={name: (window.low_V, window.high_V, window.survives_V) for name, window in windows.items()},
        wanted=wanted, within=NEAR if within is None else within, cooling=cooled.words,
        theta_K_per_W=cooled.theta, limit_A=found.spec.limit_A,
        untried=max(0, prod(len(words) for _, words in axes) - len(every)),
    )


def _moving(bench: Bench, state: State) -> Asking[list[Part]]:
    """Of the links around a regulator those in its feedback network, and those that move its output otherwise."""
    steering = bench.network.steering
    links = [link for link in bench.network.links if link not in steering]
    tried: dict[tuple[str, str], State] = {
        (link.name, word): put(state, {link.name: word}) for link in links for word in options(link)}
    all_open: Positions = {link.name: options(link)[-1] for link in links}
    tried |= {(link.name, f"{word} (others moved)"): put(state, {**all_open, link.name: word})
              for link in links for word in options(link)}
    points = yield from asked({key: bench.plain(one) for key, one in tried.items()})
    moving = list(steering)
    for link in links:
        for kind in ("", " (others moved)"):
            volts = [points[link.name, word + kind].volts.get(bench.network.output) for word in options(link)]
            known = [one for one in volts if one is not None]
            if len(known) < len(volts) or (known and max(known) - min(known) > MOVES_V):
                moving.append(link)
                break
    return [link for link in bench.network.links if link in moving]


def _setting(bench: Bench, state: State, positions: Positions, windows: Mapping[str, Window]) -> Asking[Setting]:
    faults = {_called(fault): fault for fault in bench.faults()}
    circuits = bench.circuits(state)
    points = yield from asked({**circuits, "whole": bench.failed(state),
                               **{key: bench.failed(state, fault) for key, fault in faults.items()}})
    net = bench.network.output
    at_fault = {key: points[key].volts.get(net) for key in faults}
    ends = yield from asked(bench.extremes(state, _rises(bench.network, at_fault)))
    regulation = next(one for one in circuits["asked"].elements if one.name == bench.network.regulator.name)
    assert isinstance(regulation, Regulation)
    found = _figures(bench, regulation, {**points, **ends})
    return Setting(
        positions=positions, as_set=all(bench.fragment.parts[name].position == word for name, word in
                                        positions.items()),
        output_V=found.output_V, output_min_V=found.output_min_V, output_max_V=found.output_max_V,
        loaded_V=found.loaded_V, asked_V=found.asked_V, empty_V=found.empty_V, headroom_V=found.headroom_V,
        in_dropout=None if found.output_V is None else found.unset or (found.headroom_V or 0.0) < 0,
        load_A=found.load_A, dissipation_W=found.dissipation_W, junction_C=found.junction_C,
        junction_limit_A=found.junction_limit_A, loads={name: one.nominal_V for name, one in found.loads.items()},
        spans={name: (one.low_V, one.high_V) for name, one in found.loads.items()},
        harmed=harmed(found, windows), reasons=tuple(sorted(reasons(bench.network, found, windows), key=gravity)),
        faults=tuple(_failures(bench, faults, points, windows)),
    )


def _called(fault: Fault) -> tuple[str, str, str]:
    """A key of a fault, which also says in words what has failed."""
    if fault.pin is not None:
        words = {"wiper": "wiper lifted", "adjust": "adjust pin open", "ground": "ground pin open"}
        return fault.part, "open", words.get(fault.pin, f"end {fault.pin} open")
    if fault.nets is not None:
        return fault.part, "short", "adjust pin grounded"
    if fault.pins == ("input", "output"):
        return fault.part, "short", "shorted through"
    if fault.how == "short" and fault.pins not in (None, ("1", "2")):
        return fault.part, "short", f"short from {fault.pins[0]} to {fault.pins[1]}" if fault.pins else "short"
    return fault.part, fault.how, fault.how


def _rises(found: Network, at_fault: Mapping[tuple[str, str, str], float | None]) -> dict[str, float]:
    """Part to how the output moves as its ohms grow: the output is monotonic in each, so open against short tells."""
    rises = {}
    for part in found.setting:
        if part.kind is Kind.TRIMMER:
            continue  # its two halves grow together, as a ratio: their tolerance is the track's
        opened, shorted = at_fault.get((part.name, "open", "open")), at_fault.get((part.name, "short", "short"))
        if opened is not None and shorted is not None and abs(opened - shorted) > MOVES_V:
            rises[part.name] = 1.0 if found.sign * (opened - shorted) > 0 else -1.0
    return rises


def _failures(
    bench: Bench, faults: Mapping[tuple[str, str, str], Fault], points: Mapping[object, OperatingPoint],
    windows: Mapping[str, Window],
) -> list[Failure]:
    """What each failure does; it hurts the loads that it takes beyond what they survive, further than without it."""
    found = []
    whole = {load.name: _across(points["whole"], load) for load in bench.network.loads}
    for key in faults:
        point = points[key]
        hurts = tuple(load.name for load in bench.network.loads
                      if windows[load.name].harmed(volts := _across(point, load))
                      and _rises_above(volts, whole[load.name]))
        found.append(Failure(key[0], key[2], point.volts.get(bench.network.output), hurts))
    return found


def _rises_above(volts: float | None, before: float | None) -> bool:
    return volts is not None and (before is None or volts > before + MOVES_V)


def _across(point: OperatingPoint, load: Part) -> float | None:
    plus, minus = (point.volts.get(load.pins[pin]) for pin in ("plus", "minus"))
    return None if plus is None or minus is None else plus - minus


def _figures(bench: Bench, regulation: Regulation, points: Mapping[str, OperatingPoint]) -> Figures:
    """Volts, currents and heat of one setting out of its operating points."""
    found, spec = bench.network, bench.network.spec
    sign, net = found.sign, found.output
    volts = {key: points[key].volts.get(net) for key in ("nominal", "empty", "asked", "high", "low", "heat")}
    known = [one for one in (volts["nominal"], volts["empty"], volts["high"], volts["low"]) if one is not None]
    asked_V = volts["asked"]
    fed = [one for key in ("nominal", "low", "light") if (one := points[key].volts.get(net)) is not None]
    unset = asked_V is None or not _held(regulation, points["asked"])
    lowest_V = points["low"].volts.get(regulation.input)
    headroom = None if unset or lowest_V is None or asked_V is None or spec.between == "shunt" else (
        sign * (lowest_V - asked_V) - spec.dropout_V)
    hot = points["heat"]
    amps = {load.name: hot.amps.get(load.name, 0.0) for load in found.loads}
    passed_A = abs(hot.amps.get(found.regulator.name, 0.0))
    input_V, output_V = hot.volts.get(regulation.input), hot.volts.get(regulation.output)
    across_V = None if input_V is None or output_V is None else sign * (input_V - output_V)
    own_W = spec.ground_current_A * abs(input_V or 0.0) if regulation.ground is not None else 0.0
    watts = None if across_V is None else max(0.0, across_V) * passed_A + own_W
    theta, limit_C = heat.cooling(found.regulator).theta, spec.junction_max_C
    hottest_C = bench.fragment.conditions.temperature.high
    load_A = sum(amps.values()) if hot.known else None
    return Figures(
        output_V=volts["nominal"], empty_V=volts["empty"], output_min_V=min(known, default=None),
        output_max_V=max(known, default=None), loaded_V=(min(fed), max(fed)) if found.loads and fed else None,
        asked_V=None if unset else asked_V, unset=unset and bool(known),
        headroom_V=headroom, load_A=load_A, passed_A=passed_A if hot.known else None,
        usual_A=abs(points["nominal"].amps.get(found.regulator.name, 0.0)),
        across_V=across_V, dissipation_W=watts,
        junction_C=None if watts is None or theta is None else heat.junction_C(hottest_C, watts, theta),
        usual_junction_C=_usual_junction(bench, regulation, points["nominal"], theta),
        junction_limit_A=None if across_V is None or theta is None or limit_C is None or load_A is None else
        heat.amps_at_limit(hottest_C, limit_C, theta, across_V, own_W, passed_A - load_A),
        sink_K_per_W=None if watts is None or limit_C is None else heat.sink_needed(hottest_C, limit_C, watts, spec),
        least_A=abs(points["empty"].amps.get(found.regulator.name, 0.0)),
        loads={load.name: _window_volts(load, points) for load in found.loads},
        problem=next((point.problem for point in points.values() if isinstance(point, OperatingPoint)
                      and point.problem), None),
    )


def _held(regulation: Regulation, point: OperatingPoint) -> bool:
    """Whether the reference is what sets the output, where neither dropout nor limit keeps it from that."""
    pins = {"output-adjust": (regulation.output, regulation.adjust), "fixed": (regulation.output, regulation.ground),
            "adjust-ground": (regulation.adjust, regulation.ground)}.get(regulation.between)
    if pins is None:
        return True
    one, other = (point.volts.get(net or "") for net in pins)
    return one is not None and other is not None and \
        abs(abs(one - other) - regulation.reference_V) <= _HELD * regulation.reference_V


def _usual_junction(bench: Bench, regulation: Regulation, point: OperatingPoint, theta: float | None) -> float | None:
    """The junction with the rail and the loads as usual, in the hottest case."""
    ends = point.volts.get(regulation.input), point.volts.get(regulation.output)
    if theta is None or ends[0] is None or ends[1] is None:
        return None
    watts = abs(ends[0] - ends[1]) * abs(point.amps.get(bench.network.regulator.name, 0.0))
    watts += bench.network.spec.ground_current_A * abs(ends[0]) if regulation.ground is not None else 0.0
    return heat.junction_C(bench.fragment.conditions.temperature.high, watts, theta)


def _window_volts(load: Part, points: Mapping[str, OperatingPoint]) -> Volts:
    """The volts of a load, in place; and those that would stand there without it."""
    nominal, low, high, gone = (_across(points[key], load) for key in ("nominal", "low", "light", "high"))
    return Volts(nominal, low, high, gone)


def all_settings(fragment: Fragment, of: Sequence[str] = (), state: State | None = None) -> Asking[dict[str, Settings]]:
    """Every setting of each regulator of a fragment, or of those named."""
    wanted = [part for part in fragment.of_kind(Kind.REGULATOR) if not of or part.name in of]
    results = yield from abreast(settings(fragment, part, state) for part in wanted)
    return {part.name: one for part, one in zip(wanted, results, strict=True) if one is not None}

