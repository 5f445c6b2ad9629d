"""Connectors against their published pinouts (library/connectors.yaml names the source of each), and how they were
counted. IEC 60130-9 for the order of the five-pin round socket; ATX Specification 2.01 for the tolerances."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from made_points import UNKNOWN, made, point, sound

import netcheck
from netcheck.checks.connectors import connector_findings, supply_V, ways_to_count
from netcheck.fragment.model import Kind
from netcheck.parts.catalogue import Catalogue
from netcheck.parts.specs import ConnectorSpec

CATALOGUE = Catalogue.standard()
CONNECTORS = [spec for spec in CATALOGUE.entries("connector") if isinstance(spec, ConnectorSpec)]
SUPPLIED = [spec for spec in CONNECTORS if any(supply_V(signal) for _, signal in spec.pinout)
            and any(signal == "GND" for _, signal in spec.pinout)]


def board(name: str, nets: Mapping[str, str]) -> str:
    rails = {net: supply_V(net.removeprefix("V")) for net in nets.values() if supply_V(net.removeprefix("V"))}
    lines = [f"  {net}: {volts:g} V" for net, volts in dict(rails).items()]
    pins = ", ".join(f"{pin}: {net}" for pin, net in nets.items())
    pulls = [f"  R{pin}: {{resistor: 10k, between: [{net}, {next(iter(rails), 'GND')}]}}"
             for pin, net in nets.items() if net.startswith("S")]
    connector = f"  J1: {{connector: {name}, pins: {{{pins}}}}}"
    return "\n".join(["title: t", "rails:", *lines, "parts:", connector, *pulls]) + "\n"


def as_published(spec: ConnectorSpec) -> dict[str, str]:
    """Each pin on a net that fits its signal."""
    return {pin: signal if signal == "GND" else f"V{signal}" if supply_V(signal) is not None else f"S{pin}"
            for pin, signal in spec.pinout if signal.lower() not in ("n/c", "key")}


def found(text: str) -> list[netcheck.Finding]:
    """What is told of a board's connectors; a signal that nothing loads stands at the volts it is pulled to."""
    fragment = netcheck.loads(text)
    rails = {rail.net: rail.volts.value for rail in fragment.rails.values()}
    pulled = {part.pins["1"]: rails.get(part.pins["2"], 0.0) for part in fragment.of_kind(Kind.RESISTOR)}
    return [one for one in connector_findings(made(fragment, None, point({**pulled, **rails})))
            if str(one.severity) != "note"]


def test_every_published_pinout_fits_itself() -> None:
    assert SUPPLIED
    assert {spec.name: [one.message for one in said] for spec in SUPPLIED
            if (said := found(board(spec.name, as_published(spec))))} == {}


def test_pins_counted_otherwise_are_suspected_where_that_explains_every_mismatch() -> None:
    missed = []
    for spec in SUPPLIED:
        nets = as_published(spec)
        pins = [pin for pin, _ in spec.pinout]
        for words, order in ways_to_count(pins):
            counted = {order[pin]: net for pin, net in nets.items()}
            said = found(board(spec.name, counted))
            if any("is not as" in one.message for one in said) and not any("fits" in one.advice for one in said):
                free = {pin for pin, signal in spec.pinout if signal.lower() in ("n/c", "key")}
                if not free & set(counted):  # what lands on a pin that carries nothing proves nothing
                    missed.append((spec.name, words))
    assert missed == []


def test_mirrored_and_exchanged_plugs_are_named() -> None:
    supply = as_published(CATALOGUE.connector("drive-power"))
    mirrored = dict(zip(supply, reversed(supply.values()), strict=True))
    (said,) = found(board("drive-power", mirrored))
    assert str(said.severity) == "danger"  # +12 V where +5 V is expected
    assert "counted from the other end" in said.advice
    atx = as_published(CATALOGUE.connector("ATX-20"))
    atx["3"], atx["4"] = atx["4"], atx["3"]
    (said,) = found(board("ATX-20", atx))
    assert "pins 3 and 4 exchanged" in said.advice


SIX = {"mirrored": "654321", "rows": "214365", "across": "135246", "along": "142536", "halves": "456123"}


