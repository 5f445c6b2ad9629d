"""Which diode: every candidate in every place that matters, with the two effects that pull against each other.

The diode in the cell's lead costs volts; the diode from the rail leaks the
cell away; and whichever blocks the rail leaks into the cell.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import product
from math import log10
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from netcheck.checks.leakage import allowed_share, leaked_share
from netcheck.checks.life import life, walk
from netcheck.checks.voltage import THIN_V, across, drops, needs
from netcheck.conduction.remedies import lead_steps
from netcheck.conduction.routes import charge_routes
from netcheck.diodes.results import Comparison, Option
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.mods import apply_steps
from netcheck.parts import diode
from netcheck.parts.catalogue import Catalogue, cell_rules
from netcheck.parts.cell import HOURS_A_YEAR, self_discharge_A
from netcheck.parts.families import BODIES, LEADED_BODIES
from netcheck.parts.specs import CellSpec, DiodeSpec
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.elements import OperatingPoint
from netcheck.solving.asking import Asking, abreast, answered, asked
from netcheck.solving.solved_states import ROOM_C, Survey, survey
from netcheck.wording.phrases import phrase

FAMILIES = ("silicon", "low-leakage", "schottky", "germanium")

_PAIRED = 7
"""Of each place's candidates, how many of the best are tried together with those of the other place."""

_DIODE_V = 0.5
"""What another diode could at most take off a live net; beyond it none saves the load."""

_VERDICTS = ("ok", "caution", "unknown", "fails", "danger")

OBSOLETE = ("germanium",)
"""Families that nobody makes any more; what is sold of them is old stock (common practice, no source)."""


class NoPlace(ValueError):
    """There is nothing to compare; says why, and what would do."""


class Question(Struct, frozen=True):
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
        return phrase("load-harmed", load=self.load.name, volts_V=volts, limit_V=span.high)

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

    def standing(self) -> list[DiodeSpec]:
        """The diodes whose bodies tell what fits: those in the places, or, for a bare lead, all of the board."""
        own = [_spec(self.fragment, place) for place in self.places if place not in self.inserted]
        return own or [part.spec for part in self.fragment.of_kind(Kind.DIODE)
                       if part.name not in self.inserted and isinstance(part.spec, DiodeSpec)]

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
    known = {spec.name: spec for spec in (*present.values(), *candidates)}
    ranked = [_with_least(asked, one, known) if one.present or one is ranked[0] else one for one in ranked]
    return Comparison(asked.fragment.file, assumed, _summary(asked, ranked), tuple(ranked),
                      asked.cell.name, asked.load.name)


def _with_least(asked: Question, option: Option, known: Mapping[str, DiodeSpec]) -> Option:
    """An option with how long the cell lasts at the makers' maximum figures."""
    fragment = with_diodes(asked.fragment, {place: known[name] for place, name in option.at.items()})
    lasts, _ = answered(life(replace(asked.survey, fragment=fragment), fragment.parts[asked.cell.name], worst=True))
    return replace(option, life_least_years=lasts.lasts_least if lasts else None)


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


def _work_out(
    question: Question, choices: Iterable[Mapping[str, DiodeSpec]], progress: Callable[[int, int], None] | None
) -> list[Option]:
    return answered(abreast(_option(question, chosen) for chosen in choices), progress=progress)


