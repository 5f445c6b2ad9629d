"""What a write-up needs beyond the report, worked out in one go."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from pathlib import Path

from msgspec import Struct

from netcheck.api import assumed, check, variants
from netcheck.bench.probe_sheet import probe_sheet
from netcheck.checks.results import Report, VariantResult
from netcheck.diodes.comparison import FAMILIES, NoPlace, compare, question
from netcheck.fragment.model import AS_FOUND, Fragment, Kind
from netcheck.fragment.states import State, enumerate_states, meant
from netcheck.parts.catalogue import Catalogue
from netcheck.reports.document import Material, Plot
from netcheck.reports.photos import embedded
from netcheck.simulation.process import available
from netcheck.solving.scene import Scene, reference, scene


def gather(
    fragment: Fragment, mod: str | None = None, library: Sequence[Path] = (), *, compare_diodes: bool = True
) -> Material:
    """Check the circuit as found and every mod, and draw up all that goes with the one named, or the last.

    The other mods are told beside it: what they do is what others would do who know no better. As found is written
    up by itself. library: folders of the diodes to compare beside the shipped ones. Raises KeyError where the mod
    is not in the file.
    """
    every = mod != AS_FOUND
    checked = tuple(variants(fragment, mod, every))
    report = check(fragment, mod, every)
    last = report.variants[-1]
    sheet = probe_sheet(checked[-1], dangers=last.dangers, regulators=last.regulators) if available() is None else None
    diodes, plots = _diodes(checked[-1], library) if compare_diodes else ("", ())
    return Material(report, checked, tuple(_scenes(report, checked)), embedded(fragment), sheet, diodes, plots,
                    written_mod(fragment, checked[-1].variant), reference(checked[0]))


def written_mod(fragment: Fragment, name: str) -> str:
    """A mod as the file has it, ready to be pasted; empty where there is no such mod or no file."""
    if name not in fragment.mods or not Path(fragment.file).is_file():
        return ""
    lines = Path(fragment.file).read_text(encoding="utf-8").splitlines()
    start = fragment.mods[name].mark.line - 1
    first = next((number for number in range(min(start, len(lines) - 1), -1, -1)
                  if lines[number].lstrip().startswith(f"{name}:")), None)
    if first is None:
        return ""
    depth = len(lines[first]) - len(lines[first].lstrip())
    block = [lines[first]]
    for line in lines[first + 1:]:
        if line.strip() and len(line) - len(line.lstrip()) <= depth:
            break
        block.append(line)
    return textwrap.dedent("\n".join(block)).rstrip()


def _scenes(report: Report, checked: Sequence[Fragment]) -> Iterator[Scene]:
    """As found where it charges hardest, or running; the mod in the same state, and on the cell."""
    first = _telling(report.variants[0], checked[0])
    yield scene(checked[0], first)
    last = checked[-1]
    states = {state.name: state for state in enumerate_states(last).states}
    if len(checked) > 1:
        same = _telling(report.variants[-1], last) if _charging(report.variants[-1]) else states.get(first.name)
        yield scene(last, same or _telling(report.variants[-1], last), marked=True)
    stored = next((state for state in states.values() if not state.live), None)
    if stored is not None and stored.name != first.name and any(last.of_kind(Kind.CELL)):
        yield scene(last, stored)


def _telling(result: VariantResult, fragment: Fragment) -> State:
    """The state that tells most: where a cell is charged hardest, else the first with a supply on."""
    states = {state.name: state for state in enumerate_states(fragment).states}
    charging = _charging(result)
    if charging in states:
        return states[charging]
    return next((state for state in states.values() if state.live), next(iter(states.values())))


def _charging(result: VariantResult) -> str | None:
    """The state in which a route charges a cell, the hardest first."""
    cells = [cell for cell in result.cells.values() if any(route.conducting for route in cell.routes)]
    hardest = max(cells, key=lambda cell: cell.charge_A or 0.0, default=None)
    return None if hardest is None else hardest.charge_state


def _diodes(fragment: Fragment, library: Sequence[Path]) -> tuple[str, tuple[Plot, ...]]:
    """The comparison of diodes in two sentences, and its plots; nothing where there is no place for one."""
    from netcheck.reports.diodes_text import plots

    if available() is not None:
        return "", ()
    try:
        asked = question(fragment)
    except NoPlace:
        return "", ()
    catalogue = Catalogue.standard(library)
    candidates = [spec for name in catalogue.names("diode")
                  if (spec := catalogue.diode(name)).family in FAMILIES]
    found = compare(asked, candidates, assumed(fragment))
    specs = {spec.name: spec for spec in (*candidates, *asked.specs())}
    return found.summary, tuple(Plot(_TITLES[name], svg) for name, svg in plots(asked, found, specs).items())


_TITLES = {"choice": "One dot a type; the shaded zones are forbidden", "backup": "Volts at the load over the years"}


class Drawn(Struct, frozen=True):
    """A drawing as SVG text; a notebook shows it by itself."""

    svg: str

    def _repr_svg_(self) -> str:
        return self.svg


def draw(fragment: Fragment, mod: str | None = None, state: str | None = None) -> Drawn:
    """The drawing of a variant in a state, every part in the place that all drawings of the file give it.

    mod: a mod of the file (default: as found). state: its name, or as much of it as says enough (default: the
    first). Raises UnknownMod, and ValueError for a state that is not there.
    """
    from netcheck.reports.drawing import draw as drawn
    from netcheck.reports.drawing import frame_of, picture_of
    from netcheck.reports.vocabulary import MARKS

    variant = variants(fragment, mod or AS_FOUND)[-1]
    states = enumerate_states(variant).states
    chosen = list(states[:1]) if state is None else meant(variant, states, state)
    if len(chosen) != 1:
        raise ValueError(f'no state "{state}"; there are: {", ".join(one.name for one in states[:8])}')
    places = reference(fragment)
    here = scene(variant, chosen[0])
    against = fragment if variant.variant != fragment.variant else None
    return Drawn(drawn(picture_of(variant, here.state, here.point, routes=here.routes, against=against,
                                  frame=frame_of(fragment, places.state, places.point, places.stood),
                                  verdict=MARKS[check(fragment, mod or AS_FOUND).verdict], corner=here.corner)))