def test_the_ways_in_which_six_and_five_pins_are_counted() -> None:
    """Of two rows of three: across is 1 2 / 3 4 / 5 6 read as 1 2 3 / 4 5 6, along the other way round."""
    ways = [(one.how, "".join(order[pin] for pin in "123456")) for one, order in ways_to_count(list("123456"))]
    assert dict(ways[:5]) == SIX
    later = [(dict(one.words), dict(one.figures), order["1"]) for one, order in ways_to_count(list("123456"))
             if one.how == "later"]
    assert later == [({"later": "one"} if turn == 1 else {}, {"later_count": turn}, str(1 + turn))
                     for turn in range(1, 6)]
    exchanged = [one.words["exchanged"] for one, _ in ways_to_count(list("123456")) if one.how == "exchanged"]
    assert len(set(exchanged)) == len(exchanged) == 15
    # IEC 60130-9: 1, 4, 2, 5, 3 along the arc; seen from behind it is 3, 5, 2, 4, 1.
    (behind,) = [order for one, order in ways_to_count(list("12345")) if one.how == "behind"]
    assert behind == dict(zip("14253", "35241", strict=True))
    assert {one.how for one, _ in ways_to_count(list("1234567"))} == {"mirrored", "later", "exchanged"}


@pytest.mark.parametrize(("pinout", "pins", "case"), [
    ('{1: "+5V", 2: GND}', "{1: GND, 2: +5V}", "counted-mirrored"),
    ('{A: "+5V", B: GND}', "{A: GND, B: +5V}", "counted-mirrored"),
    ('{1: "+5V", 2: n/c, 3: data}', "{1: GND}", "wrong"),      # only the pin that carries nothing would do
    ('{1: n/c, 2: "+5V", 3: GND}', "{1: +5V, 2: GND}", "counted-later"),
    ('{1: "+5V", 2: GND, 3: data}', "{1: GND, 2: X, 3: +5V}", "counted-later"),
])
def test_another_way_of_counting_is_named_where_it_explains_every_pin(pinout: str, pins: str, case: str) -> None:
    fragment = netcheck.loads(f"title: t\nrails: {{+5V: 5 V}}\nparts:\n  J1: {{connector: {{pinout: {pinout}}}, "
                              f"pins: {pins}}}\n  R1: {{resistor: 10k, between: [X, +5V]}}\n")
    findings = connector_findings(made(fragment, None, point({"+5V": 5.0, "X": 5.0})))
    assert [one.case for one in sound(findings, fragment) if one.case != "unpulled"] == [case]


@pytest.mark.parametrize(("pins", "verdict", "words"), [
    ("{1: D, 3: GND, 4: +5V, 5: C}", "ok", ""),
    ("{1: D, 3: +5V, 4: GND, 5: C}", "danger", "pin 3 ought to be GND and is +5V, a supply"),
    ("{1: D, 3: GND, 4: +12V, 5: C}", "danger", "+12V at 12 V"),
    ("{1: +5V, 3: GND, 4: +5V, 5: C}", "danger", "pin 1 ought to be data and is +5V"),
    ("{1: D, 3: GND, 4: N, 5: C}", "fails", "which no supply reaches"),
    ("{1: D, 3: GND, 4: +5V, 5: X}", "caution", "idles unpulled"),
])
def test_a_pin_on_the_wrong_net(pins: str, verdict: str, words: str) -> None:
    """The keyboard socket: pins 1 data, 3 ground, 4 +5 V, 5 clock (The Hardware Book, "Keyboard (PS/2)")."""
    report = netcheck.check(netcheck.loads(
        f"title: t\nrails: {{+5V: 5 V, +12V: 12 V}}\nparts:\n  J1: {{connector: PS2-keyboard, pins: {pins}}}\n"
        "  R1: {resistor: 10k, between: [+5V, D]}\n  R2: {resistor: 10k, between: [+5V, C]}\n"
        "  R3: {resistor: 1k, between: [+12V, +5V]}\n"))
    said = [one for one in report.variants[-1].findings if one.check == "connector"]
    assert (verdict, words) == (str(said[0].severity) if said else "ok", words)
    assert not words or words in said[0].message


