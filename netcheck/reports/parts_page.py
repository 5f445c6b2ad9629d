"""What the library knows, as text: the list of entries, and one entry with its sources."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from netcheck.parts import diode, everyday, load
from netcheck.parts.builders import Known
from netcheck.parts.capacitor import Family
from netcheck.parts.catalogue import KINDS, Catalogue, UnknownEntry, cautions
from netcheck.parts.census import census, resting_on
from netcheck.parts.library import SURE
from netcheck.parts.specs import (
    CellSpec,
    ChipSpec,
    ChipWay,
    ConnectorSpec,
    DiodeSpec,
    Figure,
    LoadSpec,
    TransistorSpec,
)
from netcheck.parts.zener import knee_points, passes_from_V
from netcheck.quantities.values import Quantity, Span, engineering
from netcheck.reports import capacitor_family
from netcheck.reports.folding import Folding, FoldingTable, Line, folded_at

WIDTH = 80
BACKUP_LOAD_A = 2e-6  # the current at which a diode's drop is shown: what a backed-up memory draws


def listing(catalogue: Catalogue, word: str | None = None, width: int = WIDTH) -> str:
    """Every entry, or those that all the words of `word` fit, everyday ones too; empty where none does."""
    lines: dict[str, list[Line]] = {}
    for kind, spec in everyday.find(catalogue, word or ""):
        others = catalogue.aliases(kind, spec.name)
        lines.setdefault(kind, []).extend(
            _hanging(f"  {spec.name:<20}", f"{_about(spec)}{f' ({_listed(others)})' if others else ''}"))
    blocks = ["\n".join(folded_at([f"{kind}s".capitalize(), *told], width)) for kind, told in lines.items()]
    return "\n\n".join(blocks) + "\n" if blocks else ""


def sources_text(folders: Sequence[Path] = (), width: int = WIDTH) -> str:
    """How many figures were read in their source and how many were not, by kind, and which entries rest on memory."""
    counts = census(folders)
    rows = [("figures of", *(_SURE[sure] for sure in SURE), "all")]
    rows += [(f"{kind}s", *(str(counted[sure]) for sure in SURE), str(counted.total()))
             for kind, counted in counts.items()]
    whole = sum(counts.values(), Counter[str]())
    rows.append(("all", *(str(whole[sure]) for sure in SURE), str(whole.total())))
    lines: list[Line] = ["Where the library's figures come from", "", *_table(rows), ""]
    lines += _paragraph("seen: read in the source named. From memory: recalled, the source not opened. No source: "
                        "common practice. Derived: worked out from the figures named.", "  ")
    remembered = {kind: names for kind, names in resting_on("memory", folders).items() if names}
    if remembered:
        lines += ["", "Entries with figures from memory"]
        for kind, names in remembered.items():
            lines += _hanging(f"  {kind + 's:':<14}", _listed(names))
    return "\n".join(folded_at(lines, width)) + "\n"


def explain(catalogue: Catalogue, name: str, width: int = WIDTH) -> str:
    """One entry with its figures, sources and how sure they are. Raises UnknownEntry."""
    pages = []
    for kind in KINDS:
        try:
            spec = catalogue.spec(kind, name)
        except UnknownEntry as unknown:
            fault = unknown
        else:
            pages.append("\n".join(folded_at(_page(kind, spec, catalogue.aliases(kind, name)), width)))
    if not pages:
        raise fault
    return "\n\n".join(pages) + "\n"


class _Sources:
    """Numbers the sources of a page in the order in which they are named."""

    def __init__(self) -> None:
        self._numbers: dict[tuple[str, str], int] = {}

    def mark(self, figure: Figure) -> str:
        return f"[{self._numbers.setdefault((figure.source, figure.sure), len(self._numbers) + 1)}]"

    def lines(self) -> Iterator[Line]:
        for (source, sure), number in self._numbers.items():
            yield from _hanging(f"  [{number}] ".ljust(7), f"{source} ({_SURE[sure]})")


_SURE = {
    "seen": "seen", "memory": "from memory", "practice": "no source", "derived": "derived",
    "given": "given in the file",
}


def _page(kind: str, spec: Known, others: Sequence[str]) -> Iterator[Line]:
    sources = _Sources()
    yield f"{spec.name}: {_what(kind, spec)}"
    yield from _paragraph(_about(spec), "  ")
    if others:
        yield from _paragraph(f"Also: {_listed(others)}.", "  ")
    if isinstance(spec, (DiodeSpec, TransistorSpec)) and spec.body:
        yield f"  Body: {spec.body}."
    if isinstance(spec, DiodeSpec):
        yield from _diode(spec, sources)
    elif isinstance(spec, CellSpec):
        yield from _cell(spec, sources)
    elif isinstance(spec, LoadSpec):
        yield from _load(spec, sources)
    elif isinstance(spec, ConnectorSpec):
        yield from _connector(spec, sources)
    elif isinstance(spec, ChipSpec):
        yield from _chip(spec, sources)
    elif isinstance(spec, Family):
        yield from ("", *_table([*capacitor_family.rows(spec, sources.mark)]))
    else:
        yield from _figures(spec, sources)
    yield from ("", "Sources")
    yield from sources.lines()


def _diode(spec: DiodeSpec, sources: _Sources) -> Iterator[Line]:
    yield from _figures(spec, sources)
    report = diode.fit_report(spec)
    law = report.law
    yield from ("", "Forward")
    yield from _paragraph(
        f"Law fitted by this program at {law.temperature_C:g} °C: IS {engineering(law.saturation_A, 'A')}, "
        f"N {law.emission:.3g}, RS {engineering(law.series_ohm, 'ohm')}.", "  ")
    if not report.typical_published:
        yield from _paragraph("No typical figure is published; typical points are derived.", "  ")
    rows = [("current", "at", "limit", "published", "law", "off", "")]
    rows += [(
        engineering(row.point.current_A, "A"), f"{row.point.temperature_C:g} °C", row.point.limit,
        _volts(row.point.volts_V), _volts(row.law_V), f"{row.off_V * 1e3:+.0f} mV",
        sources.mark(row.point.figure),
    ) for row in report.forward]
    yield from _table(rows)
    low, usual, high = (diode.drop(spec, BACKUP_LOAD_A, 25.0, limit)
                        for limit in ("minimum", "typical", "maximum"))
    yield from _paragraph(
        f"Below {engineering(report.extrapolated_below_A, 'A')} nothing is published and the law runs on, "
        f"±{report.band_V * 1e3:.0f} mV for each decade. At {engineering(BACKUP_LOAD_A, 'A')} and 25 °C that makes "
        f"{_volts(usual)}, between {_volts(low)} and {_volts(high)}.", "  ")
    yield from _knee(spec, sources)
    if not report.leakage:
        return
    yield from ("", "Reverse")
    table = [("volts", "at", "limit", "published", "law", "")]
    table += [(
        engineering(row.point.volts_V, "V"), f"{row.point.temperature_C:g} °C", row.point.limit,
        engineering(row.point.current_A, "A"), engineering(row.law_A, "A"), sources.mark(row.point.figure),
    ) for row in report.leakage]
    yield from _table(table)
    if guaranteed_V := diode.guaranteed_from(spec):
        yield from _paragraph(
            f"Below {engineering(guaranteed_V, 'V')} no maximum is guaranteed: the law's follows the published curve "
            "of this type.", "  ")
    shown_V = 3.0 if spec.zener_V else 5.0
    for celsius in (25.0, 50.0):
        amounts = [diode.leakage(spec, shown_V, celsius, limit) for limit in ("typical", "maximum")]
        yield f"  At {shown_V:g} V and {celsius:g} °C: " + ", ".join(
            f"{limit} {engineering(amps, 'A', 2)}"
            for limit, amps in zip(("typical", "maximum"), amounts, strict=True) if amps is not None) + "."


def _knee(spec: DiodeSpec, sources: _Sources) -> Iterator[Line]:
    """A zener's differential resistances, and what passes below its volts."""
    if not (points := knee_points(spec)):
        return
    yield from ("", "Knee (differential resistance)")
    yield from _table([("current", "limit", "published", ""), *(
        (engineering(point.current_A, "A"), point.limit, engineering(point.ohm, "ohm"), sources.mark(point.figure))
        for point in points)])
    told = []
    for amps in (10e-6, 1e-3):
        typical, most = (passes_from_V(spec, amps, which) for which in ("typical", "maximum"))
        if typical is not None and most is not None:
            told.append(f"{engineering(amps, 'A')} from {typical:.2f} V (at the low end of its tolerance {most:.2f} V)")
    yield from _paragraph(f"Law by this program: it passes {' and '.join(told)}.", "  ")


