"""Cells: how current gets into each, by how much, how long it lasts, and the cures as mods."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.checks.results import CellResult, VariantResult
from netcheck.fragment.model import Fragment
from netcheck.quantities import digits
from netcheck.reports import cures_text, vocabulary
from netcheck.reports.blocks import Block, Bullets, Heading, Pairs, Pasted, Section, Words
from netcheck.wording.lists import listed


def blocks(result: VariantResult, fragment: Fragment) -> Iterator[Block]:
    for name, cell in result.cells.items():
        yield from _cell(name, cell, fragment)
    whole = next((cell.proposal for cell in result.cells.values() if cell.proposal), None)
    if whole is not None:
        yield Heading("All of it as one mod")
        leads = vocabulary.leads_to(whole, result.verdict)
        yield Pasted(f"{vocabulary.sentence(listed(list(whole.words)))} {leads}", whole.mod)


def _cell(name: str, cell: CellResult, fragment: Fragment) -> Iterator[Block]:
    kind = f"primary: {vocabulary.NEVER_CHARGED}" if cell.primary else "rechargeable"
    yield Heading(f"{name}, {getattr(fragment.parts[name].spec, 'name', '')} ({kind})")
    if cell.routes:
        ways = []
        for route in cell.routes:
            how = "conducts" if route.conducting else f"only if {' and '.join(route.shorts)} failed short"
            ways.append(f"{' > '.join((route.source, *route.parts, name))}: {how}")
        yield Words("Ways for current into it:")
        yield Bullets(tuple(ways))
    else:
        yield Words("No way for current into it, even with parts failed short.")
    if rows := tuple(_figures(cell)):
        yield Pairs(rows)
    if cell.primary:
        yield from (cures_text.pasted(remedy, fragment) for remedy in cell.remedies)


def _figures(cell: CellResult) -> Iterator[tuple[str, str]]:
    if cell.shorts_to_charge is not None:
        yield "Parts that must fail short before it is charged", str(cell.shorts_to_charge)
    if cell.charge_A is not None:
        state = f" ({cell.charge_state})" if cell.charge_state and cell.charge_A else ""
        yield "Charge current, worst", f"{digits.amps(cell.charge_A)}{state}"
    if cell.trickle_A is not None:
        yield "Lasting charge current when full", digits.amps(cell.trickle_A)
    if cell.end_of_charge_V is not None:
        yield "Volts at which charging would end", digits.volts(cell.end_of_charge_V)
    if cell.fault is not None:
        yield "Charge current after one failure, worst", \
            f"{digits.amps(cell.fault.amps)} ({cell.fault.part} {cell.fault.how})"
    if cell.primary and not any(route.conducting for route in cell.routes):
        yield from _leakage(cell)
    if cell.life is not None and cell.life.years is None:
        yield "Lasts", "nothing draws on it"
    elif cell.life is not None:
        yield "Lasts", digits.durations(cell.life.lasts_least, cell.life.lasts)
        yield "Until", cell.life.ends if cell.life.lasts == cell.life.years else "its shelf life is over"
        yield "Most goes to", cell.life.dominated_by


def _leakage(cell: CellResult) -> Iterator[tuple[str, str]]:
    typical, most = cell.leakage_A.get("typical"), cell.leakage_A.get("maximum")
    if typical is not None and most is not None:
        yield "Leakage into it, hot", f"{digits.amps(typical, 2)}, {digits.amps(most, 2)} at most"
    share, most_share = cell.leakage_share.get("typical"), cell.leakage_share.get("maximum")
    if share is not None and most_share is not None:
        yield "… of its capacity over the service years", f"{digits.share(share)}, {digits.share(most_share)} at most"


SECTION = Section("cells", "Cells", blocks)
