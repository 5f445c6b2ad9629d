"""A circuit as the simulator sees it: named elements between named nets, plain numbers.

Everything temperature-dependent has been worked out before it gets here: the
saturation and leakage currents are those at the circuit's own temperature.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeAlias

from msgspec import Struct, field

from netcheck.parts.zener import Knee


class Resistance(Struct, frozen=True):
    name: str
    a: str
    b: str
    ohm: float


class Source(Struct, frozen=True):
    """An ideal direct voltage; its current is positive when it delivers (out of plus)."""

    name: str
    plus: str
    minus: str
    volts: float


class Battery(Struct, frozen=True):
    """Open-circuit volts behind a resistance; its current is positive when it discharges."""

    name: str
    plus: str
    minus: str
    volts: float
    ohm: float


class Draw(Struct, frozen=True):
    """A load: max(0, amps + siemens*(V - at_V)) * tanh(V/knee), so that it collapses to zero at 0 V."""

    name: str
    plus: str
    minus: str
    amps: float
    at_V: float = 3.0
    siemens: float = 0.0
    knee_V: float = 0.3


class Junction(Struct, frozen=True):
    """A diode: exponential forward law with series resistance, its own leakage, breakdown if any.

    leakage_A is the reverse current at `leakage_at_V`, growing with
    ((V + leakage_from_V)/(leakage_at_V + leakage_from_V))**leakage_power (0: the
    same at every reverse voltage). A leakage_A of 0 is a leakage that is not
    known: the saturation current is then all that flows backwards. knees: what a
    zener passes beside that. breakdown_V: a sharp breakdown, reached at 5 mA.
    """

    name: str
    anode: str
    cathode: str
    saturation_A: float
    emission: float
    series_ohm: float = 0.0
    leakage_A: float = 0.0
    leakage_at_V: float = 1.0
    leakage_power: float = 0.0
    leakage_from_V: float = 0.0
    knees: tuple[Knee, ...] = ()
    breakdown_V: float | None = None


class Bipolar(Struct, frozen=True):
    name: str
    collector: str
    base: str
    emitter: str
    npn: bool
    saturation_A: float
    gain: float


class FieldEffect(Struct, frozen=True):
    """A MOSFET with its body diode; threshold positive for both channels."""

    name: str
    drain: str
    gate: str
    source: str
    n_channel: bool
    threshold_V: float
    on_ohm: float


class Regulation(Struct, frozen=True):
    """A linear regulator: output = min(input - dropout, what its reference asks for), as far as its limit carries.

    between: where the reference sits: "output-adjust"; "adjust-ground"; "fixed" (output to ground); "shunt", which
    takes current from its input (the cathode) to its output (the anode) as soon as the adjust pin stands above the
    reference. adjust_A flows out of the adjust pin of the first kind and into that of the others, so that a pin
    left open drives the output up; ground_A flows out of the ground pin. idle_A is what it passes on whatever its
    reference says: a lighter load lets the output rise. limit_A: the most it passes (None: no limit). back: what
    the output is held up with flows back into a dead input, as through a diode. negative: for volts below ground,
    all volts above being counted downwards. open_V: the output with the adjust pin open, where a divider inside
    makes it.
    """

    name: str
    input: str
    output: str
    adjust: str | None
    ground: str | None
    reference_V: float
    between: str
    dropout_V: float
    adjust_A: float = 0.0
    limit_A: float | None = None
    idle_A: float = 0.0
    ground_A: float = 0.0
    back: bool = False
    negative: bool = False
    open_V: float | None = None


class Capacitance(Struct, frozen=True):
    """Open to direct current; for impedance runs only."""

    name: str
    a: str
    b: str
    farad: float
    esr_ohm: float = 0.0
    esl_H: float = 0.0


Element: TypeAlias = (
    Resistance | Source | Battery | Draw | Junction | Bipolar | FieldEffect | Regulation | Capacitance
)


class Circuit(Struct, frozen=True):
    """Elements, the net that is 0 V, and the temperature of all of it in °C."""

    elements: tuple[Element, ...]
    ground: str
    temperature_C: float = 25.0


class Lacking(str):
    """Why a circuit was not solved: a figure of one of its elements is not known, or is none."""

    element: str

    def __new__(cls, text: str, element: str = "") -> Lacking:
        made = super().__new__(cls, text)
        made.element = element
        return made


def reworded(text: str, reason: str) -> str:
    """A reason in other words, of the same cause."""
    return Lacking(text, reason.element) if isinstance(reason, Lacking) else text


class OperatingPoint(Struct, frozen=True):
    """What the simulator found for one circuit.

    volts: net to volts against ground; None for a net with no direct-current
    path to ground (it floats). amps: element name to the current through it,
    positive from its first net to its second inside the element (anode to
    cathode, plus to minus of a load, a to b, collector to emitter, drain to
    source, input to output); for Source and Battery positive when they
    deliver. base_amps-like detail is not kept. problem: None, or why there is
    no result (both mappings are then empty). helped: it was solved only to
    0.1 %, ngspice's own default, and not to 1 ppm.
    """

    volts: Mapping[str, float | None] = field(default_factory=dict)
    amps: Mapping[str, float] = field(default_factory=dict)
    problem: str | None = None
    helped: bool = False

    @property
    def known(self) -> bool:
        return self.problem is None
