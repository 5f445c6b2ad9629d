"""The traced fragment as data: nothing here reads a file, computes or prints.

A Fragment is complete: every part carries what is known about it (its `spec`,
from the library or from the file itself), so that whatever takes a Fragment
needs no catalogue beside it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import Enum

from msgspec import Struct, field
from msgspec.structs import replace

from netcheck.parts.catalogue import Override
from netcheck.parts.specs import Spec
from netcheck.quantities.values import Quantity, Span

AS_FOUND = "as found"


class Kind(str, Enum):
    """The kinds of part that a fragment file may name."""

    CELL = "cell"
    DIODE = "diode"
    RESISTOR = "resistor"
    TRIMMER = "trimmer"
    CAPACITOR = "capacitor"
    INDUCTOR = "inductor"
    FUSE = "fuse"
    JUMPER = "jumper"
    SWITCH = "switch"
    RELAY = "relay"
    TRANSISTOR = "transistor"
    REGULATOR = "regulator"
    LOAD = "load"
    CHIP = "chip"
    CONNECTOR = "connector"

    def __str__(self) -> str:
        return self.value


class Mark(Struct, frozen=True):
    """Where in the file something was written (both counted from 1)."""

    line: int
    column: int


class Clamp(Struct, frozen=True):
    """Protection diodes of a chip's inputs: from each net in `inputs` up to `to`."""

    to: str
    inputs: tuple[str, ...]


class ChipPath(Struct, frozen=True):
    """A way for current through a chip that its maker publishes, from one pin to another.

    by: "switch" (both ways while it is on), "diode" (one way always) or "charger" (one way, through `ohm`).
    ohm: resistance on the way, diodes: junctions in series with it, None where not said. when: supplies and
    positions under which it is on, as in a state ({"main": "off"}); when_volts: nets and the range that their
    volts must be in; both empty for a path that is always there. software: off unless a program switches it on.
    published: as the library has it of this chip, and not as the file states.
    """

    start: str
    end: str
    by: str
    mark: Mark
    ohm: float | None = None
    diodes: int | None = None
    when: Mapping[str, str] = field(default_factory=dict)
    when_volts: Mapping[str, Span] = field(default_factory=dict)
    software: bool = False
    published: bool = False


class Part(Struct, frozen=True, kw_only=True):
    """One part, its pins and what is known about it.

    pins: pin name to net, in the order of the kind. Two-pin parts without
        polarity, jumpers, switches, chips and connectors number their pins
        "1", "2", …; the rest use the words of the trade (anode, cathode; plus,
        minus; input, output, adjust, ground; collector, base, emitter; drain,
        gate, source; ends "1" and "2" and wiper; coil1, coil2, common, rest, work).
    positions: for what can be put in positions, position name to the pin pairs it joins
        (a trimmer's: "end 1", "middle", "end 2"; a relay's: "rest", "pulled").
    position: the position it is set to as found ("absent" for a missing cap).
    travel: for a trimmer, position name to the share of its track from end 1 to the wiper, 0…1.
    pulled_by: for a relay, the rail that pulls it whenever it is live, where the file names
        one; without it the nets of the coil tell (states.follows), else both positions are tried.
    plugged: True for a part that is always there, None for `plugged: maybe`.
    works, runs, survives_V: of a load, the supply range in which it works or keeps its data, the one in which it can be
        read and written, and the most it stands.
    kept: whether a load is to be kept alive with the supplies off, None where that is not said.
    selected: of a memory, whether its chip select is "held" near its supply or "floating"; None: not said.
    heatsink: "board" or "none" where that was said in words; else see heatsink_K_per_W.
    pin_roles: of a chip, pin name to its role in words (kinds.PIN_ROLES).
    paths: of a chip, the ways for current through it that are known.
    """

    name: str
    kind: Kind
    pins: Mapping[str, str]
    spec: Spec
    mark: Mark
    fitted: bool = True
    plugged: bool | None = True
    positions: Mapping[str, tuple[tuple[str, str], ...]] = field(default_factory=dict)
    position: str | None = None
    travel: Mapping[str, float] = field(default_factory=dict)
    pulled_by: str | None = None
    measured_V: float | None = None
    works: Span | None = None
    runs: Span | None = None
    survives_V: float | None = None
    kept: bool | None = None
    selected: str | None = None
    clamp: Clamp | None = None
    pin_roles: Mapping[str, str] = field(default_factory=dict)
    paths: tuple[ChipPath, ...] = ()
    heatsink_K_per_W: float | None = None
    heatsink: str | None = None
    role: str | None = None
    marked: str | None = None
    note: str | None = None
    at: str | None = None

    def net(self, pin: str) -> str:
        return self.pins[pin]

    @property
    def nets(self) -> tuple[str, ...]:
        return tuple(self.pins.values())


class Rail(Struct, frozen=True):
    """A net that a supply drives while that supply is on."""

    net: str
    volts: Quantity
    supply: str
    when_off: str  # "low": held near 0 V by the rest of the board; "open": left alone
    mark: Mark


class Conditions(Struct, frozen=True):
    """Surroundings and service; `stated` names the ones the file gave itself."""

    temperature: Span
    powered_hours_a_day: float | None
    years: float
    stated: frozenset[str] = frozenset()


