"""The section of the judgement on supplies: every regulator of a variant in every setting."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from netcheck.checks.variant import Judged
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Kind, Part
from netcheck.parts.specs import CapacitorSpec, RegulatorSpec
from netcheck.quantities.values import engineering
from netcheck.solving.asking import Asking, asked
from netcheck.solving.solved_states import Survey
from netcheck.supply.network import working
from netcheck.supply.readings import explained
from netcheck.supply.results import Failure, Mistake, Setting, Settings
from netcheck.supply.settings import all_settings

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
    for words in result.fitted:
        yield Finding("reading", Severity.CAUTION, name, words, line=part.mark.line)


def _against(found: Survey, part: Part, result: Settings) -> Iterator[Finding]:
    """One finding for each severity: the setting that stands first, else the worst, and how many more there are."""
    for severity in Severity:
        bad = [one for one in result.settings if any(reason.severity is severity for reason in one.reasons)]
        if not bad:
            continue
        first = next((one for one in bad if one.as_set), bad[-1] if severity is Severity.DANGER else bad[0])
        words = " ".join(reason.words for reason in first.reasons if reason.severity is severity)
        more = "" if len(bad) == 1 else (
            f" So it is, in its own figures, in {len(bad)} of its {len(result.settings)} settings; netcheck settings "
            "shows them all.")
        yield Finding("setting", severity, part.name, f"With {put(part, first)}: {words}{more}",
                      _cure(first, severity), None, (part.name, *result.links), (result.output,), part.mark.line,
                      figures=_figures(first), states=_states(found, bad) if severity is Severity.DANGER else ())


def _states(found: Survey, settings: Sequence[Setting]) -> tuple[str, ...]:
    """The states with the supplies on in which the links stand in one of these settings."""
    return tuple(state.name for state in found.states.states if all(state.supplies.values())
                 and any(setting.positions.items() <= state.positions.items() for setting in settings))


_ADVICE: Mapping[Severity, str] = {
    Severity.DANGER: "Keep the links out of these positions, or have other resistors chosen: netcheck choose.",
    Severity.UNKNOWN: "Give what is missing, from the regulator's data sheet.",
}


def _cure(setting: Setting, severity: Severity) -> str:
    cures = [reason.cure for reason in setting.reasons if reason.severity is severity and reason.cure]
    return " ".join(cures) or _ADVICE.get(severity, "")


def put(part: Part, setting: Setting) -> str:
    """How the links are put, in words."""
    words = [f"{name} {position}" for name, position in setting.positions.items()]
    return f"{part.name} set by {', '.join(words)}" if words else f"{part.name} as it is"


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
    live = " Never move a link with the power on: on its way it passes through such a setting." if alive else ""
    yield Finding("link-mistake", Severity.DANGER, part.name,
                  f"{_slip(worst)} the output goes to {_volts(worst.output_V)}, beyond what "
                  f"{' and '.join(worst.hurts)} survive{'s' if len(worst.hurts) == 1 else ''}.{live}",
                  "A resistor fixed across, so that open links leave the lowest setting, takes the harm out of it. "
                  "Have the values chosen: netcheck choose.", None, (worst.link, *worst.hurts), (result.output,),
                  part.mark.line, figures={"output_V": worst.output_V} if worst.output_V is not None else {})


def _slip(one: Mistake) -> str:
    return {"forgotten": f"With {one.link} forgotten", "put as well": f"With {one.link} put as well",
            "turned round": f"With {one.link} turned round"}.get(one.what, f"With {one.link} {one.what}")


def _faults(part: Part, result: Settings) -> Iterator[Finding]:
    """Single failures that take a load beyond what it survives: one failure away from harm.

    Of a fixed regulator with nothing around it that is only noted: it goes for every one there is.
    """
    worst: dict[tuple[str, str], Failure] = {}
    for setting in result.settings:
        if setting.as_set or not any(reason.severity is Severity.DANGER for reason in setting.reasons):
            for fault in setting.faults:
                if fault.hurts and abs(fault.output_V or 0.0) > abs(_output(worst.get((fault.part, fault.how)))):
                    worst[fault.part, fault.how] = fault
    if not worst:
        return
    hardest = max(worst.values(), key=lambda fault: abs(fault.output_V or 0.0))
    told = ", ".join(f"{fault.part} {fault.how} ({_volts(fault.output_V)})" for fault in worst.values())
    plain = not result.setting_parts and not result.links
    yield Finding("setting-fault", Severity.NOTE if plain else Severity.CAUTION, part.name,
                  f"One failure away from harm: with {told} the output goes beyond what "
                  f"{' and '.join(sorted({name for fault in worst.values() for name in fault.hurts}))} can stand.",
                  _lessens(result, hardest), None, tuple(dict.fromkeys(name for name, _ in worst)), (result.output,),
                  part.mark.line, figures={"output_V": hardest.output_V} if hardest.output_V is not None else {})


def _output(fault: Failure | None) -> float:
    return 0.0 if fault is None or fault.output_V is None else fault.output_V


def _lessens(result: Settings, fault: Failure) -> str:
    if fault.part == result.of:
        return ("Against a regulator that fails only a clamp at its output helps, one that blows a fuse in its input; "
                "check its volts with the socket empty before every first power-up.")
    return (f"Two resistors in parallel in the place of {fault.part}, soldered and not plugged, take most of it away "
            "when one opens.")


def _wanted(part: Part, result: Settings) -> Iterator[Finding]:
    """Wanted outputs that no setting gives."""
    known = [one.output_V for one in result.settings if one.output_V is not None]
    for volts in result.wanted:
        nearest = min(known, key=lambda one: abs(one - volts), default=None)
        if nearest is None or abs(nearest - volts) > result.within * abs(volts):
            yield Finding("setting-wanted", Severity.FAILS, part.name,
                          f"No setting of {part.name} gives the {_volts(volts)} that are wanted: "
                          + (f"the nearest is {_volts(nearest)}." if nearest is not None else "none is known."),
                          "Have resistors chosen for it: netcheck choose.", nets=(result.output,), line=part.mark.line,
                          figures={"wanted_V": volts} | ({} if nearest is None else {"output_V": nearest}))


def _untried(part: Part, result: Settings) -> Iterator[Finding]:
    if result.untried:
        yield Finding("setting", Severity.UNKNOWN, part.name,
                      f"{len(result.settings)} settings of {part.name} were tried; {result.untried} more were not, and "
                      "nothing is said of them.", line=part.mark.line)


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
            yield Finding("back-current", Severity.UNKNOWN, part.name,
                          f"In state {state.name} something holds the output of {part.name} at {_volts(ends[1])} while "
                          f"its input is dead; how much flows back through a {spec.name} is not published.",
                          "Put a diode into its output or input, or measure the current.", state.name, (part.name,),
                          (part.pins["output"], source), part.mark.line)
        elif spec.back == "diode":
            amps = abs(point.amps.get(part.name, 0.0))
            yield Finding("back-current", Severity.CAUTION, part.name,
                          f"In state {state.name} {engineering(amps, 'A')} flow back through {part.name} into its dead "
                          "input.", "Put a diode into its output or input.", state.name, (part.name,),
                          (part.pins["output"], source), part.mark.line, figures={"back_A": amps})
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
        yield Finding("output-capacitor", Severity.NOTE, part.name,
                      f"When the input is shorted or collapses, {', '.join((*large, *bypass))} discharge"
                      f"{'s' if len(large) + len(bypass) == 1 else ''} into {part.name}.",
                      "Its makers ask for a diode from output to input (cathode at the input) there.",
                      parts=(part.name, *large, *bypass), line=part.mark.line,
                      sources=("LM317 data sheet, Texas Instruments, SNVS774O, page 10",))


def _volts(volts: float | None) -> str:
    return "unknown volts" if volts is None else engineering(volts, "V")