def _cell(spec: CellSpec, sources: _Sources) -> Iterator[Line]:
    yield from _figures(spec, sources)
    load_words = f"volts at {engineering(spec.backup_A, 'A')}" if spec.backup_A else "volts without load"
    yield from ("", f"Curve ({load_words})")
    origins = {figure.of: sources.mark(figure) for figure in spec.figures if " at " in figure.of}
    rows = [("used", "volts", "", "resistance", "")]
    rows += [(
        f"{point.used * 100:g} %", _volts(point.volts_V), origins.get(f"curve at {point.used:g} used", ""),
        engineering(point.resistance_ohm, "ohm"), origins.get(f"resistance at {point.used:g} used", ""),
    ) for point in spec.curve]
    yield from _table(rows)
    for curve in spec.loaded:
        yield from ("", f"Under {engineering(curve.load_A, 'A')} at {curve.temperature_C:g} °C "
                        f"{sources.mark(curve.figure)}")
        yield from _table([("used", *(f"{used * 100:.3g} %" for used, _ in curve.points)),
                           ("volts", *(f"{volts:.2f}" for _, volts in curve.points))])
    if spec.loaded and spec.backup_A:
        heats = [curve.temperature_C for curve in spec.loaded]
        yield from _paragraph(
            f"Between {engineering(spec.backup_A, 'A')} and {engineering(spec.loaded[0].load_A, 'A')} volts are "
            f"interpolated (logarithm of the load), at the heavier one also between {min(heats):g} and "
            f"{max(heats):g} °C; beyond these the nearest curve holds.", "  ")
    if told := cautions(spec.chemistry):
        yield from ("", "Cautions")
        for text, figure in told:
            yield from _hanging("  - ", f"{text} {sources.mark(figure)}")


