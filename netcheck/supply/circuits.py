"""The circuits of one setting of a regulator: as it is, at its worst, at its hottest, and with one part failed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from msgspec import Struct
from msgspec.structs import replace

from netcheck.fragment.kinds import ROWS
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.fragment.states import State
from netcheck.parts.load import draw
from netcheck.parts.specs import LoadSpec, ResistorSpec, TrimmerSpec
from netcheck.simulation.assemble import circuit_of, toleranced
from netcheck.simulation.corner import Corner, Fault
from netcheck.simulation.elements import Circuit, Draw, Regulation, Resistance
from netcheck.supply.network import Network

ROOM_C = 25.0
_LEAST_SHARE = 0.1  # of its usual current a load in place draws at least: common practice, no source
_UNBOUND_V = -1e3  # a dropout that no input falls short of


class Bench(Struct, frozen=True):
    """A regulator's fragment with the corners that its settings are tried at."""

    fragment: Fragment
    network: Network

    @property
    def nominal(self) -> Corner:
        span = self.fragment.conditions.temperature
        return Corner("nominal", min(max(ROOM_C, span.low), span.high))

    @property
    def high(self) -> Corner:
        """Everything that feeds at its high end, hot, the loads out."""
        return Corner("high", self.fragment.conditions.temperature.high, supply=1, drop="minimum")

    @property
    def low(self) -> Corner:
        """Everything that feeds at its low end, cold, the loads at their most."""
        return Corner("low", self.fragment.conditions.temperature.low, supply=-1, drop="maximum", draw="maximum")

    @property
    def heat(self) -> Corner:
        """The highest rail in the hottest case, the loads at their most."""
        return Corner("heat", self.fragment.conditions.temperature.high, supply=1, draw="maximum")

    @property
    def loads(self) -> tuple[str, ...]:
        return tuple(load.name for load in self.network.loads)

    def plain(self, state: State) -> Circuit:
        return circuit_of(self.fragment, state, self.nominal)

    def circuits(self, state: State) -> dict[str, Circuit]:
        """nominal; empty: the loads out; asked: what the resistors ask for, dropout and limit apart; heat."""
        plain = self.plain(state)
        regulation = next(one for one in plain.elements if one.name == self.network.regulator.name)
        assert isinstance(regulation, Regulation)
        shunt = self.network.spec.between == "shunt"
        unbound = replace(regulation, limit_A=None, idle_A=0.0, dropout_V=0.0 if shunt else _UNBOUND_V)
        hot = circuit_of(self.fragment, state, self.heat, without=self.loads if shunt else ())
        return {
            "nominal": plain,
            "empty": circuit_of(self.fragment, state, self.nominal, without=self.loads),
            "asked": swapped(plain, {regulation.name: unbound}),
            "heat": swapped(hot, {regulation.name: replace(regulation, limit_A=None)}),
        }

    def faults(self) -> Iterator[Fault]:
        """Each part that sets the output open and short, the adjust pin open and grounded, the regulator shorted."""
        for part in self.network.setting:
            yield Fault(part.name, "open")
            for one, other in _pairs(part):
                yield Fault(part.name, "short", (one, other))
            for pin in ROWS[part.kind].lifts:
                yield Fault(part.name, "open", pin=pin)
        regulator = self.network.regulator
        for pin in ("adjust", "ground"):
            if pin in regulator.pins and not (pin == "ground" and "adjust" in regulator.pins):
                yield Fault(regulator.name, "open", pin=pin)
        if "adjust" in regulator.pins:
            yield Fault(regulator.name, "short", nets=(regulator.pins["adjust"], self.fragment.ground))
        if "input" in regulator.pins:
            yield Fault(regulator.name, "short", ("input", "output"))

    def failed(self, state: State, *faults: Fault) -> Circuit:
        """With a part failed, or none to compare with: the rail high, the loads at their usual current."""
        return circuit_of(self.fragment, state, self.high, faults=faults)

    def _lightly(self) -> dict[str, Draw]:
        """The loads at the least that they draw while they are in place."""
        return {load.name: Draw(load.name, load.pins["plus"], load.pins["minus"],
                                _LEAST_SHARE * draw(load.spec, "typical").amps) for load in self.network.loads
                if isinstance(load.spec, LoadSpec)}

    def extremes(self, state: State, rises: Mapping[str, float]) -> dict[str, Circuit]:
        """The circuits of the highest and the lowest output, the highest also with the loads in place (light).

        rises: part to how the output moves as its ohms grow.
        """
        high = circuit_of(self.fragment, state, self.high, without=self.loads)
        low = circuit_of(self.fragment, state, self.low)
        light = swapped(circuit_of(self.fragment, state, self.high), self._lightly())
        return {"high": swapped(high, dict(_stretched(high, self.network.setting, rises, 1.0))),
                "light": swapped(light, dict(_stretched(light, self.network.setting, rises, 1.0))),
                "low": swapped(low, dict(_stretched(low, self.network.setting, rises, -1.0)))}


def swapped(circuit: Circuit, others: Mapping[str, Regulation | Resistance | Draw]) -> Circuit:
    """The circuit with some elements replaced, by name."""
    return replace(circuit, elements=tuple(others.get(element.name, element) for element in circuit.elements))


def _stretched(
    circuit: Circuit, parts: tuple[Part, ...], rises: Mapping[str, float], way: float
) -> Iterator[tuple[str, Resistance]]:
    """The resistances of the parts, each at the end of its tolerance that moves the output this way."""
    elements = {element.name: element for element in circuit.elements}
    for part in parts:
        assert isinstance(part.spec, (ResistorSpec, TrimmerSpec))
        whole = part.spec.resistance
        scale = toleranced(whole, way * rises.get(part.name, 0.0)) / whole.value if whole.value else 1.0
        for name in (part.name, f"{part.name}.2"):
            element = elements.get(name)
            if isinstance(element, Resistance):
                yield name, replace(element, ohm=element.ohm * scale)


def _pairs(part: Part) -> list[tuple[str, str]]:
    if part.kind is Kind.TRIMMER:
        return [("1", "wiper"), ("wiper", "2")]
    return [("1", "2")]
