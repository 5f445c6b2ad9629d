"""The report as text for an 80-column screen: danger first, then the cure, the figures, what was assumed."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from netcheck.checks.curing import remedy_words
from netcheck.checks.life import in_years
from netcheck.checks.results import CellResult, LoadResult, Report, VariantResult
from netcheck.conduction.remedies import Remedy
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment
from netcheck.fragment.values import engineering
from netcheck.fragment.written import step_lines

WIDTH = 80

_MARKS = {
    Severity.DANGER: "DANGER ", Severity.UNKNOWN: "UNKNOWN", Severity.CAUTION: "CAUTION", Severity.NOTE: "note   ",
}

_VERDICTS = {
    "danger": "DANGER - do not power it like this",
    "caution": "CAUTION - nothing dangerous was found; read the cautions",
    "ok": "OK - nothing dangerous was found",
    "unknown": "UNKNOWN - not everything could be worked out, so nothing is promised",
}

_SHOWN_STATES = 12
_SHOWN_NETS = 24

CAUTIONS = (
    "Lithium primary cells can burst or burn when charged, shorted or soldered on the can.",
    "Leaked electrolyte of nickel and alkaline cells is caustic: gloves and eye cover; rinse, then dry.",
    "The figures rest on typical data and on your trace. Data sheets, local codes and licensed practice "
    "come first; prove each change on the bench with the cell out of its holder.",
)


def report_text(report: Report, variants: Sequence[Fragment]) -> str:
    """The whole report; `variants` are the fragments that were checked, in the report's order."""
    lines = [report.title, "=" * min(WIDTH, len(report.title)), ""]
    for result, fragment in zip(report.variants, variants, strict=True):
        lines += _variant(result, fragment)
    lines += _assumed(report)
    lines += ["Take care", *_bullets(CAUTIONS)]
    return "\n".join(lines).rstrip() + "\n"


def _variant(result: VariantResult, fragment: Fragment) -> list[str]:
    heading = f"{result.name}: {_VERDICTS[result.verdict]}"
    lines = [heading, "-" * min(WIDTH, len(heading)), ""]
    for finding in result.findings:
        lines += [*_finding(finding, fragment), ""]
    if not result.findings:
        lines += ["Nothing to report.", ""]
    for name, cell in result.cells.items():
        lines += [*_cell(name, cell, fragment), ""]
    if result.simulated:
        for name, load in result.loads.items():
            lines += [*_load(name, load), ""]
        lines += [*_volts(result), ""]
    return lines


def _finding(finding: Finding, fragment: Fragment) -> Iterator[str]:
    where = f" ({fragment.file}:{finding.line})" if finding.line else ""
    yield from _wrap(f"{_MARKS[finding.severity]}  {finding.check}: {finding.message}{where}", "         ")
    if finding.advice:
        yield from _wrap(f"         What cures it: {finding.advice}", "         ")
    if finding.sources and finding.severity is not Severity.NOTE:
        yield from _wrap(f"         Source: {'; '.join(finding.sources[:2])}", "         ")


def _cell(name: str, cell: CellResult, fragment: Fragment) -> Iterator[str]:
    kind = "primary, must never be charged" if cell.primary else "rechargeable"
    spec = fragment.parts[name].spec
    yield f"{name}  {getattr(spec, 'name', '')} ({kind})"
    if cell.routes:
        yield "  Ways for current into it"
        for route in cell.routes:
            how = "conducts" if route.conducting else f"only if {' and '.join(route.shorts)} failed short"
            way = " > ".join((route.source, *route.parts, name))
            yield from _wrap(f"    {way}: {how}", "      ")
    else:
        yield "  No way for current into it, even with parts failed short."
    if cell.shorts_to_charge is not None:
        yield f"  Parts that must fail short before it is charged  {cell.shorts_to_charge}"
    if cell.charge_A is not None:
        state = f" ({cell.charge_state})" if cell.charge_state else ""
        yield f"  Charge current, worst                            {engineering(cell.charge_A, 'A')}{state}"
    if cell.trickle_A is not None:
        yield f"  Lasting charge current when full                 {engineering(cell.trickle_A, 'A')}"
    if cell.end_of_charge_V is not None:
        yield f"  Volts at which charging would end                {engineering(cell.end_of_charge_V, 'V')}"
    if cell.fault is not None:
        yield (f"  Charge current after one failure, worst          {engineering(cell.fault.amps, 'A')} "
               f"({cell.fault.part} {cell.fault.how})")
    if cell.primary and not any(route.conducting for route in cell.routes):
        yield from _leakage(cell)
    for state, amps in list(cell.drain_A.items())[:_SHOWN_STATES]:
        yield f"  Gives in state {state:<34.34s}{'unknown' if amps is None else engineering(amps, 'A')}"
    if cell.life is not None:
        years = "no end in sight" if cell.life.years is None else in_years(cell.life.years)
        yield from _wrap(f"  Lasts about {years}: ends with {cell.life.ends}; most goes to "
                         f"{cell.life.dominated_by}", "    ")
    if cell.primary:
        for number, remedy in enumerate(cell.remedies):
            yield f"  {'Or' if number else 'As a mod'}: {remedy_words(remedy)}"
            yield from _steps(remedy)