def _load(spec: LoadSpec, sources: _Sources) -> Iterator[Line]:
    yield from _figures(spec, sources)
    yield from ("", "Supply current")
    rows = [("volts", "limit", "current", "")]
    rows += [(engineering(point.volts_V, "V"), point.limit, engineering(point.current_A, "A"),
              sources.mark(point.figure)) for point in spec.draws]
    yield from _table(rows)
    for limit in ("typical", "maximum"):
        drawn = load.draw(spec, limit)
        if drawn.limit == limit and drawn.siemens:
            yield from _paragraph(
                f"{limit.capitalize()} law by this program: a straight line, {engineering(drawn.amps, 'A')} at "
                f"{engineering(drawn.at_V, 'V')} and {engineering(abs(drawn.siemens), 'A')} "
                f"{'more' if drawn.siemens > 0 else 'less'} for each volt.", "  ")
        if drawn.limit != limit:
            yield from _paragraph(f"No {limit} figure is published; the {drawn.limit} one stands in for it.", "  ")


def _chip(spec: ChipSpec, sources: _Sources) -> Iterator[Line]:
    yield from _figures(spec, sources)
    yield from ("", "Pins as a fragment may name them")
    yield from _table([("pin", "number"), *((pin, "" if number == pin else number) for pin, number in spec.pins)])
    yield from ("", "Ways for current through it")
    if not spec.ways:
        yield from _paragraph("There is none: it is fed from one of them at a time and joins no two of them.", "  ")
        return
    yield from _table([("from", "to", "by", "through", "open", ""), *(
        (way.start, way.end, way.by, _through(way), _open(way), sources.mark(way.figure)) for way in spec.ways)])


def _through(way: ChipWay) -> str:
    diodes = "" if not way.diodes else "a diode" if way.diodes == 1 else f"{way.diodes} diodes"
    ohm = "" if way.ohm is None else engineering(way.ohm, "ohm")
    return " and ".join(filter(None, (diodes, ohm))) or "not published"


def _open(way: ChipWay) -> str:
    if way.software:
        return "once a program says so"
    return " and ".join(f"{pin} {volts.text}" for pin, volts in way.when) or "always"


def _connector(spec: ConnectorSpec, sources: _Sources) -> Iterator[Line]:
    yield ""
    yield from _table([("pin", "signal"), *spec.pinout])
    yield f"  {' '.join(sources.mark(figure) for figure in spec.figures)}"


