"""For a load that its own cell gives too many volts: one cell of fewer, or one cell out of a row.

A zener there would end the volts and empty the cell: nothing but the cell itself feeds it, day and night.
"""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from netcheck.checks.offers import COIN
from netcheck.checks.voltage import across
from netcheck.conduction.remedies import Remedy, removal_steps
from netcheck.fragment.model import Part, Step
from netcheck.parts.catalogue import Catalogue
from netcheck.parts.cell import volts
from netcheck.parts.specs import CellSpec
from netcheck.solving.solved_states import Survey
from netcheck.wording.phrases import phrase


def overfeeding(survey: Survey, load: Part, limit_V: float) -> list[Part]:
    """The cells that give a load more than `limit_V` where no rail is on, at some corner."""
    beyond = [state for state in survey.states.states if not state.live and any(
        point.known and (across(point, load) or 0.0) > limit_V
        for point in (survey.at(state, corner) for corner in survey.corners.highest))]
    names = {name for state in beyond for name in survey.feeds[state.name, load.name].by_cells}
    return [cell for cell in survey.cells() if cell.name in names]


def of_fewer_volts(survey: Survey, cells: list[Part], limit_V: float) -> Iterator[Remedy]:
    """A cell of a row out; else the usual coin cell for a primary one of more volts."""
    row = list(bridged(survey, cells))
    yield from row
    coin = Catalogue.standard().cell(COIN)
    for cell in cells if not row else ():
        spec = cell.spec
        assert isinstance(spec, CellSpec)
        if spec.primary and volts(coin, 0.0) < min(limit_V, volts(spec, 0.0, cell.measured_V)):
            swap = Step("replace", cell.mark, parts=(replace(cell, spec=coin, measured_V=None),))
            yield Remedy((swap,), words=phrase("coin-cell", coin=COIN, cell=cell.name, parts=None),
                         extra={"replace": {cell.name: COIN}})


def bridged(survey: Survey, cells: list[Part]) -> Iterator[Remedy]:
    """Each of these cells that stands below another in a row out, and a wire in its place."""
    above = {cell.pins["minus"]: cell.name for cell in cells}
    for cell in cells:
        if above.get(cell.pins["plus"], cell.name) != cell.name:
            nets = (cell.pins["plus"], cell.pins["minus"])
            steps = (*removal_steps(survey.fragment, (cell.name,)), Step("join", cell.mark, names=nets))
            yield Remedy(steps, words=phrase("bridged", cell=cell.name),
                         extra={"remove": [cell.name], "join": list(nets)})