def _leakage(cell: CellResult) -> Iterator[str]:
    typical, most = cell.leakage_A.get("typical"), cell.leakage_A.get("maximum")
    if typical is not None and most is not None:
        yield (f"  Leakage into it, hot                             {engineering(typical, 'A')} typical, "
               f"{engineering(most, 'A')} at most")
    share, most_share = cell.leakage_share.get("typical"), cell.leakage_share.get("maximum")
    if share is not None and most_share is not None:
        yield f"  … of its capacity over the service years         {share:.2%} typical, {most_share:.2%} at most"


def _steps(remedy: Remedy) -> Iterator[str]:
    yield "    steps:"
    yield from (f"      - {line}" for step in remedy.steps for line in step_lines(step))


def _load(name: str, load: LoadResult) -> Iterator[str]:
    needs = "needs not stated" if load.needs_V is None else (
        f"needs {engineering(load.needs_V, 'V')}"
        + (f", stands {engineering(load.stands_V, 'V')}" if load.stands_V not in (None, float("inf")) else ""))
    yield f"{name}  ({needs})"
    for state, volts in list(load.volts.items())[:_SHOWN_STATES]:
        carried = "  on the cell" if state in load.carried_by_cell else ""
        yield f"  In state {state:<40.40s}{_V(volts)}{carried}"
    if len(load.volts) > _SHOWN_STATES:
        yield f"  … and {len(load.volts) - _SHOWN_STATES} more states (all of them with --format json)"
    if load.aged_V:
        yield "  On the cell: " + ", ".join(f"{age} {_V(volts)}" for age, volts in load.aged_V.items())
    if load.lowest_V is not None and load.highest_V is not None:
        margin = "" if load.margin_V is None else f"; margin {_V(load.margin_V)}"
        yield f"  Lowest {_V(load.lowest_V)}, highest {_V(load.highest_V)}{margin}"


def _volts(result: VariantResult) -> Iterator[str]:
    states = list(result.net_volts)[:4]
    if not states:
        return
    yield "Volts against ground, nominal (a dash: it floats)"
    for number, state in enumerate(states, 1):
        yield f"  ({number}) {state}"
    yield "  " + f"{'net':<22s}" + "".join(f"{f'({n})':>12s}" for n in range(1, len(states) + 1))
    nets = list(result.net_volts[states[0]])
    for net in nets[:_SHOWN_NETS]:
        row = "".join(f"{_V(result.net_volts[state].get(net)):>12s}" for state in states)
        yield f"  {net:<22.22s}{row}"
    if len(nets) > _SHOWN_NETS or len(result.net_volts) > len(states):
        yield "  … the rest with --format json"
    for state in states:
        if result.drops_V.get(state):
            lost = ", ".join(f"{part} {_V(volts)}" for part, volts in result.drops_V[state].items())
            yield from _wrap(f"  Lost on the way in {state}: {lost}", "    ")


def _assumed(report: Report) -> list[str]:
    assumed = report.assumed
    low, high = assumed["temperature_C"]
    hours = assumed["powered_hours_a_day"]
    stated = set(assumed["stated"])

    def mark(name: str) -> str:
        return "as the file states" if name in stated else "assumed"

    rails = [f"{net} {'is held near 0 V' if how == 'low' else 'is left open'} when off"
             for net, how in assumed["dead_rails"].items()]
    return ["What this rests on", *_bullets([
        f"Inside the case {low:g} to {high:g} °C ({mark('temperature')}).",
        f"Powered {hours['leakage']:g} h a day for leakage, {hours['life']:g} h for life ({mark('powered')}).",
        f"{assumed['years']:g} years of service ({mark('years')}).",
        *([f"A rail that is off: {'; '.join(rails)}."] if rails else []),
        "Jumpers may stand in any of their positions, or be absent, in any state.",
        "A primary cell is anywhere between fresh and its end point; an old cell has used 90 % of its capacity.",
    ]), ""]


def _V(volts: float | None) -> str:
    return "-" if volts is None else engineering(volts, "V")


def _bullets(items: Iterable[str]) -> list[str]:
    return [line for item in items for line in _wrap(f"- {item}", "  ")]


def _wrap(text: str, indent: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
