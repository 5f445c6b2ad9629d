"""Resistors for wanted outputs: found by trying them all, proved by simulating the whole fragment with them."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import islice, product
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from netcheck.clock import used_up
from netcheck.conduction.graph import conduction
from netcheck.fragment.model import Fragment, Kind, Mark, Part
from netcheck.fragment.states import enumerate_states
from netcheck.fragment.written import entry_text, part_text, resistance
from netcheck.parts.specs import LinkSpec, RegulatorSpec, ResistorSpec
from netcheck.solving.asking import abreast, answered
from netcheck.supply.divider import Dividers, NoDivider, dividers
from netcheck.supply.drawer import Value
from netcheck.supply.judgement import Window
from netcheck.supply.mistakes import NEAR
from netcheck.supply.network import Network, network, options, put, working
from netcheck.supply.results import Setting, Settings
from netcheck.supply.search import Demand, Found, search
from netcheck.supply.settings import LIMIT, settings
from netcheck.wording.phrases import phrase

FORMAT = "netcheck-choice/1"
PROVED = 10
"""Choices that are simulated and told."""

_NEW_TOLERANCE = 0.01
"""Of resistors that are added (common practice, no source: metal film of 1 %)."""

_LEAST_SHARE, _MOST_SHARE = 0.9, 1.5
"""Without a limit of its own the search stays between these shares of the lowest and highest wanted output."""

_MARK = Mark(0, 0)


class NoChoice(ValueError):
    """What was asked cannot be answered; the message says why and what would help."""


class Question(Struct, frozen=True, kw_only=True):
    """What is to be chosen. free: the resistors whose values are; added: parts that are not on the board yet.

    circuit: the fragment with those in place.
    """

    fragment: Fragment
    circuit: Fragment
    regulator: Part
    network: Network
    given: Dividers
    free: tuple[str, ...]
    added: tuple[str, ...]
    wanted: tuple[float, ...]
    demand: Demand


class Choice(Struct, frozen=True, kw_only=True):
    """One set of resistors, as simulated. verdict: the worst of its settings; worst_case: the farthest that a wanted
    output may be missed with the worst parts (a share); mod: its steps; entry: the same as a mod with a name."""

    ohms: Mapping[str, Value]
    settings: tuple[Setting, ...]
    error: float
    worst_case: float
    different: int
    verdict: str
    mod: str
    entry: str

    def to_dict(self, rank: int, wanted: Sequence[float]) -> dict[str, Any]:
        return {
            "rank": rank, "ohms": {name: value.ohm for name, value in self.ohms.items()},
            "made_of": {name: made_of(value) for name, value in self.ohms.items() if value.how != "one"},
            "settings": [{
                "positions": dict(one.positions), "output_V": one.output_V, "output_min_V": one.output_min_V,
                "output_max_V": one.output_max_V, "wanted_V": _nearest(wanted, one.output_V, self.settings),
                "verdict": one.verdict} for one in self.settings],
            "worst_error": self.error, "worst_case_error": self.worst_case, "values": self.different,
            "verdict": self.verdict, "mod": self.mod, "entry": self.entry,
        }


class Choices(Struct, frozen=True, kw_only=True):
    """The choices, best first. complete: whether every combination was tried. stands_in_the_way: where nothing safe
    was found, which demand it is."""

    file: str
    of: str
    wanted: tuple[float, ...]
    choices: tuple[Choice, ...]
    complete: bool
    stands_in_the_way: str = ""
    nearest: Choice | None = None

    def to_dict(self) -> dict[str, Any]:
        return {
            "format": FORMAT, "file": self.file, "of": self.of, "wanted_V": list(self.wanted),
            "complete": self.complete, "stands_in_the_way": self.stands_in_the_way or None,
            "nearest": None if self.nearest is None else self.nearest.to_dict(0, self.wanted),
            "choices": [choice.to_dict(rank, self.wanted) for rank, choice in enumerate(self.choices, 1)],
        }


def question(
    fragment: Fragment, regulator: Part, wanted: Sequence[float], links: int = 0, keep: Sequence[str] = (),
    change: Sequence[str] = (), lowest_with_all: bool = False,
) -> Question:
    """What is to be chosen, from what was asked. Raises NoChoice.

    links: how many are added, each with a resistor, so that closing them raises the output (lowest_with_all: lowers
    it). keep, change: names of resistors that stay, or that alone are chosen.
    """
    if isinstance(regulator.spec, RegulatorSpec) and regulator.spec.negative:
        raise NoChoice(f"{regulator.name} makes volts below 0, and resistors are chosen for regulators above it alone; "
                       "netcheck settings shows what its resistors and links give")
    if not wanted or min(wanted) <= 0:
        raise NoChoice("the wanted outputs are volts above 0, such as 3.3 V, 3.45 V")
    state = working(fragment, enumerate_states(fragment).states)
    if state is None:
        raise NoChoice(f"no state has the supply of {regulator.name} on")
    circuit, added = _with_links(fragment, regulator, links, lowest_with_all)
    state = working(circuit, enumerate_states(circuit, 8).states)
    assert state is not None
    found = network(circuit, regulator, conduction(circuit, state))
    known = [part.name for part in found.setting if part.kind is Kind.RESISTOR]
    for name in (*keep, *change):
        if name not in known:
            raise NoChoice(f"{name} is none of the resistors that set {regulator.name}: {', '.join(known) or 'none'}")
    new = [name for name in added if circuit.parts[name].kind is Kind.RESISTOR]
    free = [name for name in known if (name in change or name in new if change else name not in keep)]
    if not free:
        raise NoChoice("no resistor is left to be chosen: name fewer with --keep, or links to add with --links")
    moving = [link for link in found.links if set(link.nets) & {net for part in found.setting for net in part.nets}]
    axes = [(link.name, options(link)) for link in moving]
    every = [dict(zip((name for name, _ in axes), words, strict=True))
             for words in islice(product(*(words for _, words in axes)), LIMIT)]
    try:
        given = dividers(found, circuit, [(positions, put(state, positions)) for positions in every])
    except NoDivider as fault:
        raise NoChoice(f"{fault}; such a network is not searched") from fault
    survives = [window.survives_V for load in found.loads if (window := Window.of(load)).survives_V is not None]
    spec = found.spec
    demand = Demand(
        tuple(wanted), max(abs(given.reference_V), _LEAST_SHARE * min(wanted)),
        min([limit for limit in survives if limit is not None] or [_MOST_SHARE * max(wanted)]),
        least_A=spec.minimum_load_A or 0.0)
    return Question(fragment=fragment, circuit=circuit, regulator=regulator, network=found, given=given,
                    free=tuple(free), added=added, wanted=tuple(wanted), demand=demand)


def choose(
    asked: Question, values: Sequence[Value], progress: Callable[[int, int], None] | None = None
) -> Choices:
    """The best sets of values, each proved on the whole fragment, those that endanger a load left out."""
    tried = search(asked.given, asked.free, values, asked.demand, progress)
    best = tried.found
    proved = _proved(asked, best[:PROVED])
    safe = [one for one in proved if one.verdict != "danger"]
    ranked = sorted(safe, key=lambda one: (round(one.error, 6), round(one.worst_case, 6), one.different))
    near = next((entry.within for entry in asked.fragment.settings if entry.of == asked.regulator.name), None)
    fits = bool(ranked) and ranked[0].error <= (NEAR if near is None else near)
    way = "" if fits else _in_the_way(asked, ranked, proved)
    nearest = None if ranked or not proved else min(proved, key=lambda one: one.error)
    return Choices(file=asked.fragment.file, of=asked.regulator.name, wanted=asked.wanted, choices=tuple(ranked),
                   complete=tried.complete, stands_in_the_way=way, nearest=nearest)


def _proved(asked: Question, found: Sequence[Found]) -> list[Choice]:
    """The choices with what the simulator says of them; one that it says nothing of is none."""
    circuits = [_fitted(asked, one.values) for one in found]
    results = answered(abreast(settings(circuit, circuit.parts[asked.regulator.name]) for circuit in circuits))
    return [_choice(asked, one, result) for one, result in zip(found, results, strict=True)
            if result is not None and any(setting.output_V is not None for setting in result.settings)]


def _choice(asked: Question, found: Found, result: Settings) -> Choice:
    known = [one for one in result.settings if one.output_V is not None]
    error = max(min((abs(abs(one.output_V or 0.0) - wanted) / wanted for one in known), default=float("inf"))
                for wanted in asked.wanted)
    worst = 0.0
    for wanted in asked.wanted:
        one = min(known, key=lambda setting: abs(abs(setting.output_V or 0.0) - wanted), default=None)
        ends = [] if one is None else [abs(end) for end in (one.output_min_V, one.output_max_V) if end is not None]
        worst = max(worst, *(abs(end - wanted) / wanted for end in ends)) if ends else float("inf")
    ohms = dict(zip(asked.free, found.values, strict=True))
    each = {part.spec.resistance.value for name, part in asked.circuit.parts.items()
            if name in {one.name for one in asked.network.setting} and name not in ohms
            and isinstance(part.spec, ResistorSpec)}
    different = len(each | {value.each for value in found.values})
    return Choice(ohms=ohms, settings=result.settings, error=error, worst_case=worst, different=different,
                  verdict=result.verdict, mod=mod_text(asked, ohms),
                  entry=entry_text(f"outputs-of-{asked.regulator.name}", _steps(asked, ohms), asked.fragment))


def _in_the_way(asked: Question, safe: Sequence[Choice], proved: Sequence[Choice]) -> str:
    """Which demand keeps the best from meeting the wanted outputs."""
    if not proved and (reason := used_up()) is not None:
        return f"{reason}."
    high, most = asked.demand.high_V, max(asked.wanted)
    if most > high:
        return phrase("wanted-harms", wanted_V=most, limit_V=high)
    if safe and len(safe[0].settings) < len(asked.wanted):
        return phrase("too-few-settings", wanted_count=len(asked.wanted), settings_count=len(safe[0].settings))
    if safe:
        return phrase("misses", error_share=safe[0].error)
    if not proved:
        return phrase("no-values", limit_V=high)
    harmed = sorted({name for one in proved for setting in one.settings for name in setting.harmed})
    return (f"every choice has a setting that takes {', '.join(harmed) or 'a load'} beyond what it survives: ask for "
            "lower outputs or fewer links, or put the links where closing them raises the output.")


def _nearest(wanted: Sequence[float], output: float | None, settings: Sequence[Setting]) -> float | None:
    """The wanted output that a setting is the nearest to; None where another setting is."""
    if output is None:
        return None
    for volts in wanted:
        best = min((one.output_V for one in settings if one.output_V is not None),
                   key=lambda one: abs(abs(one) - volts))
        if best == output:
            return volts
    return None


def made_of(value: Value) -> str:
    """How a value is made, in words.

    >>> made_of(Value(3750.0, 7500.0, "parallel"))
    'two of 7.5 kΩ in parallel'
    """
    return phrase("one-value" if value.how == "one" else "two-values", each_ohm=value.each, how=value.how)


def _with_links(
    fragment: Fragment, regulator: Part, count: int, lowest_with_all: bool
) -> tuple[Fragment, tuple[str, ...]]:
    """The fragment with links added, each with a resistor, and the names of what was added."""
    if count < 0 or count > 6:
        raise NoChoice("from 0 to 6 links can be added")
    control = regulator.pins.get("adjust")
    if count and control is None:
        raise NoChoice(f"{regulator.name} has no adjust pin on a net to which links could be added")
    upper = getattr(regulator.spec, "between", None) == "output-adjust"
    raises = regulator.pins["output"] if upper else fragment.ground
    lowers = fragment.ground if upper else regulator.pins["output"]
    far = lowers if lowest_with_all else raises
    parts, added = dict(fragment.parts), []
    nets = set(fragment.nets)
    for _ in range(count):
        resistor, link = _free_name("R", parts), _free_name("JP", parts)
        number = link.removeprefix("JP")
        tap = next(name for name in (f"TAP{number}", *(f"TAP{number}{letter}" for letter in "ABCDEFGH"))
                   if name not in nets)
        nets.add(tap)
        parts[resistor] = Part(name=resistor, kind=Kind.RESISTOR, pins={"1": control or "", "2": tap},
                               spec=_spec(1000.0, _NEW_TOLERANCE), mark=_MARK)
        parts[link] = Part(name=link, kind=Kind.JUMPER, pins={"1": tap, "2": far}, spec=LinkSpec(), mark=_MARK,
                           positions={"closed": (("1", "2"),), "open": ()}, position="open")
        added += [resistor, link]
    return fragment.with_parts(parts), tuple(added)


def _free_name(letters: str, parts: Mapping[str, Part]) -> str:
    taken = [int(match[1]) for name in parts if (match := re.fullmatch(rf"{letters}(\d+)", name))]
    return f"{letters}{max(taken, default=0) + 1}"


def _spec(ohm: float, tolerance: float) -> ResistorSpec:
    return ResistorSpec(resistance(ohm, tolerance))


def _tolerance(part: Part) -> float:
    assert isinstance(part.spec, ResistorSpec)
    value = part.spec.resistance
    return (value.high - value.value) / value.value if value.high > value.value else _NEW_TOLERANCE


def _fitted(asked: Question, values: Sequence[Value]) -> Fragment:
    """The circuit with the chosen values; a pair stands as one resistor of its own value and tolerance."""
    parts = dict(asked.circuit.parts)
    for name, value in zip(asked.free, values, strict=True):
        parts[name] = replace(parts[name], spec=_spec(value.ohm, _tolerance(parts[name])), marked=None)
    return asked.circuit.with_parts(parts)


def mod_text(asked: Question, ohms: Mapping[str, Value]) -> str:
    """The steps of a mod, to be pasted under a name of one's own below `mods:`."""
    return "steps:\n" + "".join(f"  - {line}\n" for line in _steps(asked, ohms))


