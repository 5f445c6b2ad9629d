"""A circuit as ngspice reads it. No text of the user's reaches the simulator: every name is made here.

Nets become n1, n2, … (ground 0), the element at place i becomes r1, d1, v1, …
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache

from msgspec import Struct

from netcheck.simulation import models
from netcheck.simulation.elements import (
    Battery,
    Bipolar,
    Capacitance,
    Circuit,
    Draw,
    Element,
    FieldEffect,
    Junction,
    Regulation,
    Resistance,
    Source,
)
from netcheck.simulation.topology import Topology, survey

# Stated in every deck, so that nothing a user has set up for himself changes a result. The tolerances are
# those that solve nanoampere circuits; temp = tnom, as the currents given are those at the temperature. With
# ngspice's own pivrel of 0.001, siemens beside femtosiemens cost the volts their last digits, and no end is found.
OPTIONS = (
    ".options temp={0!r} tnom={0!r} reltol={1} abstol={2} vntol=1e-9 gmin=1e-15 pivtol=1e-20 pivrel=0.1 itl1=300"
)
RELATIVE = "1e-6"
RESOLVED_A, ROUNDED_A = "1e-15", "1e-12"  # the wider one where rounding keeps a circuit from settling to the other
HELPED = "1e-3"  # ngspice's own default: a net between two blocking diodes, held by next to nothing, needs it at times
TIE_OHM = 1e12  # from one net of a floating island to ground; no current can flow in it
# A zener's volts are published at 5 mA for most values (from memory).
BREAKDOWN_AT_A = 5e-3
BODY_DIODE_A = 1e-14  # saturation current of a MOSFET's body diode: common practice, no source
BACK_DIODE_A = 1e-14  # and of the way back through a regulator: common practice, no source
INNER_DIVIDER_OHM = 1e6  # a divider inside a regulator is taken as light, so that resistors outside it rule
LEAST_PIN_A = 1e-9  # an adjust pin never stands quite still, so that one left open has volts
_NO_DIODE_A = 1e-40  # what the transistor's own law has in place of it

_COMMENT_LENGTH = 100


class Deck(Struct, frozen=True):
    """text: the deck. nodes: net to node. elements: element name to the name of its card.

    vectors: what to read, separated by spaces: the nodes without ground, then the currents that
    `operating_point` asks ngspice for.
    """

    text: str
    nodes: Mapping[str, str]
    elements: Mapping[str, str]
    vectors: str


def deck(circuit: Circuit, annotate: bool = False) -> Deck:
    """The deck of a circuit for an operating point.

    With `annotate` it starts with a legend of nets and parts as comments, and
    ends so that `ngspice -b FILE` prints the volts and the sources' currents.
    """
    return write(circuit, survey(circuit), annotate)


def write(
    circuit: Circuit, topology: Topology, annotate: bool = False, injected: str | None = None, helped: bool = False,
    starts: Mapping[str, float] | None = None,
) -> Deck:
    """As `deck`, for a circuit that has been surveyed.

    With `injected`, a net, the deck is one for small signals: 1 A is fed into
    that net, capacitors are in, and the volts of the net are what is read. helped:
    with the wider tolerance that is ngspice's own default. starts: net to volts from which it is to begin.
    """
    ground = circuit.ground
    nodes = {ground: "0"}
    for net in topology.nets:
        if net != ground:
            nodes[net] = f"n{len(nodes)}"
    cards = _Cards(nodes, circuit.temperature_C, small_signal=injected is not None)
    elements = {}
    for place, element in enumerate(circuit.elements, 1):
        elements[element.name] = _WRITERS[type(element)](cards, element, str(place))
    for place, island in enumerate(topology.islands, 1):
        cards.lines.append(f"rt{place} {nodes[island[0]]} 0 {TIE_OHM!r}")
    if injected is None:
        vectors = [*(node for node in nodes.values() if node != "0"), *cards.vectors]
    else:
        cards.lines.append(f"ii 0 {nodes[injected]} dc 0 ac 1")
        vectors = [nodes[injected]]
    lines = ["* netcheck"]
    if annotate:
        lines += _legend(circuit, nodes, elements)
    lines += cards.lines
    lines += [f".nodeset v({nodes[net]})={volts!r}" for net, volts in (starts or {}).items()]
    lines.append(OPTIONS.format(circuit.temperature_C, HELPED if helped else RELATIVE,
                                ROUNDED_A if starts else RESOLVED_A))
    if annotate:
        lines += [".options nomod noacct", ".op"]
    lines.append(".end")
    return Deck("\n".join(lines), nodes, elements, " ".join(vectors))


class _Cards:
    """The cards written so far, and the currents that have to be read from ngspice."""

    def __init__(self, nodes: Mapping[str, str], temperature_C: float, small_signal: bool) -> None:
        self.nodes = nodes
        self.temperature_C = temperature_C
        self.small_signal = small_signal
        self.lines: list[str] = []
        self.vectors: list[str] = []
        self._models: dict[str, str] = {}

    def model(self, letter: str, parameters: str) -> str:
        """The name of the model card with these parameters, one for all elements that are alike."""
        name = self._models.get(parameters)
        if name is None:
            name = self._models[parameters] = f"{letter}{len(self._models)}"
            self.lines.append(f".model {name} {parameters}")
        return name


def _resistance(cards: _Cards, element: Resistance, place: str) -> str:
    """Nothing where both its ends are one net, as of a trimmer whose wiper is joined to an end."""
    if cards.nodes[element.a] == cards.nodes[element.b]:
        return ""
    ohm = max(element.ohm, models.LEAST_OHM)
    cards.lines.append(f"r{place} {cards.nodes[element.a]} {cards.nodes[element.b]} {float(ohm)!r}")
    return f"r{place}"


def _source(cards: _Cards, element: Source, place: str) -> str:
    plus, minus = cards.nodes[element.plus], cards.nodes[element.minus]
    cards.lines.append(f"v{place} {plus} {minus} {float(element.volts)!r}")
    cards.vectors.append(f"v{place}#branch")
    return f"v{place}"


def _battery(cards: _Cards, element: Battery, place: str) -> str:
    plus, minus = cards.nodes[element.plus], cards.nodes[element.minus]
    inner = f"b{place}" if element.ohm else plus
    if element.ohm:
        cards.lines.append(f"r{place} {inner} {plus} {float(element.ohm)!r}")
    cards.lines.append(f"v{place} {inner} {minus} {float(element.volts)!r}")
    cards.vectors.append(f"v{place}#branch")
    return f"v{place}"


def _draw(cards: _Cards, element: Draw, place: str) -> str:
    plus, minus = cards.nodes[element.plus], cards.nodes[element.minus]
    cards.lines.append(f"b{place} {plus} {minus} i={models.draw_text(element, plus, minus)}")
    return f"b{place}"


def _junction(cards: _Cards, element: Junction, place: str) -> str:
    anode, cathode = cards.nodes[element.anode], cards.nodes[element.cathode]
    cards.lines.append(f"d{place} {anode} {cathode} {cards.model('d', _diode_model(element))}")
    if models.leaks(element):
        law = models.leakage_text(element, cathode, anode, cards.temperature_C)
        cards.lines.append(f"b{place} {cathode} {anode} i={law}")
    cards.vectors.append(f"@d{place}[id]")
    return f"d{place}"


@lru_cache(maxsize=8192)
def _diode_model(element: Junction) -> str:
    parameters = f"d(is={element.saturation_A!r} n={element.emission!r}"
    if element.series_ohm >= models.LEAST_OHM:  # rounding in less would drown nanoamps
        parameters += f" rs={element.series_ohm!r}"
    if element.breakdown_V:
        parameters += f" bv={element.breakdown_V!r} ibv={BREAKDOWN_AT_A!r}"
    return parameters + ")"


def _bipolar(cards: _Cards, element: Bipolar, place: str) -> str:
    kind = "npn" if element.npn else "pnp"
    model = cards.model("q", f"{kind}(is={element.saturation_A!r} bf={element.gain!r})")
    inner = _ammeter(cards, element.collector, place)
    cards.lines.append(f"q{place} {inner} {cards.nodes[element.base]} {cards.nodes[element.emitter]} {model}")
    return f"q{place}"


def _field_effect(cards: _Cards, element: FieldEffect, place: str) -> str:
    """Level 1, where the channel's resistance at 2 V beyond the threshold is 1/(KP·2 V).

    The body diode is one beside it: that of the transistor's own law is at times left out when ngspice starts, far
    in forward direction.
    """
    kind, sign = ("nmos", 1) if element.n_channel else ("pmos", -1)
    gain = 1 / (2.0 * element.on_ohm)
    parameters = f"{kind}(level=1 vto={sign * element.threshold_V!r} kp={gain!r} is={_NO_DIODE_A!r})"
    inner = _ammeter(cards, element.drain, place)
    gate, source = cards.nodes[element.gate], cards.nodes[element.source]
    model = cards.model("m", parameters)
    cards.lines.append(f"m{place} {inner} {gate} {source} {source} {model} l=1e-4 w=1e-4")
    ends = (source, inner) if element.n_channel else (inner, source)
    cards.lines.append(f"d{place} {' '.join(ends)} {cards.model('d', f'd(is={BODY_DIODE_A!r} n=1.0)')}")
    return f"m{place}"


def _regulation(cards: _Cards, element: Regulation, place: str) -> str:
    source, output = cards.nodes[element.input], cards.nodes[element.output]
    adjust = cards.nodes[element.adjust] if element.adjust is not None else output
    ground = cards.nodes[element.ground] if element.ground is not None else "0"
    inner = _ammeter(cards, element.input, place)
    cards.lines.append(f"vp{place} {inner} p{place} 0")
    if element.back:
        ends = (inner, output) if element.negative else (output, inner)
        cards.lines.append(f"d{place} {' '.join(ends)} {cards.model('d', f'd(is={BACK_DIODE_A!r} n=1.0)')}")
    if element.idle_A:
        law = models.pin_text(element.idle_A, inner, output, element.negative)
        cards.lines.append(f"bi{place} {inner} {output} i={law}")
    law = models.pass_text(element, source, output, adjust, ground, f"vp{place}")
    cards.lines.append(f"b{place} p{place} {output} v={law}")
    law = models.off_text(element, source, output, adjust, ground)
    cards.lines.append(f"bo{place} {inner} {output} i={law}")
    if element.limit_A is not None and output != "0":
        cards.lines.append(f".nodeset v({output})=0")
    if element.adjust is not None:
        amps = max(element.adjust_A, LEAST_PIN_A)
        low = output if element.between == "shunt" else ground
        ends = (source, adjust) if element.between == "output-adjust" else (adjust, low)
        law = models.pin_text(amps, *ends, element.negative)
        cards.lines.append(f"ba{place} {' '.join(ends)} i={law}")
        if element.open_V is not None and low != output:
            upper_ohm = INNER_DIVIDER_OHM * (element.open_V / element.reference_V - 1)
            cards.lines.append(f"ra{place} {output} {adjust} {upper_ohm!r}")
            cards.lines.append(f"rb{place} {adjust} {low} {INNER_DIVIDER_OHM!r}")
    if element.ground is not None and element.ground_A:
        law = models.pin_text(element.ground_A, source, ground, element.negative)
        cards.lines.append(f"bg{place} {source} {ground} i={law}")
    return f"b{place}"


def _capacitance(cards: _Cards, element: Capacitance, place: str) -> str:
    """Nothing for direct current; else its resistance, inductance and capacitance in series."""
    if not cards.small_signal:
        return ""
    near, far = cards.nodes[element.a], cards.nodes[element.b]
    for letter, value in (("r", element.esr_ohm), ("l", element.esl_H)):
        if value:
            cards.lines.append(f"{letter}{place} {near} {letter}x{place} {float(value)!r}")
            near = f"{letter}x{place}"
    cards.lines.append(f"c{place} {near} {far} {float(element.farad)!r}")
    return f"c{place}"


def _ammeter(cards: _Cards, net: str, place: str) -> str:
    """A source of 0 V in series, whose current is exact on every version of ngspice; the node behind it."""
    cards.lines.append(f"v{place} {cards.nodes[net]} m{place} 0")
    cards.vectors.append(f"v{place}#branch")
    return f"m{place}"


_WRITERS: dict[type[Element], Callable[..., str]] = {
    Resistance: _resistance, Source: _source, Battery: _battery, Draw: _draw, Junction: _junction,
    Bipolar: _bipolar, FieldEffect: _field_effect, Regulation: _regulation, Capacitance: _capacitance,
}


def _legend(circuit: Circuit, nodes: Mapping[str, str], elements: Mapping[str, str]) -> list[str]:
    lines = [f"* {node} is net {_printable(net)}" for net, node in nodes.items()]
    lines += [f"* {card or 'open'} is {_printable(name)}" for name, card in elements.items()]
    return lines


def _printable(text: str) -> str:
    """One line of plain characters: what else a name may hold is shown as ?."""
    return "".join(c if " " <= c <= "~" else "?" for c in text)[:_COMMENT_LENGTH]