def test_connector_without_a_pinout_is_said_to_be_unjudged() -> None:
    report = netcheck.check(netcheck.loads(
        "title: t\nrails: {+5V: 5 V}\nparts:\n  J1: {connector: unknown, pins: {1: +5V, 2: GND}}\n"
        "  R1: {resistor: 1k, between: [+5V, GND]}\n"))
    assert any("connector pinouts: J1" in one.message for one in report.variants[-1].findings)
    assert report.verdict == "unknown"


PLUG = """
title: one pin
rails: {+5V: 5 V, +12V: 12 V, -12V: -12 V}
parts:
  J1: {connector: {pinout: {1: "SIGNAL", 2: GND}}, pins: {1: NET, 2: GND}}
  R1: {resistor: 10k, between: [X, +5V]}
"""


def pin(signal: str, net: str, volts: float | None = None, known: bool = True) -> tuple[str, str, str] | None:
    """What is told of a pin with this signal on this net: its gravity, what it is said to be, and what is amiss."""
    text = PLUG.replace("SIGNAL", signal).replace("NET", net)
    where = point({"+5V": 5.0, "+12V": 12.0, "-12V": -12.0, net: volts} if volts is not None else
                  {"+5V": 5.0, "+12V": 12.0, "-12V": -12.0}) if known else UNKNOWN
    findings = [one for one in connector_findings(made(text, None, where)) if one.case != "unpulled"]
    assert all(one.message and one.nets == (net,) and one.line == 5 for one in findings)
    return next(((str(one.severity), str(one.words["wrong_0_net"]), str(one.words["wrong_0_what"]))
                 for one in findings), None)


@pytest.mark.parametrize(("signal", "net", "volts", "told"), [
    ("n/c", "X", None, None), ("n/c", "+5V", 5.0, ("fails", "+5V", "supply")), ("key", "GND", None, None),
    ("GND", "GND", None, None), ("GND", "+5V", 5.0, ("danger", "+5V", "supply")), ("GND", "X", 0.04, None),
    ("GND", "X", 0.06, ("fails", "X", "not ground")), ("GND", "X", None, ("fails", "X", "not ground")),
    ("+5V", "GND", None, ("danger", "ground", "")), ("+5V", "X", None, ("fails", "X", "not reached")),
    ("+5V", "X", 5.25, None), ("+5V", "X", 4.75, None), ("+5V", "X", 4.7, ("fails", "X", "")),
    ("+5V", "X", 5.3, ("danger", "X", "")), ("+5V", "X", -4.0, ("danger", "X", "")),
    ("-12V", "X", -13.2, None), ("-12V", "X", -10.8, None), ("-12V", "X", -10.7, ("fails", "X", "")),
    ("-12V", "X", -13.3, ("danger", "X", "")), ("-12V", "X", 1.0, ("danger", "X", "")),
    ("data", "X", 5.0, None), ("data", "GND", None, ("fails", "ground", "")),
    ("data", "+12V", 12.0, ("danger", "+12V", "supply")),
])
def test_a_pin_against_its_signal(
    signal: str, net: str, volts: float | None, told: tuple[str, str, str] | None
) -> None:
    """5 % for a positive supply, 10 % for a negative one (ATX Specification 2.01, section 4.2.1)."""
    assert pin(signal, net, volts) == told


def test_without_volts_a_supply_pin_cannot_be_told_and_a_rail_on_ground_can() -> None:
    assert pin("+5V", "X", known=False) is None
    assert pin("GND", "+5V", known=False) == ("danger", "+5V", "supply")


def test_a_line_that_only_pulls_down_needs_a_resistor_up() -> None:
    for signal, net, cases in (("data", "X", []), ("data", "Y", ["unpulled"]), ("clock", "Y", ["unpulled"]),
                               ("update", "Y", [])):
        text = PLUG.replace("SIGNAL", signal).replace("NET", net)
        found = connector_findings(made(text, None, point({"+5V": 5.0})))
        assert [one.case for one in found] == cases
        assert all(str(one.severity) == "caution" and one.words == {"signal": signal, "pin": "1"} for one in found)