def _steps(asked: Question, ohms: Mapping[str, Value]) -> Iterator[str]:
    parts = dict(asked.circuit.parts)
    for name in (*(one for one in asked.free if one not in asked.added), *asked.added):
        part, value = parts[name], ohms.get(name)
        old = asked.fragment.parts.get(name)
        if value is None:
            yield f"{{fit: {{{name}: {part_text(part)}}}}}"
            continue
        if old is not None and isinstance(old.spec, ResistorSpec) and value.how == "one" \
                and abs(old.spec.resistance.value - value.ohm) < 1e-9 * value.ohm:
            continue
        spec = _spec(value.each, _tolerance(part))
        if old is not None and value.how == "one":
            yield f"{{replace: {{{name}: {{resistor: {spec.resistance.text}}}}}}}"
            continue
        if old is not None:
            yield f"{{remove: [{name}]}}"
        for fitted in _made(part, spec, value, parts):
            parts[fitted.name] = fitted
            yield f"{{fit: {{{fitted.name}: {part_text(fitted)}}}}}"


def _made(part: Part, spec: ResistorSpec, value: Value, parts: Mapping[str, Part]) -> Iterator[Part]:
    """The resistors that a value is made of, in the place of one."""
    one = replace(part, spec=spec, marked=None)
    if value.how == "one":
        yield one
        return
    other = _free_name("R", parts)
    near, far = part.pins["1"], part.pins["2"]
    if value.how == "parallel":
        yield one
        yield replace(one, name=other)
        return
    middle = f"{part.name}MID"
    yield replace(one, pins={"1": near, "2": middle})
    yield replace(one, name=other, pins={"1": middle, "2": far})
