"""What is known about a component, as data. Every figure can name its source.

A spec comes from an entry of the library or from the fragment file itself
(`source` then says "given in the file"). Units are SI base units except
temperatures, which are degrees Celsius; the suffix of a name tells the unit.
"""

from __future__ import annotations

from msgspec import Struct, field

from netcheck.quantities.values import Quantity, Span


class Figure(Struct, frozen=True):
    """Where a figure comes from.

    sure: "seen" (read in the source named), "memory" (from memory), "practice"
    (common practice, no source), "given" (in the fragment file), "derived".
    of: what the figure is of ("capacity", "dropout"), empty where it says so itself.
    """

    source: str
    sure: str
    of: str = ""


class ForwardPoint(Struct, frozen=True):
    """A published point of a diode's forward curve; limit is typical, maximum, minimum or elsewhere.

    elsewhere: typical of another maker's part of the same type. The fit leaves it out and the band takes it in.
    """

    current_A: float
    volts_V: float
    limit: str
    temperature_C: float
    figure: Figure


class LeakagePoint(Struct, frozen=True):
    """A published reverse current at a reverse voltage.

    limit: typical or maximum; scatter for a curve that limits the scatter without being a
    guarantee; elsewhere for the typical current of another maker's part of the same type.
    """

    volts_V: float
    current_A: float
    limit: str
    temperature_C: float
    figure: Figure


class KneePoint(Struct, frozen=True):
    """The differential resistance of a zener at a current; that at the highest current is at its zener volts."""

    current_A: float
    ohm: float
    limit: str
    figure: Figure


class DiodeParameters(Struct, frozen=True):
    """SPICE D-model parameters as somebody gave them (A, 1, ohm, eV, 1, V)."""

    saturation_A: float
    emission: float
    series_ohm: float = 0.0
    gap_eV: float | None = None
    temperature_exponent: float | None = None
    breakdown_V: float | None = None


class DiodeSpec(Struct, frozen=True):
    """family: silicon, low-leakage, schottky, germanium, zener or led.

    knee: differential resistances of a zener; a zener without them has those of its class.
    body: what it looks like, one of families.BODIES; None where nothing is said.
    """

    name: str
    family: str
    forward: tuple[ForwardPoint, ...] = ()
    leakage: tuple[LeakagePoint, ...] = ()
    parameters: DiodeParameters | None = None
    zener_V: Quantity | None = None
    knee: tuple[KneePoint, ...] = ()
    body: str | None = None
    reverse_V: float | None = None
    current_A: float | None = None
    about: str = ""
    figures: tuple[Figure, ...] = ()

    def __hash__(self) -> int:
        # Fits are looked up by their spec thousands of times in a check: its name is hash enough.
        return hash((self.name, self.family))


class CellPoint(Struct, frozen=True):
    """One point of a discharge curve: share of capacity used (0…1), open-circuit volts, resistance."""

    used: float
    volts_V: float
    resistance_ohm: float


class LoadedCurve(Struct, frozen=True):
    """Volts at the terminals against the share used (0…1), under a steady load [A] at a temperature [°C]."""

    load_A: float
    temperature_C: float
    points: tuple[tuple[float, float], ...]
    figure: Figure


class TrickleWindow(Struct, frozen=True):
    """Continuous charge current that a rechargeable stands: least useful, usual most, harmful."""

    least_A: float
    most_A: float
    harmful_A: float


