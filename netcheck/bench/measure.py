"""What a meter would show: each measurement is a circuit of its own, with the meter in it.

A prospect is the value with everything nominal and how far each tolerance,
alone, moves it. Values are kept as the meter sees them: volts, amps, for an
ohms test the conductance, its leads included (so that OL is simply none, and a
short no more than the leads let through), for a diode test the volts up to full
scale.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from enum import Enum

from msgspec import Struct, field
from msgspec.structs import replace

from netcheck.bench import meter
from netcheck.bench.meter import What
from netcheck.bench.swings import CORNERS, NOMINAL, TOGETHER, linear, swung
from netcheck.clock import in_time, used_up
from netcheck.fragment.model import Fragment
from netcheck.fragment.states import State
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Fault
from netcheck.simulation.elements import Battery, Circuit, Draw, Element, OperatingPoint, Resistance
from netcheck.simulation.frames import NOT_SOLVED
from netcheck.simulation.operating_point import solve
from netcheck.solving.solved_states import ROOM_C

_TOGETHER = "together"

METER, _LEAD = "(the meter)", "(the meter's lead)"

INSULATION_OHM = 10e9
"""From each net to ground, or to the meter's black lead: soil and laminate (common practice, no source). It
keeps nets that hang on nothing but blocked junctions defined, far beyond what an ohms range shows."""

_NOT_SETTLED = "the simulation did not settle"
"""In place of the simulator's own lines, which tell whoever stands at the bench nothing."""

Progress = Callable[[int, int], None]


class Measurement(Struct, frozen=True):
    """One use of the meter.

    at, against: the nets under the red and the black lead (`through` instead,
    for amps: the part whose first pin is lifted and the meter put in series).
    without: parts taken out for it. Tests that the meter drives itself are
    taken with the power off, whatever the state's supplies.
    """

    what: What
    state: State
    at: str | None
    against: str | None = None
    through: str | None = None
    meter_ohm: float = meter.INPUT_OHM
    without: tuple[str, ...] = ()


class Subject(Struct, frozen=True):
    """The board that is measured: a fragment as it is, or with something wrong with it.

    positions: jumpers that stand otherwise than the state says.
    """

    fragment: Fragment
    faults: tuple[Fault, ...] = ()
    extra: tuple[Element, ...] = ()
    without: tuple[str, ...] = ()
    positions: Mapping[str, str] = field(default_factory=dict)


class Depth(Enum):
    """How much of the tolerances is looked at: none, each alone, or also all of them together."""

    NOMINAL = (NOMINAL,)
    ALONE = CORNERS
    TOGETHER = (*CORNERS, *TOGETHER)


class Swing(Struct, frozen=True):
    """How one tolerance moves a value: to the sides called + and -, each 0 where it has no such side."""

    plus: float
    minus: float

    @property
    def low(self) -> float:
        return min(self.plus, self.minus, 0.0)

    @property
    def high(self) -> float:
        return max(self.plus, self.minus, 0.0)

    @property
    def slope(self) -> float:
        """For one step toward the + side; a tolerance with one side only counts in full."""
        return (self.plus - self.minus) / (2 if self.plus and self.minus else 1)


_STILL = Swing(0.0, 0.0)


class Prospect(Struct, frozen=True):
    """What a measurement will give, as the meter sees it; problem: why that is not known.

    swings: by each tolerance alone. together: by the tolerances off nominal together.
    """

    value: float = math.nan
    swings: Mapping[str, Swing] = field(default_factory=dict)
    together: Swing = _STILL
    problem: str | None = None


class Band(Struct, frozen=True):
    """Expected, lowest and highest reading [V, A or ohm; infinite: OL], the meter's own error included."""

    expected: float
    low: float
    high: float


class _Trial(Struct, frozen=True):
    """One circuit of a measurement: which tolerance is off nominal, and to which side (0: to either)."""

    axis: str
    side: int
    circuit: Circuit