_FIELDS = {
    # what a figure is of (see parts/tables.py): the field of the spec that holds it, and its unit
    "reverse": ("reverse_V", "V"), "current": ("current_A", "A"), "zener": ("zener_V", "V"),
    "volts": ("nominal_V", "V"), "capacity": ("capacity_Ah", "Ah"),
    "self discharge": ("self_discharge_per_year", "%"),
    "shelf": ("shelf_years", "year"), "abnormal charge": ("abnormal_charge_A", "A"), "share": ("leak_share", "%"),
    "charge": ("charge_window", "V"), "capacitance": ("capacitance_F", "F"),
    "continuous": ("continuous_A", "A"), "backup load": ("backup_A", "A"), "self leakage": ("capacitance_leak_A", "A"),
    "temperature": ("temperature", "°C"), "works": ("works", "V"),
    "runs": ("runs", "V"), "most": ("most_A", "A"), "gain": ("gain", ""),
    "IS": ("saturation_A", "A"), "threshold": ("threshold_V", "V"), "on": ("on_ohm", "ohm"),
    "cutoff": ("cutoff_A", "A"), "cutoff typical": ("cutoff_typical_A", "A"),
    "reference": ("reference", "V"), "output": ("output", "V"), "adjust current": ("adjust_current_A", "A"),
    "adjust current max": ("adjust_current_max_A", "A"), "dropout": ("dropout_V", "V"),
    "dropout typical": ("dropout_typical_V", "V"), "dropout least": ("dropout_least_V", "V"), "limit": ("limit_A", "A"),
    "minimum load": ("minimum_load_A", "A"), "minimum load typical": ("minimum_load_typical_A", "A"),
    "ground current": ("ground_current_A", "A"), "input max": ("input_max_V", "V"),
    "junction max": ("junction_max_C", "°C"), "junction case": ("theta_junction_case", "K/W"),
    "junction ambient": ("theta_junction_ambient", "K/W"), "junction board": ("theta_board", "K/W"),
    "case sink": ("theta_case_sink", "K/W"), "power max": ("power_max_W", "W"), "open output": ("open_V", "V"),
    "recognised": ("recognised", ""), "isolated": ("isolated", ""),
    "leaks": ("leak_A", "A"), "no diode": ("no_diode", ""),
    "needs no cell": ("needs_no_cell", ""),
    "back": ("back", ""), "output capacitor": ("output_capacitor", ""), "esr": ("esr", "ohm"),
}
_LABELS = {
    "reverse": "reverse volts, most", "current": "forward current, most", "volts": "nominal",
    "self discharge": "self-discharge a year", "abnormal charge": "charge in a fault, most",
    "share": "charge leaked in, most", "charge": "charge window", "continuous": "current for good, most",
    "self leakage": "what it loses by itself", "IS": "saturation current",
    "on": "on resistance at 2 V beyond threshold",
    "cutoff typical": "cutoff, typically", "input max": "input volts, most", "junction max": "junction, most",
    "esr": "its series resistance", "junction case": "junction to case", "junction ambient": "junction to ambient",
    "junction board": "junction to ambient on its board", "case sink": "case to heat sink", "power max": "heat, most",
    "adjust current max": "adjust current, most", "limit": "output current, most",
    "dropout least": "dropout with next to no load", "open output": "output with its adjust pin open",
    "back": "from output into a dead input", "leaks": "at the pin of the cell under power, most",
    "recognised": "tested", "isolated": "supply and cell kept apart",
    "no diode": "a diode between cell and pin", "needs no cell": "without a cell",
}


def _figures(spec: Known, sources: _Sources) -> Iterator[Line]:
    rows = []
    for figure in spec.figures:
        if figure.of.startswith("trickle") and isinstance(spec, CellSpec) and spec.trickle:
            rows.append((figure.of, engineering(getattr(spec.trickle, figure.of.split()[1] + "_A"), "A"), figure))
        elif figure.of in _FIELDS:
            field, unit = _FIELDS[figure.of]
            rows.append((_LABELS.get(figure.of, figure.of), _shown(getattr(spec, field), unit), figure))
    if rows:
        yield ""
        yield from _table([(label, value, sources.mark(figure)) for label, value, figure in rows])


def _shown(value: float | str | Quantity | Span, unit: str) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, (Quantity, Span)):
        return value.text
    return engineering(value, unit)


def _what(kind: str, spec: Known) -> str:
    if isinstance(spec, DiodeSpec):
        return {"led": "LED", "zener": "zener diode", "schottky": "Schottky diode"}.get(
            spec.family, f"{spec.family} diode")
    if isinstance(spec, CellSpec):
        return f"{spec.chemistry} cell" + (", must never be charged" if spec.primary else "")
    return f"{spec.polarity} transistor" if isinstance(spec, TransistorSpec) else kind


def _about(spec: Known) -> str:
    return spec.about[:1].upper() + spec.about[1:] + ("." if spec.about and not spec.about.endswith(".") else "")


def _volts(volts: float) -> str:
    return f"{volts:.3f} V"


def _listed(names: Iterable[str]) -> str:
    return ", ".join(names)


def _paragraph(text: str, indent: str) -> list[Line]:
    return [Folding(text, indent, indent)]


def _hanging(head: str, text: str) -> list[Line]:
    return [Folding(text, head, " " * len(head))]


def _table(rows: Sequence[Sequence[str]]) -> list[Line]:
    return [FoldingTable(tuple(map(tuple, rows)))]
