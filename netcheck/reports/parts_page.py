"""What the library knows, as text: the list of entries, and one entry with its sources."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from textwrap import wrap

from netcheck.parts import diode, everyday, load
from netcheck.parts.capacitor import Family
from netcheck.parts.catalogue import KINDS, Catalogue, UnknownEntry, cautions
from netcheck.parts.entries import Known
from netcheck.parts.specs import (
    CellSpec,
    ConnectorSpec,
    DiodeSpec,
    Figure,
    LoadSpec,
    TransistorSpec,
)
from netcheck.quantities.values import Quantity, Span, engineering
from netcheck.reports import capacitor_family

WIDTH = 80
BACKUP_LOAD_A = 2e-6  # the current at which a diode's drop is shown: what a backed-up memory draws


def listing(catalogue: Catalogue, word: str | None = None) -> str:
    """Every entry, or those that all the words of `word` fit, everyday ones too; empty where none does."""
    lines: dict[str, list[str]] = {}
    for kind, spec in everyday.find(catalogue, word or ""):
        others = catalogue.aliases(kind, spec.name)
        lines.setdefault(kind, []).extend(
            _hanging(f"  {spec.name:<20}", f"{_about(spec)}{f' ({_listed(others)})' if others else ''}"))
    blocks = ["\n".join([f"{kind}s".capitalize(), *told]) for kind, told in lines.items()]
    return "\n\n".join(blocks) + "\n" if blocks else ""


def explain(catalogue: Catalogue, name: str) -> str:
    """One entry with its figures, sources and how sure they are. Raises UnknownEntry."""
    pages = []
    for kind in KINDS:
        try:
            spec = catalogue.spec(kind, name)
        except UnknownEntry as unknown:
            fault = unknown
        else:
            pages.append("\n".join(_page(kind, spec, catalogue.aliases(kind, name))))
    if not pages:
        raise fault
    return "\n\n".join(pages) + "\n"


class _Sources:
    """Numbers the sources of a page in the order in which they are named."""

    def __init__(self) -> None:
        self._numbers: dict[tuple[str, str], int] = {}

    def mark(self, figure: Figure) -> str:
        return f"[{self._numbers.setdefault((figure.source, figure.sure), len(self._numbers) + 1)}]"

    def lines(self) -> Iterator[str]:
        for (source, sure), number in self._numbers.items():
            yield from _hanging(f"  [{number}] ".ljust(7), f"{source} ({_SURE[sure]})")


_SURE = {
    "seen": "seen", "memory": "from memory", "practice": "no source", "derived": "derived",
    "given": "given in the file",
}


def _page(kind: str, spec: Known, others: Sequence[str]) -> Iterator[str]:
    sources = _Sources()
    yield f"{spec.name}: {_what(kind, spec)}"
    yield from _paragraph(_about(spec), "  ")
    if others:
        yield from _paragraph(f"Also: {_listed(others)}.", "  ")
    if isinstance(spec, DiodeSpec):
        yield from _diode(spec, sources)
    elif isinstance(spec, CellSpec):
        yield from _cell(spec, sources)
    elif isinstance(spec, LoadSpec):
        yield from _load(spec, sources)
    elif isinstance(spec, ConnectorSpec):
        yield from _connector(spec, sources)
    elif isinstance(spec, Family):
        yield from ("", *_table([*capacitor_family.rows(spec, sources.mark)]))
    else:
        yield from _figures(spec, sources)
    yield from ("", "Sources")
    yield from sources.lines()


def _diode(spec: DiodeSpec, sources: _Sources) -> Iterator[str]:
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
    if not report.leakage:
        return
    yield from ("", "Reverse")
    table = [("volts", "at", "limit", "published", "law", "")]
    table += [(
        engineering(row.point.volts_V, "V"), f"{row.point.temperature_C:g} °C", row.point.limit,
        engineering(row.point.current_A, "A"), engineering(row.law_A, "A"), sources.mark(row.point.figure),
    ) for row in report.leakage]
    yield from _table(table)
    for celsius in (25.0, 50.0):
        amounts = [diode.leakage(spec, 5.0, celsius, limit) for limit in ("typical", "maximum")]
        yield f"  At 5 V and {celsius:g} °C: " + ", ".join(
            f"{limit} {engineering(amps, 'A', 2)}"
            for limit, amps in zip(("typical", "maximum"), amounts, strict=True) if amps is not None) + "."


def _cell(spec: CellSpec, sources: _Sources) -> Iterator[str]:
    yield from _figures(spec, sources)
    yield from ("", "Curve (volts without load)")
    origins = {figure.of: sources.mark(figure) for figure in spec.figures if " at " in figure.of}
    rows = [("used", "volts", "", "resistance", "")]
    rows += [(
        f"{point.used * 100:g} %", _volts(point.volts_V), origins.get(f"open circuit at {point.used:g} used", ""),
        engineering(point.resistance_ohm, "ohm"), origins.get(f"resistance at {point.used:g} used", ""),
    ) for point in spec.curve]
    yield from _table(rows)
    if told := cautions(spec.chemistry):
        yield from ("", "Cautions")
        for text, figure in told:
            yield from _hanging("  - ", f"{text} {sources.mark(figure)}")


def _load(spec: LoadSpec, sources: _Sources) -> Iterator[str]:
    yield from _figures(spec, sources)
    yield from ("", "Supply current")
    rows = [("volts", "limit", "current", "")]
    rows += [(engineering(point.volts_V, "V"), point.limit, engineering(point.current_A, "A"),
              sources.mark(point.figure)) for point in spec.draws]
    yield from _table(rows)
    for limit in ("typical", "maximum"):
        if (drawn := load.draw(spec, limit)).limit != limit:
            yield from _paragraph(f"No {limit} figure is published; the {drawn.limit} one stands in for it.", "  ")


def _connector(spec: ConnectorSpec, sources: _Sources) -> Iterator[str]:
    yield ""
    yield from _table([("pin", "signal"), *spec.pinout])
    yield f"  {' '.join(sources.mark(figure) for figure in spec.figures)}"


_FIELDS = {
    # what a figure is of (see the library's files): the field that holds it, and its unit
    "reverse": ("reverse_V", "V"), "current": ("current_A", "A"), "zener": ("zener_V", "V"),
    "nominal": ("nominal_V", "V"), "capacity": ("capacity_Ah", "Ah"),
    "self discharge": ("self_discharge_per_year", "%"),
    "shelf": ("shelf_years", "year"), "abnormal charge": ("abnormal_charge_A", "A"), "leak share": ("leak_share", "%"),
    "charge window": ("charge_window", "V"), "capacitance": ("capacitance_F", "F"),
    "temperature": ("temperature", "°C"), "works": ("works", "V"), "gain": ("gain", ""),
    "saturation": ("saturation_A", "A"), "threshold": ("threshold_V", "V"), "on resistance": ("on_ohm", "ohm"),
    "cutoff": ("cutoff_A", "A"),
    "reference": ("reference", "V"), "output": ("output", "V"), "adjust current": ("adjust_current_A", "A"),
    "adjust current max": ("adjust_current_max_A", "A"), "dropout": ("dropout_V", "V"), "limit": ("limit_A", "A"),
    "minimum load": ("minimum_load_A", "A"),
    "input max": ("input_max_V", "V"), "junction max": ("junction_max_C", "°C"),
    "theta junction case": ("theta_junction_case", "K/W"),
    "theta junction ambient": ("theta_junction_ambient", "K/W"), "output capacitor": ("output_capacitor", ""),
    "esr": ("esr", "ohm"),
}
_LABELS = {
    "reverse": "reverse volts, most", "current": "forward current, most", "self discharge": "self-discharge a year",
    "abnormal charge": "charge in a fault, most", "leak share": "charge leaked in, most",
    "input max": "input volts, most", "junction max": "junction, most", "esr": "its series resistance",
    "theta junction case": "junction to case", "theta junction ambient": "junction to ambient",
    "adjust current max": "adjust current, most", "on resistance": "on resistance at 2 V beyond threshold",
    "limit": "output current, most",
}


def _figures(spec: Known, sources: _Sources) -> Iterator[str]:
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


def _paragraph(text: str, indent: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)


def _hanging(head: str, text: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent=head, subsequent_indent=" " * len(head)) or [head.rstrip()]


def _table(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Columns two blanks apart; the widest text that does not fit is broken under its own column."""
    columns = len(rows[0])
    widths = [max(len(row[index]) for row in rows) for index in range(columns)]
    room = WIDTH - 2 * columns
    widest = max(range(columns), key=widths.__getitem__)
    widths[widest] = min(widths[widest], max(12, room - sum(widths) + widths[widest]))
    for row in rows:
        broken = wrap(row[widest], widths[widest]) or [""]
        for number, piece in enumerate(broken):
            cells = [piece if index == widest else (cell if number == 0 else "") for index, cell in enumerate(row)]
            yield "  " + "  ".join(f"{cell:<{width}}" for cell, width in zip(cells, widths, strict=True)).rstrip()