_Planned = tuple[tuple[Subject, Measurement], list[_Trial]]


def prospects(
    wanted: Sequence[tuple[Subject, Measurement]],
    progress: Progress | None = None,
    depth: Depth = Depth.ALONE,
) -> list[Prospect]:
    """The prospects of measurements, in their order, all from one run of the simulator."""
    planned = _Planner(depth)
    trials = [list(planned.trials(subject, measurement))
              for subject, measurement in in_time(wanted, "Making circuits of measurements")]
    total, found = sum(map(len, trials)), list[Prospect]()
    done = 0
    for some in _portions(list(zip(wanted, trials, strict=False))):
        circuits = [trial.circuit for _, group in some for trial in group]
        points = iter(_settled(circuits, progress and _beyond(progress, done, total)))
        found += [_prospect(measurement, group, [next(points) for _ in group]) for (_, measurement), group in some]
        done += len(circuits)
    return found + [Prospect(problem=used_up())] * (len(wanted) - len(found))


_PORTION = 400_000
"""Elements of the circuits of which the points are held at a time: some 70 MB."""


def _portions(planned: Sequence[_Planned]) -> Iterator[list[_Planned]]:
    """The measurements in turn, so many at a time as make a portion of elements."""
    portion: list[_Planned] = []
    size = 0
    for one in planned:
        portion.append(one)
        size += sum(len(trial.circuit.elements) for trial in one[1])
        if size >= _PORTION:
            yield portion
            portion, size = [], 0
    if portion:
        yield portion


def _beyond(progress: Progress, before: int, total: int) -> Progress:
    """Progress of a portion as that of the whole."""
    return lambda done, _: progress(before + done, total)


def _settled(circuits: Sequence[Circuit], progress: Progress | None) -> list[OperatingPoint]:
    """The operating points; a test that the meter drives is reckoned from its red lead where its black one fails.

    A board with big loads that hangs on nothing but insulation settles from the one and not from the other.
    """
    points = list(solve(circuits, progress=progress))
    failed = [place for place, point in enumerate(points)
              if (point.problem or "").startswith(NOT_SOLVED) and _red(circuits[place]) is not None]
    others = [replace(circuits[place], ground=_red(circuits[place]) or circuits[place].ground) for place in failed]
    for place, point in zip(failed, solve(others) if others else (), strict=False):
        points[place] = point
    return points


def _red(circuit: Circuit) -> str | None:
    """The net under the red lead of a test that the meter drives."""
    test = circuit.elements[-1]
    return test.plus if isinstance(test, Battery) and test.name == METER else None


def band(what: What, prospect: Prospect) -> Band:
    """Expected value with its lowest and highest reading: every tolerance at its worst at once."""
    low = prospect.value + min(sum(swing.low for swing in prospect.swings.values()), prospect.together.low)
    high = prospect.value + max(sum(swing.high for swing in prospect.swings.values()), prospect.together.high)
    expected = reading(what, prospect.value)
    ends = sorted((reading(what, low), reading(what, high)))
    lowest, highest = (end + sign * meter.error(what, end) for sign, end in zip((-1, 1), ends, strict=True))
    if what is What.OHMS:
        highest += meter.LEADS_OHM
    if what.unpowered:
        lowest = max(lowest, 0.0)
    return Band(expected, lowest, math.inf if meter.overload(what, highest) else highest)


def seen(what: What, value: float) -> float:
    """A reading as the meter sees it: ohms as siemens (0 for OL), a diode test up to full scale."""
    if what is What.OHMS:
        return 0.0 if meter.overload(what, value) else 1 / (max(value, 0.0) + meter.LEADS_OHM)
    return min(value, meter.full_scale(what)) if what is What.DIODE else value


def reading(what: What, value: float) -> float:
    """The other way: what is shown for a value as the meter sees it."""
    if what is What.OHMS:
        ohm = math.inf if value <= 0 else max(0.0, 1 / value - meter.LEADS_OHM)
        return math.inf if meter.overload(what, ohm) else ohm
    return math.inf if meter.overload(what, value) else value