class CellSpec(Struct, frozen=True):
    """A cell or pack as a whole (volts and ohms of the pack, not of one cell).

    chemistry: lithium-primary, lithium-thionyl, lithium-carbon-fluoride,
    alkaline, nickel-cadmium, nickel-metal-hydride, lithium-manganese-rechargeable,
    lithium-ion, supercapacitor.
    abnormal_charge_A: permitted charging current under a single fault, None where not known.
    curve: volts at a backup load, backup_A (next to open circuit), at room temperature; loaded: the published
    curves at heavier loads and other temperatures.
    continuous_A: the most that it may give for good, None where not known.
    capacitance_leak_A: what a charged supercapacitor loses by itself [A].
    leak_share: share of the capacity that leakage may put in over the service life.
    charge_window: for lithium rechargeables and supercapacitors, the end volts.
    capacitance_F: for supercapacitors; capacity_Ah is then 0.
    """

    name: str
    chemistry: str
    primary: bool
    nominal_V: float
    capacity_Ah: float
    curve: tuple[CellPoint, ...]
    self_discharge_per_year: float = 0.0
    shelf_years: float | None = None
    abnormal_charge_A: float | None = None
    continuous_A: float | None = None
    leak_share: float | None = None
    trickle: TrickleWindow | None = None
    charge_window: Span | None = None
    capacitance_F: float | None = None
    temperature: Span | None = None
    lithium: bool = False
    about: str = ""
    figures: tuple[Figure, ...] = ()
    backup_A: float = 0.0
    loaded: tuple[LoadedCurve, ...] = ()
    capacitance_leak_A: float | None = None


class DrawPoint(Struct, frozen=True):
    """Supply current that a load takes at a voltage; limit is typical or maximum."""

    volts_V: float
    current_A: float
    limit: str
    figure: Figure


class LoadSpec(Struct, frozen=True):
    """A supply pin's appetite.

    works: the range in which it works, or keeps time or data. runs: the range in which it can be read and written,
    None where that is not said. most_A: the most that it ever draws, None where
    not said; draws then has it as its maximum as well. needs_no_cell: why it keeps its contents without a cell of
    the board ("has its own lithium cell"), empty where it does not.
    """

    name: str
    draws: tuple[DrawPoint, ...]
    works: Span | None = None
    most_A: float | None = None
    about: str = ""
    figures: tuple[Figure, ...] = ()
    needs_no_cell: str = ""
    runs: Span | None = None


class ResistorSpec(Struct, frozen=True):
    resistance: Quantity
    power_W: float | None = None


class TrimmerSpec(Struct, frozen=True):
    """A trimmer or potentiometer: the resistance from end to end."""

    resistance: Quantity
    power_W: float | None = None


class RelaySpec(Struct, frozen=True):
    """A relay: its coil, the volts at which that pulls for certain (None: not known), and its contacts."""

    coil: Quantity
    pulls_V: float | None = None
    name: str = ""
    contact_ohm: float = 0.01


class CapacitorSpec(Struct, frozen=True):
    capacitance: Quantity
    type: str = "unknown"
    rated_V: float | None = None
    esr_ohm: float | None = None
    esl_H: float | None = None
    size: str | None = None
    life_h: float | None = None
    life_at_C: float | None = None
    ripple_A: float | None = None
    name: str = ""
    figures: tuple[Figure, ...] = ()


class InductorSpec(Struct, frozen=True):
    """inductance is None for a bead of unknown value; resistance_ohm is its direct-current resistance."""

    inductance: Quantity | None
    resistance_ohm: float = 0.1


class FuseSpec(Struct, frozen=True):
    rating_A: float | None
    resistance_ohm: float = 0.05


class LinkSpec(Struct, frozen=True):
    """A jumper or a switch: nothing but its positions, which the part holds."""

    resistance_ohm: float = 0.01


class TransistorSpec(Struct, frozen=True):
    """polarity: npn, pnp, n-channel or p-channel.

    gain: current gain of a bipolar one. threshold_V (positive for both
    channels) and on_ohm (at 2 V of overdrive) of a MOSFET, saturation_A of a
    bipolar one's junctions; cutoff_A: the most that passes when it is off, at
    25 °C, cutoff_typical_A: what passes typically. None where not known. body: one of families.BODIES.
    """

    name: str
    polarity: str
    gain: float | None = None
    saturation_A: float = 1e-14
    threshold_V: float | None = None
    on_ohm: float | None = None
    cutoff_A: float | None = None
    about: str = ""
    figures: tuple[Figure, ...] = ()
    cutoff_typical_A: float | None = None
    body: str | None = None

    @property
    def bipolar(self) -> bool:
        return self.polarity in ("npn", "pnp")


