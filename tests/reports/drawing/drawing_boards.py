"""Invented boards for the drawing: parts of every kind, with hand-made volts and currents.

The volts only have to be plausible: the drawing computes none.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from msgspec.structs import replace

from netcheck.fragment.model import Conditions, Fragment, Kind, Mark, Mod, Part, Rail, Step
from netcheck.fragment.states import State
from netcheck.parts.specs import (
    CapacitorSpec,
    CellSpec,
    ChipSpec,
    ConnectorSpec,
    DiodeSpec,
    FuseSpec,
    InductorSpec,
    LinkSpec,
    LoadSpec,
    RegulatorSpec,
    ResistorSpec,
    TransistorSpec,
)
from netcheck.quantities.values import Quantity, Span
from netcheck.simulation.elements import OperatingPoint

BOARD = "Larkspur S8 rack sampler (invented)"
MARK = Mark(1, 1)
RUNNING = State("running", {"main": True}, {}, {})
STORED = State("stored", {"main": False}, {}, {})


def exactly(value: float, unit: str) -> Quantity:
    return Quantity(value, value, value, unit)


def part(name: str, kind: Kind, spec: Any, pins: Mapping[str, str], **more: Any) -> Part:
    return Part(name=name, kind=kind, spec=spec, pins=dict(pins), mark=MARK, **more)


def resistor(name: str, a: str, b: str, ohm: float) -> Part:
    return part(name, Kind.RESISTOR, ResistorSpec(exactly(ohm, "ohm")), {"1": a, "2": b})


def diode(name: str, anode: str, cathode: str, spec: str = "1N4148", family: str = "silicon") -> Part:
    return part(name, Kind.DIODE, DiodeSpec(spec, family), {"anode": anode, "cathode": cathode})


def cell(name: str, plus: str, minus: str, spec: str = "NiCd-3x60", volts: float = 3.6, **more: Any) -> Part:
    known = CellSpec(spec, "nickel-cadmium", False, volts, 0.06, ())
    return part(name, Kind.CELL, known, {"plus": plus, "minus": minus}, **more)


def capacitor(name: str, a: str, b: str, farad: float, polarised: bool = False, **more: Any) -> Part:
    pins = {"plus": a, "minus": b} if polarised else {"1": a, "2": b}
    return part(name, Kind.CAPACITOR, CapacitorSpec(exactly(farad, "F")), pins, **more)


def load(name: str, plus: str, minus: str, spec: str = "SRAM-62256") -> Part:
    return part(name, Kind.LOAD, LoadSpec(spec, ()), {"plus": plus, "minus": minus})


def link(name: str, *nets: str, kind: Kind = Kind.JUMPER, position: str = "open", **positions: Any) -> Part:
    known = positions or {"open": (), "closed": (("1", "2"),)}
    pins = {str(i): net for i, net in enumerate(nets, 1)}
    return part(name, kind, LinkSpec(), pins, positions=known, position=position)


def transistor(name: str, polarity: str, *nets: str) -> Part:
    words = ("collector", "base", "emitter") if polarity in ("npn", "pnp") else ("drain", "gate", "source")
    spec = TransistorSpec(f"small {polarity}", polarity)
    return part(name, Kind.TRANSISTOR, spec, dict(zip(words, nets, strict=True)))


def fragment(title: str, *parts: Part, rails: Mapping[str, float], **more: Any) -> Fragment:
    return Fragment(
        file="made.yaml", title=title, board=BOARD, parts={p.name: p for p in parts},
        rails={net: Rail(net, exactly(v, "V"), "main", "low", MARK) for net, v in rails.items()},
        conditions=Conditions(Span(10, 50, "°C"), None, 10), **more,
    )


def backup() -> tuple[Fragment, OperatingPoint]:
    """A memory backup as found: a nickel pack charged through a resistor and a diode."""
    board = fragment(
        "Memory backup, voice card",
        cell("BT1", "CELL", "GND"),
        resistor("R1", "+5V", "CHG", 470),
        diode("D3", "CHG", "CELL"),
        diode("D1", "CELL", "VRAM"),
        diode("D2", "+5V", "VRAM"),
        capacitor("C1", "VRAM", "GND", 100e-9),
        capacitor("C2", "+5V", "GND", 47e-6, polarised=True),
        link("JP1", "VBAT", "VRAM", "GND", position="normal", normal=(("1", "2"),), clear=(("2", "3"),)),
        load("U1", "VRAM", "GND"),
        load("U2", "VRAM", "GND", "2 µA"),
        resistor("R2", "VBAT", "GND", 100e3),
        diode("D4", "GND", "+5V", "BZX84C5V6", "zener"),
        rails={"+5V": 5},
    )
    volts = {"GND": 0.0, "+5V": 5.0, "CHG": 4.68, "CELL": 4.01, "VRAM": 4.38, "VBAT": 4.37}
    amps = {"BT1": -0.69e-3, "R1": 0.69e-3, "D3": 0.69e-3, "D1": -5e-9, "D2": 1.2e-3, "U1": 1.1e-3,
            "U2": 2e-6, "R2": 43.7e-6, "JP1": 43.7e-6, "D4": -40e-9}
    return board, OperatingPoint(volts, amps)


BACKUP_ROUTE = ("R1", "D3", "BT1")


def backup_with_coin_cell() -> tuple[Fragment, OperatingPoint, Fragment]:
    """The same with the charging parts out and a primary cell behind a resistor in; and as found."""
    before, point = backup()
    parts = {name: p for name, p in before.parts.items() if name not in ("R1", "D3")}
    parts["BT1"] = cell("BT1", "CELL", "GND", "CR2032", 3.0)
    parts["D1"] = replace(parts["D1"], pins={"anode": "N7", "cathode": "VRAM"})
    parts["D2"] = diode("D2", "+5V", "VRAM", "BAT85", "schottky")
    parts["R9"] = resistor("R9", "CELL", "N7", 1000)
    parts["C9"] = capacitor("C9", "+5V", "GND", 47e-6, polarised=True, fitted=False)
    parts["BT2"] = cell("BT2", "N7", "GND", "alkaline-3xAA", 4.5, plugged=None)
    after = replace(before, parts=parts, variant="coin-cell")
    volts = {**point.volts, "CELL": 3.2, "N7": 3.2, "VRAM": 4.7}
    return after, OperatingPoint(volts, {"D2": 1.2e-3, "U1": 1.1e-3, "D1": -4e-9}), before


def switched() -> tuple[Fragment, OperatingPoint]:
    """Transistors of all four polarities, a negative rail, a zener, a fuse, an inductor and an LED."""
    board = fragment(
        "Transistor-switched backup",
        transistor("Q1", "pnp", "VRAM", "B1", "+5V"),
        transistor("Q2", "npn", "SW", "EN", "GND"),
        transistor("Q3", "n-channel", "SW", "EN", "GND"),
        transistor("Q4", "p-channel", "CELL", "G2", "VRAM"),
        resistor("R1", "B1", "SW", 10e3),
        resistor("R2", "+5V", "EN", 100e3),
        resistor("R3", "G2", "GND", 100e3),
        cell("BT1", "CELL", "GND", "CR2032", 3.0),
        diode("D5", "OUT", "GND", "", "zener"),
        resistor("R5", "OUT", "-12V", 1e3),
        part("L1", Kind.INDUCTOR, InductorSpec(exactly(10e-6, "H")), {"1": "+5V", "2": "B1"}),
        part("F1", Kind.FUSE, FuseSpec(0.5), {"1": "VRAM", "2": "G2"}),
        diode("D7", "+5V", "SW", "LED-red", "led"),
        load("U1", "VRAM", "GND"),
        rails={"+5V": 5, "-12V": -12},
    )
    volts = {"GND": 0.0, "+5V": 5.0, "-12V": -12.0, "CELL": 3.0, "VRAM": 4.85, "B1": 4.2, "SW": 0.08,
             "EN": 0.71, "OUT": -5.1, "G2": 2.6}
    return board, OperatingPoint(volts, {"Q1": 1.2e-3, "R1": 0.41e-3, "R5": 6.9e-3, "U1": 1.1e-3})


def regulated() -> tuple[Fragment, OperatingPoint]:
    """An adjustable regulator with jumpers and switches in its divider, a chip and a connector."""
    board = fragment(
        "Regulator with jumpers",
        part("U1", Kind.REGULATOR, RegulatorSpec("LM317"),
             {"input": "+12V", "output": "OUT", "adjust": "ADJ"}),
        resistor("R1", "OUT", "ADJ", 240),
        resistor("R2", "ADJ", "N1", 270),
        resistor("R3", "N1", "N2", 240),
        resistor("R4", "N2", "GND", 240),
        link("JP1", "N1", "GND"),
        link("JP2", "N2", "GND", position="closed"),
        link("S1", "ADJ", "N1", kind=Kind.SWITCH),
        link("S2", "ADJ", "N1", kind=Kind.SWITCH, position="closed"),
        capacitor("C1", "OUT", "GND", 10e-6, polarised=True),
        part("J3", Kind.CONNECTOR, ConnectorSpec("DIN 5"),
             {"1": "OUT", "2": "IRQ", "3": "GND", "4": "GND", "5": "+12V"}),
        part("U9", Kind.CHIP, ChipSpec("74HC14"), {"14": "OUT", "7": "GND", "1": "IRQ", "2": "N1"}),
        load("U2", "OUT", "GND", "5 V logic"),
        rails={"+12V": 12},
    )
    volts: dict[str, float | None] = {
        "GND": 0.0, "+12V": 12.0, "OUT": 5.02, "ADJ": 3.77, "N1": 3.77, "N2": 0.0, "IRQ": None,
    }
    return board, OperatingPoint(volts, {"U1": 0.13, "U2": 0.12, "R1": 5.2e-3})


def external_pack() -> tuple[Fragment, OperatingPoint, State]:
    """A four-pin header that chooses between a cell on the board and a pack on a plug."""
    board = fragment(
        "Clock backup with an external pack",
        cell("BT1", "CELL", "GND", "CR2032", 3.0),
        cell("BT2", "EXT", "RET", "alkaline-3xAA", 4.5, plugged=None),
        link("J1", "EXT", "CELL", "VBAT", "RET", position="external",
             external=(("1", "3"),), board=(("2", "3"),)),
        resistor("R1", "RET", "GND", 10),
        diode("D1", "VBAT", "VRTC", "BAT85", "schottky"),
        diode("D2", "+5V", "VRTC", "BAT85", "schottky"),
        load("U1", "VRTC", "GND", "MC146818"),
        capacitor("C1", "VRTC", "GND", 100e-9),
        rails={"+5V": 5},
    )
    volts = {"GND": 0.0, "+5V": 0.0, "CELL": 3.2, "EXT": 4.5, "VBAT": 4.5, "VRTC": 4.2, "RET": 0.0}
    amps = {"BT2": 21e-6, "D1": 21e-6, "U1": 20e-6, "D2": -1.1e-6}
    return board, OperatingPoint(volts, amps), State("stored", {"main": False}, {}, {"BT2": True})


def joined() -> tuple[Fragment, Fragment]:
    """Two nets joined by a wire link of a mod, and the board before it."""
    before = fragment(
        "Link", resistor("R1", "+5V", "N7", 100), resistor("R2", "N8", "GND", 100), rails={"+5V": 5}
    )
    mod = Mod("link", (Step("join", MARK, names=("N7", "N8")),), MARK)
    parts = {**before.parts, "R2": resistor("R2", "N7", "GND", 100)}
    after = replace(before, parts=parts, mods={"link": mod}, variant="link")
    return after, replace(before, mods={"link": mod})


def ladder(steps: int) -> Fragment:
    """A cell at the head of a long chain of resistors, with a capacitor on the rail for each."""
    parts = [cell("BT1", "N0", "GND")]
    for i in range(steps):
        parts.append(resistor(f"R{i + 1}", f"N{i}", f"N{i + 1}", 1000))
        parts.append(capacitor(f"C{i + 1}", "+5V", "GND", 1e-7))
    return fragment("Ladder", *parts, rails={"+5V": 5})
