"""Which diode: every candidate in every place that matters, with the two effects that pull against each other.

The diode in the cell's lead costs volts; the diode from the rail leaks the
cell away; and whichever blocks the rail leaks into the cell.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from math import log10
from typing import Any

from netcheck.checks.charging import HOURS_A_YEAR, leaked_share
from netcheck.checks.diode_results import Comparison, Option
from netcheck.checks.life import Walk, life, walk
from netcheck.checks.survey import ROOM_C, Corners, Survey, survey
from netcheck.checks.voltage import THIN_V, across, drops, needs
from netcheck.conduction.remedies import lead_steps
from netcheck.conduction.routes import charge_routes
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.mods import apply_steps
from netcheck.fragment.values import engineering
from netcheck.parts import diode
from netcheck.parts.catalogue import Catalogue
from netcheck.parts.specs import CellSpec, DiodeSpec
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Corner
from netcheck.simulation.elements import Circuit, OperatingPoint
from netcheck.simulation.operating_point import solve

FAMILIES = ("silicon", "low-leakage", "schottky", "germanium")

_PAIRED = 7
"""Of each place's candidates, how many of the best are tried together with those of the other place."""

_DIODE_V = 0.5
"""What another diode could at most take off a live net; beyond it none saves the load."""

_VERDICTS = ("ok", "caution", "unknown", "danger")


class NoPlace(ValueError):
    """There is nothing to compare; says why, and what would do."""


@dataclass(frozen=True, slots=True)
class Question:
    """What is compared: the cell, the load it backs up, and the places with the diode present in each."""

    fragment: Fragment
    survey: Survey
    cell: Part
    load: Part
    cell_places: tuple[str, ...]
    rail_places: tuple[str, ...]
    rail_diodes: tuple[str, ...]
    inserted: tuple[str, ...]

    @property
    def over_voltage(self) -> str:
        """Why the load is in danger whichever diode is fitted, in words; empty where it is not."""
        span, running = needs(self.load), self.survey.resting(True)
        if span is None or running is None:
            return ""
        point = self.survey.at(running, self.survey.corners.room)
        volts = across(point, self.load) if point.known else None
        if volts is None or volts <= span.high + _DIODE_V:
            return ""
        return (f"{self.load.name} gets {engineering(volts, 'V')} while live and stands {engineering(span.high, 'V')}, "
                "whichever diode is fitted")

    @staticmethod
    def unstated(chosen: Mapping[str, DiodeSpec]) -> list[str]:
        """The diodes among these of whose leakage nothing is known."""
        return [spec.name for spec in chosen.values()
                if spec.parameters is None and not diode.at(spec, ROOM_C).leakage_known]

    @property
    def places(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys((*self.cell_places, *self.rail_places)))

    def specs(self) -> list[DiodeSpec]:
        """The diodes that stand in the places now."""
        return [_spec(self.fragment, place) for place in self.places]

    def present(self, place: str) -> str | None:
        if place in self.inserted:
            return None
        spec = self.fragment.parts[place].spec
        assert isinstance(spec, DiodeSpec)
        return spec.name


def question(fragment: Fragment, at: Sequence[str] = ()) -> Question:
    """Find the places that matter: the diode that carries the load from the cell, and that from the rail.

    at: places given by name instead: a diode, or a cell's lead such as BT1.plus
    where one could go. Raises NoPlace.
    """
    inserted: dict[str, str] = {}
    for place in at:
        if "." in place:
            fragment, name = _with_lead_diode(fragment, place)
            inserted[place] = name
    found = survey(fragment)
    stored, running = found.resting(False), found.resting(True)
    pairs = [(cell, load) for load in found.loads() for cell in found.cells()
             if stored and cell.name in found.feeds[stored.name, load.name].by_cells]
    if not pairs or stored is None:
        raise NoPlace("No cell feeds a load while everything is off, so there is no diode to compare.")
    cell, load = min(pairs, key=lambda pair: _headroom(found, stored.name, pair[1]))
    wanted = [inserted.get(place, place) for place in at]
    for place in wanted:
        if place not in fragment.parts or fragment.parts[place].kind is not Kind.DIODE:
            diodes = ", ".join(part.name for part in fragment.of_kind(Kind.DIODE))
            raise NoPlace(f"{place} is not a diode of this fragment. Diodes: {diodes or 'none'}; "
                          f"or name a lead: {cell.name}.plus, {cell.name}.minus.")
    carrying = [name for name in drops(found, stored) if fragment.parts[name].kind is Kind.DIODE]
    feeding = [] if running is None else [
        name for name in drops(found, running) if fragment.parts[name].kind is Kind.DIODE]
    rail_diodes = tuple(feeding)
    if wanted:
        carrying = [name for name in carrying if name in wanted]
        feeding = [name for name in wanted if name not in carrying]
    if not (carrying or feeding):
        raise NoPlace(f"No diode carries {load.name}'s current. Name a place where one could go, "
                      f"for example --at {cell.name}.plus.")
    return Question(fragment, found, cell, load, tuple(carrying[:1] if not wanted else carrying),
                    tuple(feeding[:1] if not wanted else feeding), rail_diodes, tuple(inserted.values()))


