"""The findings on a capacitor: what burns or bursts it, what stops the board doing its job, what to watch."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from netcheck.capacitors.effect import start_limit, total_F
from netcheck.capacitors.effect_words import effect_words
from netcheck.capacitors.replacement import beyond_value, refused
from netcheck.capacitors.results import CapacitorResult
from netcheck.capacitors.stability import Output, at_output
from netcheck.capacitors.testers import GOOD, OUT
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment, Part
from netcheck.parts import capacitor_laws as laws
from netcheck.parts.capacitor import Family, family, role, usual
from netcheck.parts.specs import CapacitorSpec, Figure, RegulatorSpec
from netcheck.quantities.values import engineering

UNKNOWN = str(Severity.UNKNOWN)


@dataclass(frozen=True, slots=True)
class _Case:
    """A capacitor as it is judged."""

    fragment: Fragment
    part: Part
    result: CapacitorResult
    regulator: RegulatorSpec | None
    known: Family | None

    @property
    def called(self) -> str:
        """"C3 (47 µF tantalum, 10 V)"."""
        spec = self.result.spec
        kind = "" if spec.type == "unknown" else f" {spec.type}"
        rated = "" if spec.rated_V is None else f", {engineering(spec.rated_V, 'V')}"
        return f"{self.part.name} ({engineering(spec.capacitance.value, 'F')}{kind}{rated})"

    def finding(
        self, check: str, severity: Severity, message: str, advice: str = "", *, state: str | None = None,
        figures: dict[str, float] | None = None, sources: Iterable[Figure] = (),
    ) -> Finding:
        return Finding(check, severity, self.part.name, message, advice, state=state, parts=(self.part.name,),
                       nets=self.part.nets, line=self.part.mark.line, figures=figures or {},
                       sources=tuple(dict.fromkeys(_cited(figure) for figure in sources)))


def _cited(figure: Figure) -> str:
    return figure.source + {"memory": " (from memory)", "seen": " (read there)"}.get(figure.sure, "")


Said = tuple[str, Finding]
"""What to watch in a few words, and the finding that says it in full."""


def judged(fragment: Fragment, part: Part, result: CapacitorResult, regulator: RegulatorSpec | None) -> CapacitorResult:
    """The result with its findings and what to watch."""
    case = _Case(fragment, part, result, regulator, family(result.spec.type))
    said = [one for ask in (_polarity, _rating, _derating, _fault, _role, _value, _family, _stability, _time,
                            _leakage, _tester, _life) for one in ask(case)]
    own = UNKNOWN if result.stress.most_V is None or (result.spec.rated_V is None and _polarised(case)) else None
    return replace(result, findings=tuple(finding for _, finding in said),
                   watch=tuple(dict.fromkeys(words for words, _ in said if words)), own=own)


def backwards_limit_V(part: Part, temperature_C: float) -> float | None:
    """Volts backwards that a capacitor with a plus and a minus bears at a temperature; None for one without.

    One whose type is not known is taken as the most tender that it may be.
    """
    spec = part.spec
    assert isinstance(spec, CapacitorSpec)
    if "plus" not in part.pins:
        return None
    known = family(spec.type)
    if known is None:
        known = family("tantalum")
        assert known is not None
    limit_V = laws.reverse_V(known, spec.rated_V, temperature_C)
    return None if limit_V is None else max(limit_V, usual().backwards_V)


def _polarised(case: _Case) -> bool:
    return "plus" in case.part.pins if case.known is None else case.known.polarised


def _polarity(case: _Case) -> Iterator[Said]:
    result, stress = case.result, case.result.stress
    if result.reversed and result.backwards_limit_V is not None:
        burns = "It shorts and burns." if case.known is not None and case.known.burns \
            else "It heats, swells and vents caustic electrolyte." if case.result.spec.type.startswith("wet") \
            else "It fails short."
        ends = f"its plus to {case.part.pins['minus']}, its minus to {case.part.pins['plus']}; check the polarity on " \
               "the empty pads with the meter first."
        turned = f"Fit {case.part.name} the other way round: {ends}" if result.changed else \
            f"Throw {case.part.name} away, as it has been reversed and may short later even the right way round; fit " \
            f"a new one, {ends}"
        yield "the wrong way round", case.finding(
            "polarity", Severity.DANGER,
            f"{case.called} stands the wrong way round: {engineering(stress.backwards_V, 'V')} backwards"
            f"{_in(stress.backwards_state)}, and it bears {engineering(result.backwards_limit_V, 'V')}. {burns}",
            turned, state=stress.backwards_state,
            figures={"backwards_V": stress.backwards_V, "limit_V": result.backwards_limit_V},
            sources=[limit.figure for limit in (case.known.reverse if case.known else ())][:1])
    elif case.known is not None and case.known.polarised and "plus" not in case.part.pins:
        yield "which end is plus is not said", case.finding(
            "polarity", Severity.CAUTION,
            f"{case.called} has a polarity, and the file does not say which net its plus is on.",
            f"Write plus: and minus: in place of between: for {case.part.name}.")
    elif stress.bound and result.backwards_limit_V is not None and stress.may_backwards_V > result.backwards_limit_V:
        yield from _perhaps_backwards(case)


def _perhaps_backwards(case: _Case) -> Iterator[Said]:
    """A polarised one on a net that was not traced: backwards if it sees anything, or either way round."""
    stress = case.result.stress
    volts = engineering(stress.may_backwards_V, "V")
    figures = {"backwards_V": stress.may_backwards_V}
    advice = f"Measure which end of {case.part.name} is the higher, or trace its net."
    if stress.may_forwards_V <= (case.result.backwards_limit_V or 0.0):
        yield f"may stand the wrong way round, up to {volts}", case.finding(
            "polarity", Severity.CAUTION,
            f"{case.called} may stand the wrong way round: if its net is driven at all ({stress.bound}), it sees up to "
            f"{volts} backwards; what it does see was not traced.", advice, figures=figures)
    elif {case.fragment.ground, *case.fragment.rails} & set(case.part.nets):  # between two signals it may be either
        yield "", case.finding(
            "polarity", Severity.NOTE,
            f"Which way round {case.called} stands was not traced: up to {volts} backwards is possible "
            f"({stress.bound}).", advice, figures=figures)


def _in(state: str | None) -> str:
    return f" in state {state}" if state else ""


def _rating(case: _Case) -> Iterator[Said]:
    spec, stress = case.result.spec, case.result.stress
    if stress.most_V is None:
        if not case.fragment.rails:
            severity = Severity.UNKNOWN
        else:
            severity = Severity.UNKNOWN if case.result.changed or case.fragment.scope == "list" else Severity.NOTE
        yield "its volts are not known", case.finding(
            "rating", severity, f"What volts {case.called} sees could not be worked out.",
            "Add the rail or the part that drives its net.")
        return
    sees = engineering(stress.most_V, "V")
    needs = case.result.may_be.volts.get(spec.type, case.result.may_be.volts_least)
    buy = f"at least {engineering(needs, 'V')}" if needs is not None else "more"
    if spec.rated_V is None:
        yield from _unrated(case, sees, buy)
    elif stress.most_V > spec.rated_V * (1 + 1e-6) and stress.bound:
        yield f"may see up to {sees}, its net was not traced", case.finding(
            "rating", Severity.CAUTION,
            f"{case.called} may see up to {sees} ({stress.bound}), more than its rating; what it does see was not "
            "traced.", f"Measure it, or fit one rated {buy}.", figures={"volts_V": stress.most_V})
    elif stress.most_V > spec.rated_V * (1 + 1e-6):
        yield f"sees {sees}: rating too low", case.finding(
            "rating", Severity.DANGER,
            f"{case.called} is rated {engineering(spec.rated_V, 'V')} and sees {sees}{_in(stress.state)}.",
            f"Fit one rated {buy}.", state=stress.state,
            figures={"volts_V": stress.most_V, "rated_V": spec.rated_V})


def _unrated(case: _Case, sees: str, buy: str) -> Iterator[Said]:
    wanted = case.result.changed or case.fragment.scope == "list"
    if _polarised(case):
        yield f"rating not stated; sees {sees}", case.finding(
            "rating", Severity.UNKNOWN if wanted else Severity.NOTE,
            f"The rating of {case.called} is not stated; it sees {sees}.",
            f"Add rated: to {case.part.name}; it has to be {buy}.")
    elif wanted:
        yield f"sees {sees}", case.finding(
            "rating", Severity.NOTE, f"The rating of {case.called} is not stated; it sees {sees}.",
            f"Take one rated {buy}.")


def _derating(case: _Case) -> Iterator[Said]:
    spec, stress, derated_V = case.result.spec, case.result.stress, case.result.derated_V
    if (case.known is None or derated_V is None or stress.nominal_V is None or stress.bound or spec.rated_V is None
            or stress.nominal_V <= derated_V * (1 + 1e-6) or (stress.most_V or 0.0) > spec.rated_V):
        return
    needs = case.result.may_be.volts.get(spec.type) or laws.rating_V(case.known, stress.nominal_V)
    burns = " A tantalum without that margin shorts at switch-on and burns." if case.known.burns else ""
    surge = case.result.surge
    peak = "" if surge is None else f" Its charging current peaks at {engineering(surge.amps, 'A')} with a rise of " \
                                    f"{engineering(surge.rise_s * 1e3, '')} ms."
    yield f"derate: {engineering(needs, 'V')} or more", case.finding(
        "derating", Severity.CAUTION,
        f"{case.called} stands at {engineering(stress.nominal_V, 'V')}; on this feed its family is used up to "
        f"{engineering(derated_V, 'V')} of that rating.{burns}{peak}",
        f"Fit one rated {engineering(needs, 'V')} or more, or one of another family.",
        figures={"volts_V": stress.nominal_V, "derated_V": derated_V},
        sources=[figure for figure in case.known.figures if figure.of in ("use stiff", "use")][-1:])


def _fault(case: _Case) -> Iterator[Said]:
    fault, spec = case.result.fault, case.result.spec
    if fault is None or spec.rated_V is None or fault.volts_V <= spec.rated_V \
            or (case.result.stress.most_V or 0.0) > spec.rated_V:
        return
    burns = case.known is not None and case.known.burns
    how = "failed short" if fault.how == "short" else "failed open"
    yield "", case.finding(
        "rating", Severity.CAUTION if burns and case.result.changed else Severity.NOTE,
        f"With {fault.part} {how}, {case.called} would see {engineering(fault.volts_V, 'V')}{_in(fault.state)}, more "
        f"than its rating.", figures={"volts_V": fault.volts_V}, state=fault.state)


def _role(case: _Case) -> Iterator[Said]:
    place = case.result.place
    if place.shown is not None:
        yield f"the circuit shows {place.shown}", case.finding(
            "role", Severity.CAUTION,
            f"The file calls {case.part.name} {place.role}, and the circuit shows it as {place.shown}: "
            f"{role(place.shown).about}.", "Trace its nets again, or drop role: from the file.")


def _value(case: _Case) -> Iterator[Said]:
    """A value that a change keeps, or moves beyond what its place bears."""
    result, old = case.result, case.result.was
    if not result.changed or old is None or result.spec.capacitance.value == old.capacitance.value:
        return
    beyond = beyond_value(result.spec, old, result.place)
    before, after = engineering(old.capacitance.value, "F"), engineering(result.spec.capacitance.value, "F")
    about = role(result.place.role).about
    effect = effect_words(result.effect.to_dict() if result.effect else None)
    does = f" {effect[0].upper()}{effect[1:]}." if effect else ""
    known = result.place.role != "unknown"
    if beyond == "changed":
        yield "value must stay", case.finding(
            "value", Severity.FAILS if known else Severity.CAUTION,
            f"{case.part.name} goes from {before} to {after}; {about}, its value has to stay.{does}",
            f"Fit {before} again; another family may do.",
            figures={"before_F": old.capacitance.value, "after_F": result.spec.capacitance.value})
    elif beyond:
        least, most = (engineering(value, "F") for value in (result.may_be.least_F, result.may_be.most_F))
        yield f"{beyond}: {least} to {most}", case.finding(
            "value", Severity.CAUTION,
            f"{case.part.name} goes from {before} to {after}, {beyond} for its place ({about}).{does}",
            f"Take {least} to {most}.",
            figures={"before_F": old.capacitance.value, "after_F": result.spec.capacitance.value})


def _family(case: _Case) -> Iterator[Said]:
    """A family that a change puts where it does not belong."""
    result = case.result
    old = result.was
    if not result.changed or (old is not None and old.type == result.spec.type):
        return
    why = refused(result.spec, result.place)
    if why and not (result.place.role == "regulator-output" and case.regulator is not None and case.regulator.esr):
        yield f"not {result.spec.type} here", case.finding(
            "family", Severity.CAUTION, f"{case.called} is of a family that does not suit its place "
            f"({role(result.place.role).about}): {why}.",
            f"Take {_listed(result.may_be.families)}." if result.may_be.families else "")


def _listed(words: Iterable[str]) -> str:
    *first, last = words
    return f"{', '.join(first)} or {last}" if first else last


def _stability(case: _Case) -> Iterator[Said]:
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
    within = f"{engineering(window.low, 'ohm')} to {engineering(window.high, 'ohm')}"
    sources = [figure for figure in regulator.figures if figure.of == "esr"]
    if found is None:
        yield "its series resistance is not known", case.finding(
            "stability", Severity.UNKNOWN if case.result.changed else Severity.NOTE,
            f"The series resistance of {case.called} is not known; {regulator.name} ({place.of}) wants {within} at its "
            "output, or it may oscillate.", f"Add type: or esr: to {case.part.name}.", sources=sources)
        return
    figures = {"ohm": found.ohm, "least_ohm": found.least_ohm, "most_ohm": found.most_ohm,
               "window_least_ohm": window.low, "window_most_ohm": window.high}
    said = f"{engineering(found.ohm, 'ohm')} ({_range(found)})"
    wants = f"{regulator.name} ({place.of}) wants {within}"
    if not window.low <= found.ohm <= window.high:
        low = found.ohm < window.low
        yield f"series resistance too {'low' if low else 'high'} for {place.of}", case.finding(
            "stability", Severity.FAILS,
            f"At the output of {place.of} the series resistance is {said}, and {wants}: it oscillates.",
            _stability_cure(case, found, low), figures=figures, sources=sources)
    elif not (window.low <= found.least_ohm and found.most_ohm <= window.high):
        yield f"near the window of {place.of}", case.finding(
            "stability", Severity.CAUTION if case.result.changed else Severity.NOTE,
            f"At the output of {place.of} the series resistance is {said}, over specimens, cold and age; {wants}.",
            "Take one whose data sheet keeps it inside, or measure it.", figures=figures, sources=sources)


def _range(found: Output) -> str:
    return f"{engineering(found.least_ohm, 'ohm')} to {engineering(found.most_ohm, 'ohm')}"


def _stability_cure(case: _Case, found: Output, low: bool) -> str:
    regulator = case.regulator
    assert regulator is not None
    assert regulator.esr is not None
    families = _listed(case.result.may_be.families) if case.result.may_be.families else "another family"
    if not low:
        return f"Fit {families}, new."
    missing = max(0.0, 2 * regulator.esr.low - found.ohm)
    return f"Fit {families}, or a resistor of about {engineering(missing, 'ohm', 2)} in series with it."


def _time(case: _Case) -> Iterator[Said]:
    """A time that is never reached because the leakage holds the net down."""
    found = case.result.effect
    if found is None or "s" not in found.after or found.before.get("s") is None:
        return
    if found.after["s"] is None:
        yield "its leakage holds the net down", case.finding(
            "value", Severity.FAILS, f"With {case.called} the {found.what} never ends: its leakage through the "
            "resistor keeps the net below the threshold.", f"Take {_listed(case.result.may_be.families)}.")
    elif found.more.get("after_most_s", 0.0) is None:
        yield "a leaky specimen holds the net down", case.finding(
            "value", Severity.CAUTION, f"With {case.called} at its maker's most leakage the {found.what} never ends.",
            f"Take {_listed(case.result.may_be.families)}.")


def _leakage(case: _Case) -> Iterator[Said]:
    """On a backup net, what a capacitor takes from the cell."""
    leak, place = case.result.leakage, case.result.place
    if place.role != "backup":
        return
    if leak is None:
        yield "its leakage is not known", case.finding(
            "leakage", Severity.NOTE, f"The leakage of {case.called} on the backup net is not known, for its type is "
            "not stated.", f"Add type: to {case.part.name}.")
    elif case.known is not None and case.known.polarised:
        yield f"leaks {engineering(leak.typical_A, 'A', 2)} from {place.of}", case.finding(
            "leakage", Severity.NOTE,
            f"{case.called} takes about {engineering(leak.typical_A, 'A', 2)}, at most "
            f"{engineering(leak.maximum_A, 'A', 2)}, from {place.of} while it backs up.",
            figures={"leakage_A": leak.typical_A, "leakage_most_A": leak.maximum_A})


def _tester(case: _Case) -> Iterator[Said]:
    found = case.result.tester
    if found is None or found.verdict == GOOD:
        return
    read = [engineering(found.reading.capacitance_F, "F")] if found.reading.capacitance_F is not None else []
    read += [engineering(found.reading.esr_ohm, "ohm")] if found.reading.esr_ohm is not None else []
    worn_out = found.verdict == OUT
    yield "worn out: change it first" if worn_out else "tired", case.finding(
        "tester", Severity.CAUTION if worn_out else Severity.NOTE,
        f"{case.called} reads {' and '.join(read)}: {found.why}; it is {found.verdict}.",
        f"Change {case.part.name}{' first' if worn_out else ''}.")


def _life(case: _Case) -> Iterator[Said]:
    years = case.result.lasting.years
    wanted = case.fragment.conditions.years
    if years is None or not case.result.changed or years >= wanted:
        return
    yield f"lasts {engineering(years, 'year', 2)}", case.finding(
        "ageing", Severity.NOTE,
        f"{case.called} lasts about {engineering(years, 'year', 2)} at "
        f"{case.fragment.conditions.temperature.high:g} °C, less than the {wanted:g} years wanted.",
        "Take one of more hours, or rated for a higher temperature.")


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
                "start", Severity.CAUTION, rail,
                f"The capacitors on {rail} add up to {engineering(now, 'F')} (before: {engineering(before, 'F')}); a "
                f"supply of these volts is made to start {engineering(limit.most_F, 'F')}.",
                "Fit smaller ones, or try the supply with a limited current first.", nets=(rail,),
                figures={"now_F": now, "before_F": before, "most_F": limit.most_F}, sources=(_cited(limit.figure),)))
    return findings
