"""The sections that stand by themselves: rails, conditions, nets, photos."""

from __future__ import annotations

import math

from netcheck.fragment.model import Conditions, Mark, Photo, Rail
from netcheck.parts.tables import CONDITIONS, RAIL
from netcheck.quantities.values import Span
from netcheck.reading.fields import Fields, fields, outside, quantity_of
from netcheck.reading.yaml_nodes import Scalar

DeclaredPins = dict[str, dict[str, tuple[str, Mark]]]

WHEN_OFF = ("low", "open")
MAIN = "main"
CASE = Span(10.0, 50.0, "°C", "10 to 50 °C")  # unless said otherwise, as the contract of the format has it
YEARS = 10.0


def read_rails(root: Fields, ground: str) -> dict[str, Rail]:
    section = root.fields("rails", "a mapping of net to voltage, such as {+5V: 5 V ±5%}")
    rails: dict[str, Rail] = {}
    for net, node in section.node.entries.items() if section else ():
        mark = section.key_mark(net) if section else root.mark
        if net == ground:
            root.faults.add(mark, net, "a net other than the ground")
        volts, supply, when_off = None, MAIN, WHEN_OFF[0]
        if isinstance(node, Scalar):
            volts = quantity_of(node, "V", root.faults)
            if volts is not None and outside(node, RAIL["volts"], root.faults, volts.value):
                volts = None
        elif rail := fields(node, "a voltage, or {volts: …, supply: …}", root.faults):
            rail.refuse_others(("volts", "supply", "when_off"), "a rail")
            rail.require("volts", "such as 5 V ±5%")
            volts = Fields(rail.node, rail.faults, RAIL).quantity("volts")
            supply = rail.text("supply", "the name of a supply") or MAIN
            when_off = rail.word("when_off", WHEN_OFF) or when_off
        if volts is not None:
            rails[net] = Rail(net, volts, supply, when_off, mark)
    return rails


def read_conditions(root: Fields) -> Conditions:
    section = root.fields("conditions", "a mapping such as {temperature: 10 to 50 °C}")
    if section is None:
        return Conditions(CASE, None, YEARS)
    section.refuse_others(("temperature", "powered", "years"), "conditions")
    section = Fields(section.node, section.faults, CONDITIONS)
    temperature = section.span("temperature")
    if temperature is not None and not (math.isfinite(temperature.low) and temperature.low <= temperature.high
                                        and math.isfinite(temperature.high)):
        root.faults.add(section.node.entries["temperature"].mark, temperature.text, "a range with two ends, in °C")
    years = section.number("years")
    return Conditions(temperature or CASE, section.number("powered"), YEARS if years is None else years,
                      frozenset(section.node.entries))


def read_declared(root: Fields) -> tuple[dict[str, Mark], DeclaredPins]:
    """The `nets:` section: its nets with their place, and part to pin to (net, place)."""
    section = root.fields("nets", "a mapping of net to pins, such as {CELL: [BT1.plus, D1.anode]}")
    nets: dict[str, Mark] = {}
    pins: DeclaredPins = {}
    for net in section.node.entries if section else ():
        assert section is not None
        nets[net] = section.key_mark(net)
        for dotted, mark in section.texts(net, "pins such as D1.anode"):
            part, point, pin = dotted.partition(".")
            if not point or not pin:
                root.faults.add(mark, dotted, "a pin such as D1.anode")
                continue
            first = pins.setdefault(part, {}).setdefault(pin, (net, mark))
            if first[0] != net:
                root.faults.add(mark, dotted, "each pin on one net",
                                hint=f"line {first[1].line} has it on {first[0]}")
    return nets, pins


def read_photos(root: Fields) -> tuple[Photo, ...]:
    photos = []
    for node in root.items("photos", "photos such as {file: section.jpg, caption: …}"):
        photo = fields(node, "a photo such as {file: section.jpg, caption: …}", root.faults)
        if photo is None:
            continue
        photo.refuse_others(("file", "caption"), "a photo")
        photo.require("file", "the name of the picture")
        photos.append(Photo(photo.text("file") or "", photo.text("caption") or "", photo.mark))
    return tuple(photos)