class NamedState(Struct, frozen=True):
    """A name for one way the board can stand; what is not listed stands as set."""

    name: str
    supplies: Mapping[str, bool]
    positions: Mapping[str, str]
    plugged: Mapping[str, bool]
    mark: Mark


class Expectation(Struct, frozen=True):
    """One entry of `expect`: exactly one of joined, apart, volts (with `at`), amps (with `through`)."""

    mark: Mark
    joined: tuple[str, ...] = ()
    apart: tuple[str, ...] = ()
    at: str | None = None
    against: str | None = None
    volts: Span | None = None
    through: str | None = None
    amps: Span | None = None
    state: str | None = None
    when: Mapping[str, str] = field(default_factory=dict)
    because: str | None = None


class Step(Struct, frozen=True):
    """One step of a mod. `action` is remove, replace, fit, move, join or set.

    remove: `names` are parts. replace, fit: `parts` (for replace with pins
    already taken from the old part where the step gave none). move: `moves`
    maps (part, pin) to a net. join: `names` are nets. set: `settings` maps a
    jumper or switch to its position.
    """

    action: str
    mark: Mark
    names: tuple[str, ...] = ()
    parts: tuple[Part, ...] = ()
    moves: Mapping[tuple[str, str], str] = field(default_factory=dict)
    settings: Mapping[str, str] = field(default_factory=dict)
    because: str | None = None


class Mod(Struct, frozen=True):
    """A named list of steps, in bench order, applied to `after` or to the circuit as found."""

    name: str
    steps: tuple[Step, ...]
    mark: Mark
    about: str | None = None
    after: str | None = None


class Reading(Struct, frozen=True):
    """What the meter said. Exactly one of volts, amps, ohms, diode_V is given."""

    mark: Mark
    mod: str
    state: str | None
    at: str | None = None
    against: str | None = None
    through: str | None = None
    volts: float | None = None
    amps: float | None = None
    ohms: float | None = None
    diode_V: float | None = None
    meter_ohm: float = 10e6
    without: tuple[str, ...] = ()


class TesterReading(Struct, frozen=True):
    """What a component tester said of a capacitor (farads, ohms, the frequency it measured at in hertz)."""

    mark: Mark
    mod: str
    of: str
    capacitance_F: float | None = None
    esr_ohm: float | None = None
    at_Hz: float | None = None


class Wanted(Struct, frozen=True):
    """One entry of `settings`: the output volts that a regulator is wanted to have, and how near (a share)."""

    mark: Mark
    of: str
    volts: tuple[float, ...]
    within: float | None = None


class WantedVolts(Struct, frozen=True):
    """The volts that a feature needs at a net, against the ground or another net."""

    at: str
    volts: Span
    against: str | None = None


class Feature(Struct, frozen=True):
    """What a feature of the board needs: groups of nets joined, groups apart, volts at nets."""

    name: str
    mark: Mark
    joined: tuple[tuple[str, ...], ...] = ()
    apart: tuple[tuple[str, ...], ...] = ()
    volts: tuple[WantedVolts, ...] = ()
    because: str | None = None


class Photo(Struct, frozen=True):
    file: str
    caption: str
    mark: Mark


class Fragment(Struct, frozen=True, kw_only=True, eq=False):
    """A traced section: one variant of it (as found, or with mods applied).

    found: of a variant with mods applied, the circuit as found that it was made of, by which none is told apart.

    scope: "trace", or "list" for a list of parts, where a net with a single pin is no mistake.
    """

    file: str
    title: str
    parts: Mapping[str, Part]
    rails: Mapping[str, Rail]
    conditions: Conditions
    ground: str = "GND"
    board: str | None = None
    about: str | None = None
    states: tuple[NamedState, ...] = ()
    expectations: tuple[Expectation, ...] = ()
    mods: Mapping[str, Mod] = field(default_factory=dict)
    readings: tuple[Reading, ...] = ()
    tester_readings: tuple[TesterReading, ...] = ()
    settings: tuple[Wanted, ...] = ()
    features: tuple[Feature, ...] = ()
    scope: str = "trace"
    photos: tuple[Photo, ...] = ()
    declared_nets: Mapping[str, Mark] = field(default_factory=dict)
    overrides: tuple[Override, ...] = ()
    variant: str = AS_FOUND
    found: Fragment | None = None

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Fragment) and all(
            getattr(self, name) == getattr(other, name) for name in self.__struct_fields__ if name != "found")

    def of_kind(self, *kinds: Kind) -> Iterator[Part]:
        """Fitted parts of these kinds, in file order."""
        return (p for p in self.parts.values() if p.fitted and p.kind in kinds)

    @property
    def fitted(self) -> Iterator[Part]:
        return (p for p in self.parts.values() if p.fitted)

    @property
    def nets(self) -> tuple[str, ...]:
        """Every net named by a part, a rail or the ground, in order of first mention."""
        seen = dict.fromkeys([self.ground, *self.rails])
        for part in self.parts.values():
            seen.update(dict.fromkeys(part.nets))
        return tuple(seen)

    @property
    def supplies(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(rail.supply for rail in self.rails.values()))

    def with_parts(self, parts: Mapping[str, Part]) -> Fragment:
        return replace(self, parts=parts)