def _headroom(found: Survey, state: str, load: Part) -> float:
    span, point = needs(load), found.points[state, found.corners.room.name]
    volts = across(point, load) if point.known else None
    return float("inf") if span is None or volts is None else volts - span.low


def _with_lead_diode(fragment: Fragment, place: str) -> tuple[Fragment, str]:
    name, _, pin = place.partition(".")
    part = fragment.parts.get(name)
    if part is None or part.kind is not Kind.CELL or pin not in ("plus", "minus"):
        raise NoPlace(f"{place} is not a lead of a cell; write for example BT1.plus.")
    steps, fitted = lead_steps(fragment, part, pin, Catalogue.standard().diode("1N4148"))
    return apply_steps(fragment, steps), fitted


def compare(
    asked: Question, candidates: Sequence[DiodeSpec], assumed: Mapping[str, Any],
    progress: Callable[[int, int], None] | None = None,
) -> Comparison:
    """Work out every option and rank them.

    Each candidate is tried in each place by itself; the best of each place are
    then tried together.
    """
    present = {place: _spec(asked.fragment, place) for place in asked.places}
    singles = [present, *({**present, place: spec} for place in asked.places for spec in candidates)]
    options = _work_out(asked, singles, progress)
    if len(asked.places) == 2:
        first, second = (_best(options, place, asked, candidates, present) for place in asked.places)
        pairs = [{asked.places[0]: one, asked.places[1]: other} for one, other in product(first, second)]
        options += _work_out(asked, pairs, progress)
    unique = {tuple(sorted(option.at.items())): option for option in options}
    ranked = [replace(option, rank=rank) for rank, option in enumerate(sorted(unique.values(), key=_order), 1)]
    return Comparison(asked.fragment.file, assumed, _summary(asked, ranked), tuple(ranked),
                      asked.cell.name, asked.load.name)


def _best(
    options: Sequence[Option], place: str, asked: Question, candidates: Sequence[DiodeSpec],
    present: Mapping[str, DiodeSpec],
) -> list[DiodeSpec]:
    """The candidates that did best in this place with the other place as present, the present one among them."""
    others = {name: spec.name for name, spec in present.items() if name != place}
    alone = [option for option in options if all(option.at[name] == spec for name, spec in others.items())]
    names = [option.at[place] for option in sorted(alone, key=_order)]
    by_name = {spec.name: spec for spec in (*candidates, present[place])}
    return [by_name[name] for name in dict.fromkeys((*names[:_PAIRED], present[place].name))]


def _spec(fragment: Fragment, place: str) -> DiodeSpec:
    spec = fragment.parts[place].spec
    assert isinstance(spec, DiodeSpec)
    return spec


def with_diodes(fragment: Fragment, chosen: Mapping[str, DiodeSpec]) -> Fragment:
    """The fragment with these diodes in these places."""
    swapped = {place: replace(fragment.parts[place], spec=spec) for place, spec in chosen.items()}
    return fragment.with_parts({**fragment.parts, **swapped})


@dataclass(frozen=True, slots=True)
class _Trial:
    chosen: Mapping[str, DiodeSpec]
    survey: Survey
    walk: Walk
    circuits: tuple[Circuit, ...]


_AGES = ("fresh", "old", "coldest", "hottest", "lowest")


def _work_out(
    asked: Question, choices: Iterable[Mapping[str, DiodeSpec]], progress: Callable[[int, int], None] | None
) -> list[Option]:
    trials = [_trial(asked, chosen) for chosen in choices]
    circuits = [circuit for trial in trials for circuit in trial.circuits]
    points = iter(solve(circuits, progress=progress))
    return [_option(asked, trial, [next(points) for _ in trial.circuits]) for trial in trials]


def _stored_corners(corners: Corners) -> tuple[Corner, ...]:
    cold, hot = corners.cold.temperature_C, corners.hot.temperature_C
    return (
        corners.room, corners.old, replace(corners.room, temperature_C=cold),
        replace(corners.room, temperature_C=hot), corners.cold_old,
        replace(corners.room, temperature_C=hot), replace(corners.room, temperature_C=hot, leakage="maximum"),
    )


def _trial(asked: Question, chosen: Mapping[str, DiodeSpec]) -> _Trial:
    fragment = with_diodes(asked.fragment, chosen)
    changed = replace(asked.survey, fragment=fragment)
    walked = walk(changed, fragment.parts[asked.cell.name])
    return _Trial(chosen, changed, walked, (*_circuits(changed), *walked.circuits))


