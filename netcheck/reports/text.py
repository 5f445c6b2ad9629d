"""The report as text for an 80-column screen: danger first, then the cure, the figures, what was assumed."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from netcheck.checks.cures import remedy_words
from netcheck.checks.life import in_years
from netcheck.checks.results import CellResult, LoadResult, Report, VariantResult
from netcheck.conduction.remedies import Remedy
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Fragment
from netcheck.fragment.written import step_lines
from netcheck.quantities.values import engineering
from netcheck.reports.changes_text import beside

WIDTH = 80

_MARKS = {
    Severity.DANGER: "DANGER ", Severity.UNKNOWN: "UNKNOWN", Severity.CAUTION: "CAUTION", Severity.NOTE: "note   ",
}

VERDICTS = {
    "danger": "do not power it like this",
    "caution": "nothing dangerous was found; read the cautions",
    "ok": "nothing dangerous was found",
    "unknown": "not everything could be worked out, so nothing is promised",
}

_SHOWN_STATES = 10
_SHOWN_NETS = 24
_COLUMNS = 5

_ROUNDED_V = 1e-4
"""Volts below this are printed as 0: no meter on a board tells them from it."""

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
    if len(report.variants) > 2:
        lines += [*beside(report, variants).splitlines(), ""]
    lines += ["What this rests on", *_bullets(assumptions(report)), ""]
    lines += ["Take care", *_bullets(CAUTIONS)]
    return "\n".join(lines).rstrip() + "\n"


def _variant(result: VariantResult, fragment: Fragment) -> list[str]:
    heading = f"{result.name}: {result.verdict.upper()} - {VERDICTS[result.verdict]}"
    lines = [heading, "-" * min(WIDTH, len(heading)), ""]
    for finding in merged(result.findings):
        lines += [*_finding(finding, fragment), ""]
    if not result.findings:
        lines += ["Nothing to report.", ""]
    for name, cell in result.cells.items():
        lines += [*_cell(name, cell, fragment), ""]
    if result.solved:
        for name, load in result.loads.items():
            lines += _load(name, load)
        lines += [*([""] if result.loads else [])]
        if result.expectations:
            lines += ["What you expect", *_wishes(result), ""]
        lines += [*_state_by_state(result), ""]
    return lines


def merged(findings: Sequence[Finding]) -> list[Finding]:
    """Findings that say the same of several parts, told once: "U1 and U2 are left with …"."""
    kept: dict[tuple[object, ...], list[Finding]] = {}
    for finding in findings:
        said = finding.message.replace(finding.subject, "…")
        kept.setdefault((finding.check, finding.severity, finding.state, said), []).append(finding)
    return [_told_once(same) for same in kept.values()]


def _told_once(same: Sequence[Finding]) -> Finding:
    first = same[0]
    if len(same) == 1:
        return first
    others = ", ".join(finding.subject for finding in same[1:])
    return replace(first, message=f"{first.message} The same holds for {others}.")


def _finding(finding: Finding, fragment: Fragment) -> Iterator[str]:
    where = f" ({fragment.file}:{finding.line})" if finding.line else ""
    yield from _wrap(f"{_MARKS[finding.severity]}  {finding.check}: {finding.message}{where}", "         ")
    if finding.advice:
        yield from _wrap(f"         What cures it: {finding.advice}", "         ")
    if finding.sources and finding.severity is not Severity.NOTE:
        yield from _wrap(f"         Source: {'; '.join(finding.sources)}", "         ")


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
        yield _figure("Parts that must fail short before it is charged", str(cell.shorts_to_charge))
    if cell.charge_A is not None:
        state = f"({cell.charge_state})" if cell.charge_state and cell.charge_A else ""
        yield from _figures("Charge current, worst", engineering(cell.charge_A, "A"), state)
    if cell.trickle_A is not None:
        yield _figure("Lasting charge current when full", engineering(cell.trickle_A, "A"))
    if cell.end_of_charge_V is not None:
        yield _figure("Volts at which charging would end", engineering(cell.end_of_charge_V, "V"))
    if cell.fault is not None:
        yield from _figures("Charge current after one failure, worst", engineering(cell.fault.amps, "A"),
                            f"({cell.fault.part} {cell.fault.how})")
    if cell.primary and not any(route.conducting for route in cell.routes):
        yield from _leakage(cell)
    if cell.life is not None and cell.life.years is None:
        yield "  Nothing draws on it"
    elif cell.life is not None and cell.life.years is not None:
        least = "" if cell.life.least_years is None else \
            f" ({in_years(cell.life.least_years)} with the makers' maximum figures)"
        yield from _wrap(f"  Lasts about {in_years(cell.life.years)}{least}, until {cell.life.ends}; most goes to "
                         f"{cell.life.dominated_by}", "    ")
    if cell.primary:
        for number, remedy in enumerate(cell.remedies):
            yield f"  {'Or' if number else 'As a mod'}: {remedy_words(remedy)}"
            yield from _steps(remedy)


def _figure(words: str, value: str) -> str:
    return f"  {words:<49}{value}"


def _figures(words: str, value: str, remark: str) -> Iterator[str]:
    line = f"{_figure(words, value)} {remark}".rstrip()
    if len(line) <= WIDTH:
        yield line
    else:
        yield _figure(words, value)
        yield from _wrap(f"    {remark}", "    ")


def _leakage(cell: CellResult) -> Iterator[str]:
    typical, most = cell.leakage_A.get("typical"), cell.leakage_A.get("maximum")
    if typical is not None and most is not None:
        yield _figure("Leakage into it, hot, typical and at most",
                      f"{engineering(typical, 'A')}, {engineering(most, 'A')}")
    share, most_share = cell.leakage_share.get("typical"), cell.leakage_share.get("maximum")
    if share is not None and most_share is not None:
        yield _figure("… of its capacity over the service years", f"{share:.2%}, {most_share:.2%}")


def _steps(remedy: Remedy) -> Iterator[str]:
    yield "    steps:"
    yield from (f"      - {line}" for step in remedy.steps for line in step_lines(step))


def _load(name: str, load: LoadResult) -> Iterator[str]:
    needs = "needs not stated" if load.needs_V is None else (
        f"needs {engineering(load.needs_V, 'V')}"
        + (f", stands {engineering(load.stands_V, 'V')}" if load.stands_V not in (None, float("inf")) else ""))
    yield f"{name}  ({needs})"
    if load.aged_V:
        aged = ", ".join(f"{age} {_volts(volts)}" for age, volts in load.aged_V.items())
        yield from _wrap(f"  On the cell: {aged}", "    ")
    if load.lowest_V is not None and load.highest_V is not None:
        margin = "" if load.margin_V is None else f"; margin {_volts(load.margin_V)}"
        yield f"  Over all tolerances: lowest {_volts(load.lowest_V)}, highest {_volts(load.highest_V)}{margin}"


def _wishes(result: VariantResult) -> Iterator[str]:
    """What the tracer expects and what was found, the met ones too."""
    for entry in result.expectations:
        mark = {True: "holds", False: "fails", None: "unknown"}[entry["holds"]]
        state = f" ({entry['state']})" if entry["state"] else ""
        yield from _wrap(f"  {mark:<8}{entry['wanted']}: {entry['words']}{state}", "          ")


def _state_by_state(result: VariantResult) -> Iterator[str]:
    """Loads, cells and nets in every state, a few states to a table."""
    states = list(result.net_volts)
    shown = states[:_SHOWN_STATES]
    yield "State by state, nominal, fresh cell (*: on the cell; a dash: it floats)"
    for number, state in enumerate(shown, 1):
        yield from _wrap(f"  ({number}) {state}", "      ")
    if len(states) > len(shown):
        yield f"  … and {len(states) - len(shown)} more states, with --format json"
    for first in range(0, len(shown), _COLUMNS):
        yield from _table(result, shown[first: first + _COLUMNS], first)


def _given(cell: CellResult, state: str) -> str:
    gives, takes = cell.drain_A.get(state), cell.takes_A.get(state)
    if gives is None or takes is None:
        return "unknown"
    return engineering(-takes if takes else gives, "A", 2)


def _table(result: VariantResult, states: Sequence[str], first: int) -> Iterator[str]:
    yield f"  {'':<24}" + "".join(f"{f'({first + n})':>10}" for n in range(1, len(states) + 1))
    for name, load in result.loads.items():
        cells = (_volts(load.volts.get(state)) + ("*" if state in load.carried_by_cell else " ") for state in states)
        yield f"  {f'{name} gets':<24.24}" + "".join(f"{cell:>10}" for cell in cells)
    for name, cell in result.cells.items():
        gives = (_given(cell, state) for state in states)
        yield f"  {f'{name} gives (- takes)':<24.24}" + "".join(f"{amps + ' ':>10}" for amps in gives)
    nets = list(result.net_volts[states[0]])
    for net in nets[:_SHOWN_NETS]:
        yield f"  {net:<24.24}" + "".join(f"{_volts(result.net_volts[state].get(net)) + ' ':>10}" for state in states)
    if len(nets) > _SHOWN_NETS:
        yield f"  … and {len(nets) - _SHOWN_NETS} more nets, with --format json"
    for number, state in enumerate(states, first + 1):
        if result.drops_V.get(state):
            lost = ", ".join(f"{part} {_volts(volts)}" for part, volts in result.drops_V[state].items())
            yield from _wrap(f"  Lost on the way in ({number}): {lost}", "    ")


def assumptions(report: Report) -> Iterator[str]:
    """What the figures rest on, a sentence each."""
    assumed = report.assumed
    low, high = assumed["temperature_C"]
    hours = assumed["powered_hours_a_day"]

    def mark(name: str) -> str:
        return "as stated" if name in assumed["stated"] else "assumed"

    yield f"Inside the case {low:g} to {high:g} °C ({mark('temperature')})."
    yield f"Powered {hours['leakage']:g} h a day for leakage, {hours['life']:g} h for life ({mark('powered')})."
    yield f"{assumed['years']:g} years of service ({mark('years')})."
    for net, how in assumed["dead_rails"].items():
        yield f"{net}, when off, {'is held near 0 V by the rest of the board' if how == 'low' else 'is left open'}."
    yield "Jumpers may stand in any of their positions, or be absent, in any state."
    yield "A primary cell is anywhere between fresh and its end point; an old cell has used 90 % of its capacity."
    for name, figures in assumed["from_memory"].items():
        yield f"{name}: from memory, to be checked against the data sheet: {', '.join(figures)}."


def _volts(volts: float | None) -> str:
    return "-" if volts is None else engineering(0.0 if abs(volts) < _ROUNDED_V else volts, "V")


def _bullets(items: Iterable[str]) -> list[str]:
    return [line for item in items for line in _wrap(f"- {item}", "  ")]


def _wrap(text: str, indent: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
