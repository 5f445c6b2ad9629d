"""The section of the judgement on supplies: every regulator of a variant in every setting."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from netcheck.checks.variant import Judged
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Kind, Part
from netcheck.parts.specs import CapacitorSpec, RegulatorSpec
from netcheck.solving.asking import Asking, asked
from netcheck.solving.solved_states import Survey
from netcheck.supply.network import working
from netcheck.supply.readings import explained
from netcheck.supply.results import Reason, Setting, Settings
from netcheck.supply.settings import all_settings
from netcheck.wording.sentence import Word

_LARGE_F = 100e-6
"""An output capacitor from which makers ask for a diode from output to input (common practice, no source)."""

_HELD_V = 0.1
"""An output that stands this much above its dead input is held up by something else."""


def section(found: Survey) -> Asking[Judged]:
    """Every setting of every regulator, what speaks against them, and what flows back through one that is off."""
    if found.missing:
        yield from asked({})
        return Judged()
    results = yield from all_settings(found.fragment, state=working(found.fragment, found.states.states))
    results = yield from explained(found.fragment, results)
    findings = [finding for name, one in results.items() for finding in findings_of(found, name, one)]
    return Judged(findings=tuple(findings), regulators={name: one.to_dict() for name, one in results.items()},
                  judges=frozenset({Kind.REGULATOR}))


def findings_of(found: Survey, name: str, result: Settings) -> Iterator[Finding]:
    part = found.fragment.parts[name]
    yield from _against(found, part, result)
    yield from _mistakes(part, result)
    yield from _faults(part, result)
    yield from _wanted(part, result)
    yield from _untried(part, result)
    yield from _back(found, part)
    yield from _diode_asked(found, part)
    for one in result.fitted:
        yield Finding("reading", Severity.CAUTION, name, case="output", words=one.names, figures=one.figures,
                      line=part.mark.line)


def _against(found: Survey, part: Part, result: Settings) -> Iterator[Finding]:
    """One finding for each severity: the setting that stands first, else the worst, and how many more there are."""
    for severity in Severity:
        bad = [one for one in result.settings if any(reason.severity is severity for reason in one.reasons)]
        if not bad:
            continue
        first = next((one for one in bad if one.as_set), bad[-1] if severity is Severity.DANGER else bad[0])
        reasons = [reason for reason in first.reasons if reason.severity is severity]
        more = {} if len(bad) == 1 else {"bad_count": len(bad), "settings_count": len(result.settings)}
        cured = [reason for reason in reasons if "cure" in reason.names]
        yield Finding("setting", severity, part.name, case="cured" if cured else _CASES.get(severity, "against"),
                      parts=(part.name, *result.links), nets=(result.output,), line=part.mark.line,
                      words={**_put(first), **_named("reasons", reasons), **_named("cured", cured)},
                      figures={**_figures(first), **_reason_figures("reasons", reasons),
                               **_reason_figures("cured", cured), **more},
                      states=_states(found, bad) if severity is Severity.DANGER else ())


def _states(found: Survey, settings: Sequence[Setting]) -> tuple[str, ...]:
    """The states with the supplies on in which the links stand in one of these settings."""
    return tuple(state.name for state in found.states.states if all(state.supplies.values())
                 and any(setting.positions.items() <= state.positions.items() for setting in settings))


_CASES: Mapping[Severity, str] = {Severity.DANGER: "harmful", Severity.UNKNOWN: "not-known"}


def _put(setting: Setting) -> dict[str, Word]:
    """How the links are put."""
    return {"put": tuple(setting.positions), "as": "" if setting.positions else "it is",
            **{f"put_{place}_position": one for place, one in enumerate(setting.positions.values())}}


def _named(under: str, reasons: Sequence[Reason]) -> dict[str, Word]:
    return {under: tuple(reason.case for reason in reasons),
            **{f"{under}_{place}_case": reason.case for place, reason in enumerate(reasons)},
            **{f"{under}_{place}_{name}": word for place, reason in enumerate(reasons)
               for name, word in reason.names.items()}}


def _reason_figures(under: str, reasons: Sequence[Reason]) -> dict[str, float]:
    return {f"{under}_{place}_{name}": value for place, reason in enumerate(reasons)
            for name, value in reason.figures.items()}


def _figures(setting: Setting) -> dict[str, float]:
    known = {"output_V": setting.output_V, "output_min_V": setting.output_min_V,
             "output_max_V": setting.output_max_V, "headroom_V": setting.headroom_V, "load_A": setting.load_A,
             "dissipation_W": setting.dissipation_W, "junction_C": setting.junction_C,
             "junction_limit_A": setting.junction_limit_A}
    return {name: value for name, value in known.items() if value is not None}


def _mistakes(part: Part, result: Settings) -> Iterator[Finding]:
    """The slip that does most harm, and whether links may be moved with the power on."""
    worst = max(result.mistakes, key=lambda one: abs(one.output_V or 0.0), default=None)
    if worst is None:
        return
    alive = any(one.what in ("forgotten", "turned round") for one in result.mistakes)
    yield Finding("link-mistake", Severity.DANGER, part.name, case="on-the-way" if alive else "slip",
                  parts=(worst.link, *worst.hurts), nets=(result.output,), line=part.mark.line,
                  words={"link": worst.link, "slip": worst.what, "hurts": worst.hurts},
                  figures={"output_V": worst.output_V} if worst.output_V is not None else {})


def _faults(part: Part, result: Settings) -> Iterator[Finding]:
    """Single failures that take a load beyond what it survives: one failure away from harm.

    Of a fixed regulator with nothing around it that is only noted: it goes for every one there is.
    """
    worst = result.failures
    if not worst:
        return
    hardest = max(worst, key=lambda fault: fault.reaches_V)
    told = {f"faults_{place}_how": fault.how for place, fault in enumerate(worst)}
    volts = {f"faults_{place}_V": fault.output_V for place, fault in enumerate(worst)
             if fault.output_V is not None}
    plain = not result.setting_parts and not result.links
    yield Finding("setting-fault", Severity.NOTE if plain else Severity.CAUTION, part.name,
                  case="regulator" if hardest.part == result.of else "resistor",
                  parts=tuple(dict.fromkeys(fault.part for fault in worst)), nets=(result.output,), line=part.mark.line,
                  words={"faults": tuple(fault.part for fault in worst), "hardest": hardest.part, **told,
                         "hurts": tuple(sorted({name for fault in worst for name in fault.hurts}))},
                  figures={**({"output_V": hardest.output_V} if hardest.output_V is not None else {}), **volts})


def _wanted(part: Part, result: Settings) -> Iterator[Finding]:
    """Wanted outputs that no setting gives."""
    known = [one.output_V for one in result.settings if one.output_V is not None]
    for volts in result.wanted:
        nearest = min(known, key=lambda one: abs(one - volts), default=None)
        if nearest is None or abs(nearest - volts) > result.within * abs(volts):
            yield Finding("setting-wanted", Severity.FAILS, part.name,
                          case="none-known" if nearest is None else "none-near", nets=(result.output,),
                          line=part.mark.line,
                          figures={"wanted_V": volts} | ({} if nearest is None else {"output_V": nearest}))


def _untried(part: Part, result: Settings) -> Iterator[Finding]:
    if result.untried:
        yield Finding("setting", Severity.UNKNOWN, part.name, case="untried", line=part.mark.line,
                      figures={"tried_count": len(result.settings), "untried_count": result.untried})


def _back(found: Survey, part: Part) -> Iterator[Finding]:
    """What flows back where something else holds the output up while the input is dead."""
    spec, source = part.spec, part.pins.get("input")
    assert isinstance(spec, RegulatorSpec)
    if source is None or spec.between == "shunt":
        return
    for state in found.states.states:
        point = found.at(state, found.corners.room)
        ends = point.volts.get(source), point.volts.get(part.pins["output"])
        if state.live or ends[0] is None or ends[1] is None or abs(ends[1]) < abs(ends[0]) + _HELD_V:
            continue
        if spec.back is None:
            yield Finding("back-current", Severity.UNKNOWN, part.name, case="not-published", state=state.name,
                          parts=(part.name,), nets=(part.pins["output"], source), line=part.mark.line,
                          words={"type": spec.name}, figures={"held_V": ends[1]})
        elif spec.back == "diode":
            yield Finding("back-current", Severity.CAUTION, part.name, case="back", state=state.name,
                          parts=(part.name,), nets=(part.pins["output"], source), line=part.mark.line,
                          figures={"back_A": abs(point.amps.get(part.name, 0.0))})
        return


def _diode_asked(found: Survey, part: Part) -> Iterator[Finding]:
    """The diode from output to input that makers ask for where a large capacitor could discharge into the regulator."""
    if "input" not in part.pins or not isinstance(part.spec, RegulatorSpec) or part.spec.between == "shunt":
        return
    nets = {part.pins["output"], part.pins.get("adjust")}
    large = [one.name for one in found.fragment.of_kind(Kind.CAPACITOR)
             if isinstance(one.spec, CapacitorSpec) and part.pins["output"] in one.nets
             and one.spec.capacitance.value >= _LARGE_F]
    bypass = [one.name for one in found.fragment.of_kind(Kind.CAPACITOR)
              if part.pins.get("adjust") in one.nets and nets.isdisjoint(set(one.nets) - {part.pins.get("adjust")})]
    guarded = any(one.pins["anode"] == part.pins["output"] and one.pins["cathode"] == part.pins["input"]
                  for one in found.fragment.of_kind(Kind.DIODE))
    if (large or bypass) and not guarded and part.spec.back != "diode":
        yield Finding("output-capacitor", Severity.NOTE, part.name, case="no-diode",
                      parts=(part.name, *large, *bypass), line=part.mark.line, words={"large": (*large, *bypass)},
                      sources=("LM317 data sheet, Texas Instruments, SNVS774O, page 10",))