def _circuits(changed: Survey) -> Iterator[Circuit]:
    stored, corners = changed.resting(False), changed.corners
    assert stored is not None
    for corner in _stored_corners(corners):
        yield circuit_of(changed.fragment, stored, corner)
    for state in changed.states.states:
        if state.live:
            yield circuit_of(changed.fragment, state, corners.leak_typical)
            yield circuit_of(changed.fragment, state, corners.leak_maximum)


def _option(asked: Question, trial: _Trial, points: list[OperatingPoint]) -> Option:
    cell, load, spec = asked.cell, asked.load, asked.cell.spec
    assert isinstance(spec, CellSpec)
    count = len(_stored_corners(trial.survey.corners))
    steps = len(trial.walk.circuits)
    stored, live, walked = points[:count], points[count:-steps], points[-steps:]
    volts = [across(point, load) if point.known else None for point in stored]
    shorts = _shorts(trial.survey, cell)
    leak_in = {"typical": _most_in(live[0::2], cell), "maximum": _most_in(live[1::2], cell)} if shorts != 0 else \
        {"typical": None, "maximum": None}
    out = {"typical": _out(stored[5], asked), "maximum": _out(stored[6], asked)}
    lasts = life(trial.survey, trial.walk, walked)
    share = {kind: leaked_share(amps, asked.fragment, spec) for kind, amps in leak_in.items()}
    backup = dict(zip(_AGES, volts, strict=False))
    verdict, why = _judged(asked, spec, backup, share, out, stored[5], shorts, trial.chosen)
    chosen = {place: one.name for place, one in trial.chosen.items()}
    lead = asked.cell_places[0] if asked.cell_places else asked.places[0]
    return Option(
        at=chosen, family=trial.chosen[lead].family,
        present=all(asked.present(place) == name for place, name in chosen.items()),
        drop_V=_drop(stored[0], trial.survey.fragment, asked.cell_places),
        backup_V=backup, leakage_in_A=leak_in, leakage_share=share, leakage_out_A=out,
        shorts_to_charge=shorts, life_years=lasts.years if lasts else None, verdict=verdict, why=why,
    )


def _most_in(points: Sequence[OperatingPoint], cell: Part) -> float | None:
    if any(not point.known for point in points):
        return None
    return max((max(0.0, -point.amps[cell.name]) for point in points if cell.name in point.amps), default=0.0)


def _out(point: OperatingPoint, asked: Question) -> float | None:
    """What the cell loses backwards through the diodes that feed the load from a rail."""
    if not point.known:
        return None
    return sum(max(0.0, -point.amps.get(name, 0.0)) for name in asked.rail_diodes)


def _shorts(found: Survey, cell: Part) -> int | None:
    routes = [route for one in found.conductions for route in charge_routes(found.fragment, one, cell)]
    return min((len(route.shorts) for route in routes), default=None)


def _drop(point: OperatingPoint, fragment: Fragment, places: Sequence[str]) -> float | None:
    if not point.known or not places:
        return None
    ends = [(point.volts.get(fragment.parts[p].pins["anode"]), point.volts.get(fragment.parts[p].pins["cathode"]))
            for p in places]
    known = [anode - cathode for anode, cathode in ends if anode is not None and cathode is not None]
    return sum(known) if len(known) == len(ends) else None


