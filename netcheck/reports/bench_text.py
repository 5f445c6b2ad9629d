"""The probe sheet to take to the bench, and the readings judged, as text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from netcheck.bench import meter
from netcheck.bench.diagnosis import Diagnosis, Suspect
from netcheck.bench.limits import beyond
from netcheck.bench.meter import What
from netcheck.bench.next_probe import NextProbe
from netcheck.bench.readings import JudgedReading, JudgedReadings, named, place
from netcheck.bench.sheet import Probe, ProbeSheet, Section
from netcheck.bench.swings import DEAD_RAIL_V, QUIET, UNSTATED_TOLERANCE
from netcheck.checks.results import VariantResult
from netcheck.fragment.model import Fragment
from netcheck.quantities.values import engineering
from netcheck.reports import probe_words, vocabulary
from netcheck.reports.answer import answer
from netcheck.reports.folding import Folding, Line, folded_at
from netcheck.reports.sheet import ends

WIDTH = 80
_WHERE = 31
_INDENT = " " * 5
_MOST_SUSPECTS = 5
_FAR = 100.0  # as much worse than the best as a reading ten meter errors off: not worth a line

CAUTIONS = (
    "Lithium primary cells can burst or burn when charged, shorted or soldered on the can.",
    "A good sheet says that the board does what the trace says, where it was probed. Data sheets, local codes and "
    "licensed practice come first.",
)


def unjudged_text(result: VariantResult, fragment: Fragment, width: int = WIDTH) -> str:
    """That a variant could not be judged, and why; empty where it was."""
    if result.verdict != "unknown":
        return ""
    return "\n".join(folded_at(list(_wrap(
        f"{answer(result, fragment).sentence} What the sheet expects says nothing of that.", "", "")), width))


def sheet_text(sheet: ProbeSheet, width: int = WIDTH) -> str:
    """The sheet with a blank for every reading; filled in, `bench.text_sheet` reads it."""
    title = f"Probe sheet: {sheet.title}, {vocabulary.variant(sheet.variant)}"
    lines: list[Line] = [title, "=" * min(width, len(title))]
    if sheet.board:
        lines.append(sheet.board)
    lines += [f"Variant: {sheet.variant}", ""]
    for number, section in enumerate(sheet.sections, 1):
        lines += [*_section(number, section), ""]
    if sheet.stopped:
        lines += [heading := ends(sheet), "-" * len(heading), *_wrap(sheet.stopped, "   ", "   "), ""]
    if sheet.left_out:
        lines += ["Not probed", *_bullets(sheet.left_out), ""]
    if sheet.untried:
        lines += [*_wrap(f"{sheet.untried} more ways the board can stand are not on this sheet; nothing is said "
                         "of them.", ""), ""]
    lines += ["What the bands rest on", *_bullets(_basis(sheet)), ""]
    lines += ["Take care", *_bullets(CAUTIONS)]
    return "\n".join(folded_at(lines, width)).rstrip() + "\n"


def _section(number: int, section: Section) -> Iterator[Line]:
    heading = f"{number}. {section.title}"
    yield from (heading, "-" * min(WIDTH, len(heading)))
    for sentence in section.how:
        yield from _wrap(sentence, "   ", "   ")
    yield ""
    yield f"     {'where':<{_WHERE}}{'expected':<11}{'band':<23}reading"
    for probe in section.probes:
        yield from _probe(probe)


def _probe(probe: Probe) -> Iterator[Line]:
    what = probe.measurement.what
    where = probe_words.where(probe)
    unit = {"V": "V", "A": "A", "ohm": "Ω"}[probe.unit]
    head = f"{probe.step:>3}  "
    if len(where) >= _WHERE:
        yield from _wrap(where, head)
        head, where = _INDENT, ""
    if probe.expected is None or probe.low is None or probe.high is None:
        yield f"{head}{where:<{_WHERE}}{'unknown':<34}______ {unit}"
        yield from _wrap(f"Not known: {probe.problem}.", _INDENT)
    else:
        expected, band = probe_words.reading(what, probe.expected), probe_words.band(what, probe.low, probe.high)
        yield f"{head}{where:<{_WHERE}}{expected:<11}{'' if band == expected else band:<23}______ {unit}"
    if probe.limit is not None:
        yield from _wrap(probe_words.limit(probe), _INDENT)
    if probe.note and not probe.forbidden:
        yield from _wrap(f"({probe.note})", _INDENT)


def _basis(sheet: ProbeSheet) -> Iterator[str]:
    yield (f"A meter of {engineering(sheet.meter_ohm, 'ohm')}, in the circuit of every line; at the bench, 25 °C; "
           "every tolerance at its worst at once: supplies and resistors, diode drops and leakages, loads from "
           f"{QUIET * 100:g} % of their typical current to their maximum, cells from fresh to nine tenths used, dead "
           f"rails up to {engineering(DEAD_RAIL_V, 'V')}.")
    yield (f"A resistor or a rail without a tolerance is taken as ±{UNSTATED_TOLERANCE * 100:g} %; that, the least "
           "current of a load and what is left on a dead rail are common practice, no source.")
    for figure in meter.FIGURES:
        sure = " (from memory)" if figure.sure == "memory" else ""
        yield f"{figure.of[0].upper()}{figure.of[1:]}: {figure.source}{sure}."


def readings_text(
    results: Iterable[tuple[JudgedReadings, Diagnosis | None]], sheet: ProbeSheet | None = None,
    next_: NextProbe | None = None, width: int = WIDTH,
) -> str:
    """Each reading judged, and what would explain those that disagree.

    sheet: of the variant looked at; a reading beyond one of its limits is told first. next_: the probe that tells
    most now.
    """
    results = list(results)
    lines: list[Line] = [line for result, _ in results for line in _beyond(result, sheet)]
    for result, diagnosis in results:
        wrong = len(result.disagreeing)
        unknown = sum(one.result == "unknown" for one in result.judged)
        over = [one for one, _, _ in beyond(result, sheet)]
        said = "all agree" if not wrong else f"{wrong} of {len(result.judged)} disagree"
        if unknown:
            said = f"{said if wrong else 'none disagrees'}, {unknown} cannot be judged"
        if over:
            said = f"{said}, {len(over)} {'is' if len(over) == 1 else 'are'} above what the cell may have"
        heading = f"Readings, {result.variant}: {said}"
        lines += [heading, "-" * min(WIDTH, len(heading))]
        for one in result.judged:
            lines += _judged(one, over=one in over)
        lines.append("")
        if diagnosis is not None:
            lines += [*_diagnosis(result, diagnosis), ""]
    if next_ is not None:
        lines += [*_next(next_), ""]
    return "\n".join(folded_at(lines, width)).rstrip() + "\n"


def _beyond(result: JudgedReadings, sheet: ProbeSheet | None) -> Iterator[Line]:
    """A cell that is charged, a reading above the limit at an empty holder: before anything else."""
    for name, read_V, fresh_V in result.charged:
        here, fresh = (probe_words.reading(What.VOLTS, volts) for volts in (read_V, fresh_V))
        yield from _wrap(f"POWER OFF AND TAKE {name} OUT: it stands at {here}, where a fresh one gives {fresh}. "
                         "Current is pushed into it, and a primary cell must never be charged.", "", "  ")
        yield ""
    for one, row, limit in beyond(result, sheet):
        cell = row.what_for.partition(" ")[0]
        yield from _wrap(f"DO NOT FIT {cell}: its empty holder gives {probe_words.reading(one.what, one.value)}, "
                         f"and {engineering(limit, row.unit, 2)} is the most.", "", "  ")
        yield ""


def _next(found: NextProbe) -> Iterator[Line]:
    probe = found.probe
    yield "Take this reading next: it tells most"
    yield from _wrap(f"row {probe.step}, {probe_words.where(probe)}, {probe.state}", "  ", "  ")
    told = [" or ".join(words[:2]) + (", …" if len(words) > 2 else "") for words in found.apart[:3]]
    if len(told) > 1:
        yield from _wrap(f"it tells {' from '.join(told)}", "  ", "  ")


def _judged(one: JudgedReading, over: bool) -> Iterator[Line]:
    where = _reading_place(one)
    mark = "OVER" if over else {"ok": "ok", "low": "LOW", "high": "HIGH", "unknown": "unknown"}[one.result]
    yield from _wrap(f"{mark:<8} {where}: {one.shown}; {one.words}", "  ", " " * 11)


def _reading_place(one: JudgedReading) -> str:
    reading = one.reading
    test = " diode test" if one.what is What.DIODE else ""
    state = f", {reading.state}" if reading.state and not one.what.unpowered else ""
    out = f", {' and '.join(reading.without)} out" if reading.without and not one.what.unpowered else ""
    return f"{place(reading)}{test}{state}{out}"


def _diagnosis(result: JudgedReadings, diagnosis: Diagnosis) -> Iterator[Line]:
    if not diagnosis.suspects:
        yield "No fault could be simulated under these readings."
    else:
        best = diagnosis.suspects[0]
        yield "What single fault explains them, the likeliest first"
        for number, suspect in enumerate(diagnosis.suspects[:_MOST_SUSPECTS], 1):
            if number > 1 and suspect.score > best.score + _FAR:
                break
            yield from _suspect(number, suspect, result.known)
        if best.misses:
            yield from _wrap("No single fault that was tried explains every reading: look for a second fault, a slip "
                             "in a reading, or a place where the board is not as traced.", "  ", "  ")
    if diagnosis.unsolved:
        names = "; ".join(words for words, _ in diagnosis.unsolved)
        yield from _wrap(f"Not simulated, so not ruled out: {names} ({diagnosis.unsolved[0][1]}).", "  ", "  ")
    if diagnosis.parts_untried:
        yield from _wrap(f"The board is large: faults of the parts nearest to the readings that are off were tried; "
                         f"{diagnosis.parts_untried} parts further away were not, and are not ruled out.", "  ", "  ")
    if diagnosis.bridges_untried:
        yield from _wrap(f"Solder bridges were tried between neighbouring nets first; {diagnosis.bridges_untried} "
                         "more pairs of nets were not tried.", "  ", "  ")


def _suspect(number: int, suspect: Suspect, considered: Sequence[JudgedReading]) -> Iterator[Line]:
    fitting = len(considered) - len(suspect.misses)
    yield from _wrap(f"{named(suspect)}: fits {fitting} of {len(considered)} readings", f"  {number}. ", _INDENT)
    if suspect.misses:
        left = ", ".join(_reading_place(considered[place]) for place in suspect.misses[:3])
        more = f" and {len(suspect.misses) - 3} more" if len(suspect.misses) > 3 else ""
        yield from _wrap(f"does not fit {left}{more}", _INDENT)


def _wrap(text: str, first: str, rest: str = _INDENT) -> list[Line]:
    return [Folding(text, first, rest)]


def _bullets(sentences: Iterable[str]) -> Iterator[Line]:
    for sentence in sentences:
        yield from _wrap(sentence, "  - ", "    ")