def _prospect(measurement: Measurement, trials: Sequence[_Trial], points: Sequence[OperatingPoint]) -> Prospect:
    problem = next((point.problem for point in points if not point.known), None)
    if problem is not None:
        return Prospect(problem=_NOT_SETTLED if problem.startswith(NOT_SOLVED) else problem)
    values = [_value(measurement, trial.circuit, point) for trial, point in zip(trials, points, strict=True)]
    nominal = values[0]
    swings: dict[str, Swing] = {}
    for trial, value in zip(trials[1:], values[1:], strict=True):
        swings[trial.axis] = _widened(swings.get(trial.axis, _STILL), trial.side, value - nominal)
    together = swings.pop(_TOGETHER, _STILL)
    return Prospect(nominal, swings, together)


def _widened(swing: Swing, side: int, by: float) -> Swing:
    if side == 0:
        return Swing(max(swing.plus, by), min(swing.minus, by))
    return replace(swing, plus=by) if side > 0 else replace(swing, minus=by)


def _value(measurement: Measurement, circuit: Circuit, point: OperatingPoint) -> float:
    """The measured quantity, read off the meter's own current: that is known even where a net floats."""
    amps = point.amps[METER]
    if measurement.what is What.AMPS:
        return abs(amps) if measurement.through else amps
    if measurement.what is What.VOLTS:
        return amps * measurement.meter_ohm
    test = circuit.elements[-1]
    assert isinstance(test, Battery)
    volts = test.volts - amps * test.ohm
    if measurement.what is What.DIODE:
        return min(volts, meter.full_scale(What.DIODE))
    return amps / (volts + amps * meter.LEADS_OHM) if amps > 0 else 0.0


class _Planner:
    """Makes the circuits of measurements; what a board looks like in a state is worked out once."""

    def __init__(self, depth: Depth) -> None:
        self._depth = depth
        self._boards: dict[tuple[object, ...], dict[str, tuple[Element, ...]]] = {}
        self._kept: list[Subject] = []  # so that no identity is given twice

    def trials(self, subject: Subject, measurement: Measurement) -> Iterator[_Trial]:
        """The nominal circuit first, then each tolerance by itself."""
        if not measurement.what.unpowered:
            board = self._board(subject, measurement)
            fragment = subject.fragment

            insulation = _insulation(fragment.nets, fragment.ground)

            def placed(elements: Sequence[Element], burden: float = meter.BURDEN_OHM) -> Circuit:
                inserted = _inserted(measurement, fragment, burden)
                return Circuit((*elements, *insulation, inserted), fragment.ground, ROOM_C)

            yield _Trial("", 0, placed(board["nominal"]))
            if self._depth is Depth.NOMINAL:
                return
            for axis, side, elements in swung(board, fragment):
                yield _Trial(axis, side, placed(elements))
            for corner in TOGETHER if self._depth is Depth.TOGETHER else ():
                yield _Trial(_TOGETHER, 0, placed(board[corner.name]))
            if measurement.what is What.AMPS:
                yield _Trial("burden", -1, placed(board["nominal"], meter.MOST_BURDEN_OHM))
            return
        yield from self._driven(subject, measurement)

    def _driven(self, subject: Subject, measurement: Measurement) -> Iterator[_Trial]:
        """Tests that the meter drives, on a dead board.

        The dead rails may be open, or as good as shorted by the rest of the
        board; a load may take its current or, as is usual that low, none; a
        diode's leakage is taken as the resistance that its published figure makes.
        """
        loose = self._board(subject, measurement, "open")
        ground = subject.fragment.ground

        def placed(elements: Sequence[Element], test: Battery, fed: bool = False) -> Circuit:
            kept = (one for one in elements if fed or not isinstance(one, Draw))
            # Reckoned from the black lead: a jumper on a loose net would drown in the solver's rounding otherwise.
            tested = (*(own for one in kept for own in linear(one)), *insulation[test.minus], test)
            return Circuit(tested, test.minus, ROOM_C)

        usual, *others = _tests(measurement, ground)
        insulation = {test.minus: _insulation(subject.fragment.nets, test.minus) for test in (usual, *others)}
        yield _Trial("", 0, placed(loose["nominal"], usual))
        if self._depth is Depth.NOMINAL:
            return
        tied = self._board(subject, measurement, "low")
        for elements in (loose["nominal"], tied["nominal"]):
            for test in (usual, *others):
                yield _Trial("test", 0, placed(elements, test))
                yield _Trial("test", 0, placed(elements, test, fed=True))
        for axis, side, elements in swung(loose, subject.fragment):
            if axis != "draw":
                yield _Trial(axis, side, placed(elements, usual))

    def _board(self, subject: Subject, measurement: Measurement, rails: str | None = None
               ) -> dict[str, tuple[Element, ...]]:
        """The elements of a board in a state at every corner. rails: how dead ones are taken, all of them dead."""
        key = (id(subject), measurement.state.name, measurement.without, measurement.through, rails)
        if key not in self._boards:
            self._kept.append(subject)
            self._boards[key] = _elements(subject, measurement, rails, self._depth)
        return self._boards[key]