def _judged(
    asked: Question, spec: CellSpec, backup: Mapping[str, float | None], share: Mapping[str, float | None],
    out: Mapping[str, float | None], hot: OperatingPoint, shorts: int | None, chosen: Mapping[str, DiodeSpec],
) -> tuple[str, str]:
    """The verdict on an option and the reason in words, the gravest first."""
    span = needs(asked.load)
    fresh, old, lowest = backup["fresh"], backup["old"], backup["lowest"]
    if fresh is None or old is None or lowest is None or out["typical"] is None or out["maximum"] is None:
        return "unknown", "not everything could be worked out"
    if asked.over_voltage:
        return "danger", asked.over_voltage
    if asked.unstated(chosen):
        return "unknown", f"nothing is known of the leakage of {' and '.join(asked.unstated(chosen))}"
    if spec.primary and shorts == 0:
        return "danger", "the cell is charged whichever diode is fitted: something else charges it"
    if span is not None and fresh < span.low:
        return "danger", f"{engineering(fresh, 'V')} on a fresh cell is below the {engineering(span.low, 'V')} needed"
    allowed = spec.leak_share if spec.primary else None
    if allowed is not None:
        if share["typical"] is None or share["maximum"] is None:
            return "unknown", "leakage into the cell could not be worked out"
        if share["typical"] > allowed:
            return "danger", (f"leaks {share['typical']:.0%} of the capacity into the cell, typically, where "
                              f"{allowed:.0%} is the most")
    drawn = sum(max(0.0, hot.amps.get(load.name, 0.0)) for load in asked.survey.loads())
    if out["typical"] > drawn:
        return "caution", (f"drains the cell into the dead rail: {engineering(out['typical'], 'A')} hot, more than "
                           "the load itself takes")
    if allowed is not None and (share["maximum"] or 0.0) > allowed:
        return "caution", (f"the worst specimen leaks {share['maximum']:.0%} of the capacity into the cell, where "
                           f"{allowed:.0%} is the most")
    if span is not None and old < span.low:
        return "caution", f"an old cell leaves {engineering(old, 'V')}, {engineering(span.low - old, 'V')} too little"
    if span is not None and lowest < span.low:
        return "caution", (f"an old cell leaves {engineering(lowest, 'V')} at the worst, "
                           f"{engineering(span.low - lowest, 'V')} too little")
    if span is not None and lowest - span.low < THIN_V:
        return "caution", f"an old cell leaves a margin of {engineering(lowest - span.low, 'V')} only at the worst"
    leak = "" if allowed is None else f", and at most {share['maximum']:.1%} of the capacity leaks in"
    return "ok", f"{engineering(old, 'V')} left with an old cell{leak}"


def _order(option: Option) -> tuple[object, ...]:
    """Best first: verdict, life to half a year, volts of an old cell to 50 mV, leakage to a decade, no change."""
    years = min(option.life_years or 0.0, 10.0)
    leaks = (option.leakage_in_A["maximum"] or 0.0) + (option.leakage_out_A["maximum"] or 0.0)
    return (_VERDICTS.index(option.verdict), -round(2 * years) / 2, -round(20 * (option.backup_V["old"] or 0.0)),
            round(log10(max(leaks, 1e-12))), not option.present, len(option.at), " ".join(option.at.values()))


def distinct(candidates: Iterable[DiodeSpec]) -> list[DiodeSpec]:
    """Candidates without those whose published figures are the same as an earlier one's (1N4002 beside 1N4001)."""
    seen: dict[object, DiodeSpec] = {}
    for spec in candidates:
        seen.setdefault((spec.family, spec.forward, spec.leakage, spec.parameters), spec)
    return list(seen.values())


def _summary(asked: Question, ranked: Sequence[Option]) -> str:
    """Silicon against Schottky, in two sentences."""
    best = ranked[0]
    silicon = next((o for o in ranked if o.family in ("silicon", "low-leakage")), None)
    schottky = next((o for o in ranked if o.family == "schottky"), None)

    def said(option: Option) -> str:
        names = " and ".join(f"{name} at {place}" for place, name in option.at.items())
        fresh, old = option.backup_V["fresh"], option.backup_V["old"]
        leak = option.leakage_in_A["typical"]
        if fresh is None or old is None:
            return f"{names}: not worked out"
        leaks = "" if leak is None else f", with {engineering(leak, 'A')} leaking into the cell"
        return (f"{names} leaves {asked.load.name} {engineering(fresh, 'V')} fresh and {engineering(old, 'V')} "
                f"old{leaks}")

    sides = "; ".join(f"{word}: {said(option)}" for word, option in
                      (("Silicon", silicon), ("Schottky", schottky)) if option is not None)
    names = " and ".join(f"{name} at {place}" for place, name in best.at.items())
    return f"{sides}. Best here is {names} ({best.verdict}): {best.why}."


def over_years(asked: Question, option: Option, candidates: Mapping[str, DiodeSpec]) -> list[tuple[float, float]]:
    """(years, volts at the load) down the cell's curve, at room temperature; empty where not computable."""
    fragment = with_diodes(asked.fragment, {place: candidates[name] for place, name in option.at.items()})
    changed = replace(asked.survey, fragment=fragment)
    walked = walk(changed, fragment.parts[asked.cell.name])
    points = solve(list(walked.circuits))
    total = life(changed, replace(walked), points)
    if total is None or total.years is None:
        return []
    spec = asked.cell.spec
    assert isinstance(spec, CellSpec)
    own = spec.capacity_Ah * spec.self_discharge_per_year / HOURS_A_YEAR
    years, curve = 0.0, []
    rest = points[: len(walked.used)]
    for i, point in enumerate(rest):
        volts = across(point, asked.load)
        if i:
            amps = 0.5 * (max(0.0, rest[i - 1].amps[asked.cell.name]) + max(0.0, point.amps[asked.cell.name])) + own
            years += (walked.used[i] - walked.used[i - 1]) * spec.capacity_Ah / amps / HOURS_A_YEAR
        if volts is not None:
            curve.append((years, volts))
    return curve

