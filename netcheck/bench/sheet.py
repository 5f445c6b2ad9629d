"""The probe sheet as data: its lines, sections and what it leaves out."""

from __future__ import annotations

from msgspec import Struct

from netcheck.bench.measure import Measurement


class Probe(Struct, frozen=True):
    """One line of the sheet. expected, low, high [V, A or ohm; infinite: OL]; problem: why they are not known.

    step: its number on the sheet. limit: the most that may be read before a cell is fitted.
    """

    step: int
    measurement: Measurement
    what_for: str
    expected: float | None
    low: float | None
    high: float | None
    unit: str
    limit: float | None = None
    note: str = ""
    problem: str | None = None

    @property
    def state(self) -> str:
        """The state's name; tests that the meter drives are taken with the power off."""
        return "power off" if self.measurement.what.unpowered else self.measurement.state.name

    @property
    def forbidden(self) -> bool:
        """Whether the board as drawn already gives more than the cell may have."""
        return self.limit is not None and self.expected is not None and self.expected > self.limit


class Section(Struct, frozen=True):
    title: str
    how: tuple[str, ...]
    probes: tuple[Probe, ...]


class ProbeSheet(Struct, frozen=True):
    """The sheet for one variant.

    untried: states that it leaves out. stopped: why it ends at the empty holders (empty where it does not): a
    danger that the check found. left_out: what is not probed, and why, told once each. unprinted: limits of what is
    not probed; a reading that was taken all the same is held against them. celled: whether the board has a cell.
    """

    title: str
    board: str | None
    variant: str
    sections: tuple[Section, ...]
    meter_ohm: float
    untried: int
    stopped: str = ""
    left_out: tuple[str, ...] = ()
    unprinted: tuple[Probe, ...] = ()
    celled: bool = True

    @property
    def probes(self) -> tuple[Probe, ...]:
        return tuple(probe for section in self.sections for probe in section.probes)

    @property
    def powered(self) -> bool:
        """Whether any row of it is taken with the power on."""
        return any(not probe.measurement.what.unpowered for probe in self.probes)