def _option(question: Question, chosen: Mapping[str, DiodeSpec]) -> Asking[Option]:
    cell, load, spec = question.cell, question.load, question.cell.spec
    assert isinstance(spec, CellSpec)
    fragment = with_diodes(question.fragment, chosen)
    changed = replace(question.survey, fragment=fragment)
    state, corners = changed.resting(False), changed.corners
    assert state is not None
    hot = replace(corners.room, temperature_C=corners.hot.temperature_C)
    ages = {"fresh": corners.room, "old": corners.old,
            "coldest": replace(corners.room, temperature_C=corners.cold.temperature_C), "hottest": hot,
            "lowest": corners.cold_old}
    leaking = {"typical": corners.leak_typical, "maximum": corners.leak_maximum}
    stored, out, live, (lasts, _) = yield from abreast((
        asked({age: circuit_of(fragment, state, corner) for age, corner in ages.items()}),
        asked({kind: circuit_of(fragment, state, replace(hot, leakage=kind)) for kind in leaking}),
        asked({(kind, one.name): circuit_of(fragment, one, corner) for kind, corner in leaking.items()
               for one in changed.states.states if one.live}),
        life(changed, fragment.parts[cell.name]),
    ))
    backup = {age: across(point, load) if point.known else None for age, point in stored.items()}
    shorts = _shorts(changed, cell)
    leak_in = {kind: None if shorts == 0 else _most_in([point for (of, _), point in live.items() if of == kind], cell)
               for kind in leaking}
    leak_out = {kind: _out(point, question) for kind, point in out.items()}
    share = {kind: leaked_share(amps, fragment, spec) for kind, amps in leak_in.items()}
    verdict, why = _judged(question, spec, backup, share, leak_in, leak_out, out["typical"], shorts, chosen)
    unsuited = _unsuited(question.fragment, chosen)
    names = {place: one.name for place, one in chosen.items()}
    lead = question.cell_places[0] if question.cell_places else question.places[0]
    return Option(
        at=names, family=chosen[lead].family,
        present=all(question.present(place) == name for place, name in names.items()),
        drop_V=_drop(stored["fresh"], fragment, question.cell_places),
        backup_V=backup, leakage_in_A=leak_in, leakage_share=share, leakage_out_A=leak_out,
        shorts_to_charge=shorts, life_years=lasts.lasts if lasts else None, verdict=verdict,
        why="; ".join([why, *unsuited]), suits=not unsuited,
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
    leaks: Mapping[str, float | None], out: Mapping[str, float | None], hot: OperatingPoint, shorts: int | None,
    chosen: Mapping[str, DiodeSpec],
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
        return "fails", phrase("fresh-too-low", fresh_V=fresh, needs_V=span.low)
    allowed = allowed_share(spec) if spec.primary else None
    if allowed is not None:
        if share["typical"] is None or share["maximum"] is None or leaks["typical"] is None:
            return "unknown", "leakage into the cell could not be worked out"
        if leaks["typical"] > cell_rules().leak_limit_A:
            return "danger", phrase("leaks-beyond-limit", leak_A=leaks["typical"], limit_A=cell_rules().leak_limit_A)
        if share["typical"] > allowed:
            return "caution", phrase("leaks-beyond-share", share=share["typical"], allowed_share=allowed)
    drawn = sum(max(0.0, hot.amps.get(load.name, 0.0)) for load in asked.survey.loads())
    if out["typical"] > drawn:
        return "caution", phrase("drains", out_A=out["typical"])
    if allowed is not None and (share["maximum"] or 0.0) > allowed:
        return "caution", phrase("worst-leaks", share=share["maximum"], allowed_share=allowed)
    if span is not None and old < span.low:
        return "caution", phrase("old-too-low", old_V=old, margin_V=old - span.low)
    if span is not None and lowest < span.low:
        return "caution", phrase("worst-too-low", lowest_V=lowest, margin_V=lowest - span.low)
    if span is not None and lowest - span.low < THIN_V:
        return "caution", phrase("thin", margin_V=lowest - span.low)
    return "ok", phrase("good", old_V=old, share=None if allowed is None else share["maximum"])


def _unsuited(fragment: Fragment, chosen: Mapping[str, DiodeSpec]) -> list[str]:
    """Why this choice is not what one would fit on this board, although it works: another body, no longer made."""
    said = []
    leaded = _leaded(fragment)
    for name in dict.fromkeys(spec.name for spec in chosen.values()):
        spec = next(one for one in chosen.values() if one.name == name)
        if spec.family in OBSOLETE:
            said.append(f"{name} is no longer made")
        elif leaded is not None and spec.body is not None and (spec.body in LEADED_BODIES) is not leaded:
            said.append(f"{name} comes as {spec.body}: this board has diodes {'with' if leaded else 'without'} leads")
    return said


def _leaded(fragment: Fragment) -> bool | None:
    """Whether this board's diodes have leads, by their bodies; None where nothing is known of them."""
    bodies = [part.spec.body for part in fragment.of_kind(Kind.DIODE)
              if isinstance(part.spec, DiodeSpec) and part.spec.body is not None]
    return any(body in LEADED_BODIES for body in bodies) if bodies else None


def _order(option: Option) -> tuple[object, ...]:
    """Best first: verdict, what suits the board, life to half a year, volts of an old cell to 50 mV, leakage to a
    decade; of those alike what is fitted now.
    """
    years = min(option.life_years or 0.0, 10.0)
    leaks = (option.leakage_in_A["maximum"] or 0.0) + (option.leakage_out_A["maximum"] or 0.0)
    return (_VERDICTS.index(option.verdict), not option.suits, -round(2 * years) / 2,
            -round(20 * (option.backup_V["old"] or 0.0)), round(log10(max(leaks, 1e-12))), not option.present,
            len(option.at), " ".join(option.at.values()))


def distinct(candidates: Iterable[DiodeSpec]) -> list[DiodeSpec]:
    """Candidates without those whose published figures are the same as an earlier one's (1N4002 beside 1N4001)."""
    seen: dict[object, DiodeSpec] = {}
    for spec in candidates:
        seen.setdefault((spec.family, spec.forward, spec.leakage, spec.parameters), spec)
    return list(seen.values())


def of_body(asked: Question, candidates: Iterable[DiodeSpec], body: str | None = None) -> list[DiodeSpec]:
    """The candidates that can be fitted in the places asked about.

    body: a body ("SOT-23", "axial glass") or the start of one ("axial"), "leaded", "surface" or "any"; None:
    leaded or for the surface, as what stands there now. A candidate of which no body is known stays.
    Raises NoPlace where no diode of the library has that body.
    """
    if body is None:
        present = {spec.body in LEADED_BODIES for spec in asked.standing() if spec.body}
        return [spec for spec in candidates if not present or not spec.body or (spec.body in LEADED_BODIES) in present]
    wanted = body.casefold()
    words = {"any": BODIES, "leaded": LEADED_BODIES, "surface": tuple(set(BODIES) - set(LEADED_BODIES))}
    bodies = words.get(wanted) or tuple(one for one in BODIES if one.casefold().startswith(wanted))
    if not bodies:
        raise NoPlace(f"No diode has the body {body!r}: any, leaded, surface, " + ", ".join(BODIES) + ".")
    return [spec for spec in candidates if not spec.body or spec.body in bodies]


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
        return phrase("leaves", diodes=names, load=asked.load.name, fresh_V=fresh, old_V=old, leak_A=leak)

    sides = "; ".join(f"{word}: {said(option)}" for word, option in
                      (("Silicon", silicon), ("Schottky", schottky)) if option is not None)
    names = " and ".join(f"{name} at {place}" for place, name in best.at.items())
    if best.verdict not in ("ok", "caution"):
        return f"{sides}. None of them will do here, {best.verdict} with every one: {best.why}."
    return f"{sides}. Best here is {names} ({best.verdict}): {best.why}."


def over_years(question: Question, option: Option, candidates: Mapping[str, DiodeSpec]) -> list[tuple[float, float]]:
    """(years, volts at the load) down the cell's curve, at room temperature; empty where not computable."""
    fragment = with_diodes(question.fragment, {place: candidates[name] for place, name in option.at.items()})
    changed = replace(question.survey, fragment=fragment)
    cell = fragment.parts[question.cell.name]
    done = answered(walk(changed, cell, changed.corners.room))
    spec = cell.spec
    assert isinstance(spec, CellSpec)
    if option.life_years is None or done.problem:
        return []
    amps = [max(0.0, point.amps[cell.name]) + self_discharge_A(spec) for point in done.rest]
    years, curve = 0.0, []
    for i, point in enumerate(done.rest):
        if i:
            mean = 0.5 * (amps[i - 1] + amps[i])
            years += (done.used[i] - done.used[i - 1]) * spec.capacity_Ah / mean / HOURS_A_YEAR
        if (volts := across(point, question.load)) is not None:
            curve.append((years, volts))
    return curve