def _elements(
    subject: Subject, measurement: Measurement, rails: str | None, depth: Depth
) -> dict[str, tuple[Element, ...]]:
    fragment = subject.fragment
    state = replace(measurement.state, positions={**measurement.state.positions, **subject.positions})
    if rails is not None:
        state = replace(state, supplies=dict.fromkeys(state.supplies, False))
        fragment = replace(fragment, rails={
            net: replace(rail, when_off=rails) for net, rail in fragment.rails.items()})
    if measurement.through is not None:
        fragment = _lifted(fragment, measurement.through)
    without = (*measurement.without, *subject.without)
    faults = tuple(fault for fault in subject.faults if fault.part not in without)
    return {corner.name: circuit_of(fragment, state, corner, faults, without, subject.extra).elements
            for corner in depth.value}


def _insulation(nets: Sequence[str], against: str) -> tuple[Resistance, ...]:
    return tuple(Resistance(f"(insulation of {net})", net, against, INSULATION_OHM)
                 for net in nets if net != against)


def _lifted(fragment: Fragment, name: str) -> Fragment:
    """The fragment with the first pin of a part on a net of its own, where the meter goes in series."""
    part = fragment.parts[name]
    first = next(iter(part.pins))
    return fragment.with_parts({**fragment.parts, name: replace(part, pins={**part.pins, first: _LEAD})})


def _inserted(measurement: Measurement, fragment: Fragment, burden_ohm: float) -> Resistance:
    """A voltmeter or ammeter as an element between its two leads."""
    if measurement.through is not None:
        part = fragment.parts[measurement.through]
        return Resistance(METER, next(iter(part.pins.values())), _LEAD, burden_ohm)
    assert measurement.at is not None
    ohm = burden_ohm if measurement.what is What.AMPS else measurement.meter_ohm
    return Resistance(METER, measurement.at, measurement.against or fragment.ground, ohm)


def _tests(measurement: Measurement, ground: str) -> tuple[Battery, ...]:
    """The meter as a source, the usual one first; then the leads the other way round, more volts, fewer amps."""
    assert measurement.at is not None
    red, black = measurement.at, measurement.against or ground
    if measurement.what is What.DIODE:
        return tuple(Battery(METER, red, black, meter.DIODE_TEST_V, meter.DIODE_TEST_V / amps)
                     for amps in (meter.DIODE_TEST_A, meter.LEAST_DIODE_TEST_A))
    return tuple(
        Battery(METER, plus, minus, volts, volts / meter.OHMS_TEST_A)
        for volts in (meter.OHMS_TEST_V, meter.MOST_OHMS_TEST_V)
        for plus, minus in ((red, black), (black, red))
    )
