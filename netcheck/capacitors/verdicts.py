"""The findings on a capacitor: what burns or bursts it, what stops the board doing its job, what to watch."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from types import MappingProxyType

from msgspec import Struct
from msgspec.structs import replace

from netcheck.capacitors.effect import start_limit, total_F
from netcheck.capacitors.replacement import beyond_value, refused
from netcheck.capacitors.results import CapacitorResult
from netcheck.capacitors.stability import at_output
from netcheck.capacitors.testers import GOOD, OUT
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment, Part
from netcheck.parts import capacitor_laws as laws
from netcheck.parts.capacitor import Family, family, role
from netcheck.parts.specs import CapacitorSpec, Figure, RegulatorSpec
from netcheck.wording import effects
from netcheck.wording.sentence import Word

UNKNOWN = str(Severity.UNKNOWN)
_NOTHING: Mapping[str, Word] = MappingProxyType({})
_NO_FIGURES: Mapping[str, float] = MappingProxyType({})


class _Case(Struct, frozen=True):
    """A capacitor as it is judged."""

    fragment: Fragment
    part: Part
    result: CapacitorResult
    regulator: RegulatorSpec | None
    known: Family | None

    def finding(
        self, check: str, severity: Severity, case: str, *, words: Mapping[str, Word] = _NOTHING,
        state: str | None = None, states: tuple[str, ...] = (), figures: Mapping[str, float] = _NO_FIGURES,
        sources: Iterable[Figure] = (),
    ) -> Finding:
        """A finding on it, which says its value, type and rating, too."""
        spec = self.result.spec
        own = {"value_F": spec.capacitance.value, **({} if spec.rated_V is None else {"rated_V": spec.rated_V})}
        kind: Mapping[str, Word] = {} if spec.type == "unknown" else {"type": spec.type}
        return Finding(check, severity, self.part.name, case=case, state=state, parts=(self.part.name,),
                       nets=self.part.nets, line=self.part.mark.line, words={**kind, **words},
                       figures={**own, **figures}, states=states,
                       sources=tuple(dict.fromkeys(_cited(figure) for figure in sources)))


def _cited(figure: Figure) -> str:
    return figure.source + {"memory": " (from memory)", "seen": " (read there)"}.get(figure.sure, "")


def judged(fragment: Fragment, part: Part, result: CapacitorResult, regulator: RegulatorSpec | None) -> CapacitorResult:
    """The result with its findings."""
    case = _Case(fragment, part, result, regulator, family(result.spec.type))
    said = tuple(one for ask in (_polarity, _rating, _derating, _fault, _role, _value, _family, _stability, _time,
                                 _leakage, _tester, _life) for one in ask(case))
    own = UNKNOWN if result.stress.most_V is None or (result.spec.rated_V is None and _polarised(case)) else None
    return replace(result, findings=said, own=own)


def backwards_limit_V(part: Part, temperature_C: float) -> float | None:
    """Volts backwards that a capacitor with a plus and a minus bears at a temperature; None for one without."""
    spec = part.spec
    assert isinstance(spec, CapacitorSpec)
    return laws.bears_backwards_V(spec, temperature_C) if "plus" in part.pins else None


def _polarised(case: _Case) -> bool:
    return "plus" in case.part.pins if case.known is None else case.known.polarised


def _polarity(case: _Case) -> Iterator[Finding]:
    result, stress = case.result, case.result.stress
    if result.reversed and result.backwards_limit_V is not None:
        harm = "burns" if case.known is not None and case.known.burns \
            else "vents" if case.result.spec.type.startswith("wet") else "shorts"
        yield case.finding(
            "polarity", Severity.DANGER, "fitted-reversed" if result.changed else "reversed",
            state=stress.backwards_state, states=stress.backwards_in(result.backwards_limit_V),
            words={"harm": harm, "plus": case.part.pins["plus"], "minus": case.part.pins["minus"]},
            figures={"backwards_V": stress.backwards_V, "limit_V": result.backwards_limit_V},
            sources=[limit.figure for limit in (case.known.reverse if case.known else ())][:1])
    elif case.known is not None and case.known.polarised and "plus" not in case.part.pins:
        yield case.finding("polarity", Severity.CAUTION, "not-said")
    elif stress.bound and result.backwards_limit_V is not None and stress.may_backwards_V > result.backwards_limit_V:
        yield from _perhaps_backwards(case)


def _perhaps_backwards(case: _Case) -> Iterator[Finding]:
    """A polarised one on a net that was not traced: backwards if it sees anything, or either way round."""
    stress = case.result.stress
    bound, figures = {"bound": stress.bound}, {"backwards_V": stress.may_backwards_V}
    if stress.may_forwards_V <= (case.result.backwards_limit_V or 0.0):
        yield case.finding("polarity", Severity.CAUTION, "perhaps-reversed", words=bound, figures=figures)
    elif {case.fragment.ground, *case.fragment.rails} & set(case.part.nets):  # between two signals it may be either
        yield case.finding("polarity", Severity.NOTE, "either-way", words=bound, figures=figures)


def _rating(case: _Case) -> Iterator[Finding]:
    spec, stress = case.result.spec, case.result.stress
    if stress.most_V is None:
        if not case.fragment.rails:
            severity = Severity.UNKNOWN
        else:
            severity = Severity.UNKNOWN if case.result.changed or case.fragment.scope == "list" else Severity.NOTE
        yield case.finding("rating", severity, "not-known")
        return
    needs = case.result.may_be.volts.get(spec.type, case.result.may_be.volts_least)
    buy: Mapping[str, Word] = {"buy": "more" if needs is None else "least"}
    figures = {"volts_V": stress.most_V, **({} if needs is None else {"buy_V": needs})}
    if spec.rated_V is None:
        yield from _unrated(case, buy, figures)
    elif stress.most_V > spec.rated_V * (1 + 1e-6) and stress.bound:
        yield case.finding("rating", Severity.CAUTION, "may-exceed", words={**buy, "bound": stress.bound},
                           figures=figures)
    elif stress.most_V > (most_V := spec.rated_V * (1 + 1e-6)):
        yield case.finding("rating", Severity.DANGER, "exceeds", words=buy, state=stress.state,
                           states=stress.beyond_in(most_V), figures=figures)


def _unrated(case: _Case, buy: Mapping[str, Word], figures: Mapping[str, float]) -> Iterator[Finding]:
    wanted = case.result.changed or case.fragment.scope == "list"
    if _polarised(case):
        yield case.finding("rating", Severity.UNKNOWN if wanted else Severity.NOTE, "not-stated-polarised", words=buy,
                           figures=figures)
    elif wanted:
        yield case.finding("rating", Severity.NOTE, "not-stated", words=buy, figures=figures)


def _derating(case: _Case) -> Iterator[Finding]:
    spec, stress, derated_V = case.result.spec, case.result.stress, case.result.derated_V
    if (case.known is None or derated_V is None or stress.nominal_V is None or stress.bound or spec.rated_V is None
            or stress.nominal_V <= derated_V * (1 + 1e-6) or (stress.most_V or 0.0) > spec.rated_V):
        return
    needs = case.result.may_be.volts.get(spec.type) or laws.rating_V(case.known, stress.nominal_V)
    surge = case.result.surge
    yield case.finding(
        "derating", Severity.CAUTION, "beyond", words={"burns": "yes"} if case.known.burns else {},
        figures={"volts_V": stress.nominal_V, "derated_V": derated_V, "buy_V": needs,
                 **({} if surge is None else {"surge_A": surge.amps, "rise_s": surge.rise_s})},
        sources=[figure for figure in case.known.figures if figure.of in ("use stiff", "use")][-1:])


def _fault(case: _Case) -> Iterator[Finding]:
    fault, spec = case.result.fault, case.result.spec
    if fault is None or spec.rated_V is None or fault.volts_V <= spec.rated_V \
            or (case.result.stress.most_V or 0.0) > spec.rated_V:
        return
    burns = case.known is not None and case.known.burns
    yield case.finding(
        "rating", Severity.CAUTION if burns and case.result.changed else Severity.NOTE, "after-fault",
        words={"failing": fault.part, "how": fault.how}, figures={"volts_V": fault.volts_V}, state=fault.state)


def _role(case: _Case) -> Iterator[Finding]:
    place = case.result.place
    if place.shown is not None:
        yield case.finding("role", Severity.CAUTION, "shown-otherwise",
                           words={"role": place.role, "shown": place.shown, "about": role(place.shown).about})


def _value(case: _Case) -> Iterator[Finding]:
    """A value that a change keeps, or moves beyond what its place bears."""
    result, old = case.result, case.result.was
    if not result.changed or old is None or result.spec.capacitance.value == old.capacitance.value:
        return
    beyond = beyond_value(result.spec, old, result.place)
    does = effects.told(result.effect.to_dict() if result.effect else None)
    words = {**does.words, "about": role(result.place.role).about, "does": does.case}
    figures = {**does.figures, "before_F": old.capacitance.value, "after_F": result.spec.capacitance.value}
    if beyond == "changed":
        yield case.finding("value", Severity.FAILS if result.place.role != "unknown" else Severity.CAUTION, "changed",
                           words=words, figures=figures)
    elif beyond:
        yield case.finding("value", Severity.CAUTION, "outside", words={**words, "beyond": beyond}, figures={
            **figures, "least_F": result.may_be.least_F, "most_F": result.may_be.most_F})


def _family(case: _Case) -> Iterator[Finding]:
    """A family that a change puts where it does not belong."""
    result = case.result
    old = result.was
    if not result.changed or (old is not None and old.type == result.spec.type):
        return
    why = refused(result.spec, result.place)
    if why and not (result.place.role == "regulator-output" and case.regulator is not None and case.regulator.esr):
        yield case.finding("family", Severity.CAUTION, "refused", words={
            "about": role(result.place.role).about, "why": why, "families": tuple(result.may_be.families)})


def _stability(case: _Case) -> Iterator[Finding]:
    """The output capacitors of a regulator together, told with the largest of them."""
    regulator, place = case.regulator, case.result.place
    if regulator is None or regulator.esr is None or place.of is None:
        return
    part = case.fragment.parts[place.of]
    outputs = [one for one in case.fragment.fitted if isinstance(one.spec, CapacitorSpec)
               and part.pins["output"] in one.nets]
    largest = max(outputs, key=lambda one: one.spec.capacitance.value)  # type: ignore[union-attr]
    if largest.name != case.part.name:
        return
    found = at_output(case.fragment, part, case.fragment.conditions.temperature.low)
    window = regulator.esr
    sources = [figure for figure in regulator.figures if figure.of == "esr"]
    words: dict[str, Word] = {"regulator": regulator.name, "of": place.of, **_families(case)}
    figures = {"window_least_ohm": window.low, "window_most_ohm": window.high}
    if found is None:
        yield case.finding("stability", Severity.UNKNOWN if case.result.changed else Severity.NOTE, "not-known",
                           words=words, figures=figures, sources=sources)
        return
    figures |= {"ohm": found.ohm, "least_ohm": found.least_ohm, "most_ohm": found.most_ohm}
    if found.ohm < window.low:
        yield case.finding("stability", Severity.FAILS, "too-low", words=words, sources=sources,
                           figures=figures | {"missing_ohm": max(0.0, 2 * window.low - found.ohm)})
    elif found.ohm > window.high:
        yield case.finding("stability", Severity.FAILS, "too-high", words=words, figures=figures, sources=sources)
    elif not (window.low <= found.least_ohm and found.most_ohm <= window.high):
        yield case.finding("stability", Severity.CAUTION if case.result.changed else Severity.NOTE, "near-limit",
                           words=words, figures=figures, sources=sources)


def _families(case: _Case) -> dict[str, Word]:
    """The families that may stand there."""
    families = tuple(case.result.may_be.families)
    return {"families": families} if families else {"family": "another"}


def _time(case: _Case) -> Iterator[Finding]:
    """A time that is never reached because the leakage holds the net down."""
    found = case.result.effect
    if found is None or "s" not in found.after or found.before.get("s") is None:
        return
    words: dict[str, Word] = {"what": found.what, **_families(case)}
    if found.after["s"] is None:
        yield case.finding("value", Severity.FAILS, "never-ends", words=words)
    elif found.more.get("after_most_s", 0.0) is None:
        yield case.finding("value", Severity.CAUTION, "leaky-never-ends", words=words)


def _leakage(case: _Case) -> Iterator[Finding]:
    """On a backup net, what a capacitor takes from the cell."""
    leak, place = case.result.leakage, case.result.place
    if place.role != "backup":
        return
    if leak is None:
        yield case.finding("leakage", Severity.NOTE, "capacitor-not-known")
    elif case.known is not None and case.known.polarised:
        yield case.finding("leakage", Severity.NOTE, "capacitor", words={"cell": place.of or ""},
                           figures={"leakage_A": leak.typical_A, "leakage_most_A": leak.maximum_A})


def _tester(case: _Case) -> Iterator[Finding]:
    found = case.result.tester
    if found is None or found.verdict == GOOD:
        return
    read_F, read_ohm = found.reading.capacitance_F, found.reading.esr_ohm
    figures = {**({} if read_F is None else {"read_F": read_F}), **({} if read_ohm is None else {"read_ohm": read_ohm})}
    worn_out = found.verdict == OUT
    yield case.finding(
        "tester", Severity.CAUTION if worn_out else Severity.NOTE, "worn-out" if worn_out else "tired", figures=figures,
        words={"why": found.why, "reads": "both" if len(figures) == 2 else "F" if read_F is not None else "ohm"})


def _life(case: _Case) -> Iterator[Finding]:
    years = case.result.lasting.years
    wanted = case.fragment.conditions.years
    if years is None or not case.result.changed or years >= wanted:
        return
    yield case.finding("ageing", Severity.NOTE, "shorter", figures={
        "life_years": years, "wanted_years": wanted, "hot_C": case.fragment.conditions.temperature.high})


def of_rails(fragment: Fragment, results: Iterable[CapacitorResult]) -> list[Finding]:
    """What a mod's capacitors add up to on each rail, against what a supply is made to start."""
    rails = dict.fromkeys(one.place.rail for one in results if one.changed and one.place.rail in fragment.rails)
    findings = []
    for rail in filter(None, rails):
        limit = start_limit(fragment, rail)
        now = total_F(fragment, rail)
        before = total_F(fragment.found or fragment, rail)
        if limit is not None and now > max(limit.most_F, before):
            findings.append(Finding(
                "start", Severity.CAUTION, rail, case="too-much", nets=(rail,),
                figures={"now_F": now, "before_F": before, "most_F": limit.most_F}, sources=(_cited(limit.figure),)))
    return findings