class RegulatorSpec(Struct, frozen=True):
    """between: "output-adjust", "adjust-ground" or "shunt" for adjustable ones; `output` for fixed ones.

    A shunt reference has its cathode as output and its anode as ground. A negative regulator has a negative
    `output`, or says so in `polarity`; its other figures are magnitudes. adjust_current: out of the pin with the
    reference between output and adjust, into it otherwise. dropout_V: the most at full load; _typical there, and
    _least with next to no load (None: not known). limit_A: what every specimen gives. minimum_load_A: what every
    specimen needs, _typical what most do. ground_current_A: out of the ground pin at full load. open_V: the output
    while the adjust pin is open, where a divider inside makes it. power_max_W: the most whatever the cooling.
    back: how current flows from an output that is held up into a dead input: "diode", "blocked", or None where
    nothing is published. Thermal resistances in K/W; theta_case_sink: of the compound between case and heat sink.
    """

    name: str
    reference: Quantity | None = None
    between: str | None = None
    output: Quantity | None = None
    adjust_current_A: float = 0.0
    adjust_current_max_A: float = 0.0
    dropout_V: float = 0.0
    limit_A: float | None = None
    minimum_load_A: float | None = None
    input_max_V: float | None = None
    junction_max_C: float | None = None
    theta_junction_case: float | None = None
    theta_junction_ambient: float | None = None
    output_capacitor: str = ""
    esr: Span | None = None
    about: str = ""
    figures: tuple[Figure, ...] = ()
    dropout_typical_V: float | None = None
    dropout_least_V: float | None = None
    minimum_load_typical_A: float | None = None
    ground_current_A: float = 0.0
    open_V: float | None = None
    power_max_W: float | None = None
    back: str | None = None
    theta_case_sink: float | None = None
    theta_board: float | None = None
    polarity: str = "positive"

    @property
    def negative(self) -> bool:
        return self.polarity == "negative" or (self.output is not None and self.output.value < 0)

    @property
    def held(self) -> Quantity | None:
        """What it holds: its reference, or the output of a fixed one."""
        return self.output or self.reference


class ChipWay(Struct, frozen=True):
    """A way for current through a chip of the library, from one of its pins to another; by, ohm and diodes as in a
    fragment. when: pin to the range its volts must be in for the way to be open. software: off as the chip powers up,
    on only where a program switches it on.
    """

    start: str
    end: str
    by: str
    ohm: float | None
    diodes: int | None
    when: tuple[tuple[str, Span], ...]
    software: bool
    figure: Figure


class ChipSpec(Struct, frozen=True):
    """Any other chip. Of one that the library does not hold only its name and the kind of its clamps is known.

    pins: name to number (the name again where no number is known) of those that matter here. cell: the pin that a cell
    hangs on. isolated: "yes" where it is published that no way joins them. recognised: who has tested that no failure
    inside charges the cell, empty where nobody has. leak_A: the most that flows at that pin under power, either way.
    no_diode: what its maker says of a diode between cell and pin.
    """

    name: str
    pins: tuple[tuple[str, str], ...] = ()
    cell: str = ""
    ways: tuple[ChipWay, ...] = ()
    isolated: str = ""
    recognised: str = ""
    leak_A: float | None = None
    no_diode: str = ""
    about: str = ""
    figures: tuple[Figure, ...] = ()


class ConnectorSpec(Struct, frozen=True):
    """pinout: pin number to the signal that the published pinout puts there."""

    name: str
    pinout: tuple[tuple[str, str], ...] = ()
    about: str = ""
    figures: tuple[Figure, ...] = field(default=())


Spec = (
    DiodeSpec | CellSpec | LoadSpec | ResistorSpec | TrimmerSpec | CapacitorSpec | InductorSpec | FuseSpec
    | LinkSpec | RelaySpec | TransistorSpec | RegulatorSpec | ChipSpec | ConnectorSpec
)
