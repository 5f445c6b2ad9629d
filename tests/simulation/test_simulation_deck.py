import re
import shutil
import subprocess

import pytest

from netcheck.simulation.deck import deck
from netcheck.simulation.elements import (
    Battery,
    Bipolar,
    Capacitance,
    Circuit,
    Draw,
    FieldEffect,
    Junction,
    Regulation,
    Resistance,
    Source,
)
from netcheck.simulation.operating_point import solve
from netcheck.simulation.process import Job, simulator

DIODE = {"saturation_A": 2.5e-9, "emission": 1.75, "series_ohm": 0.57, "leakage_A": 25e-9, "leakage_at_V": 20.0}
BACKUP = Circuit((
    Source("+5V", "+5V", "GND", 5.0), Resistance("R1", "+5V", "CHG", 470.0),
    Junction("D3", "CHG", "CELL", **DIODE), Battery("BT1", "CELL", "GND", 3.0, 15.0),
    Junction("D1", "CELL", "VRAM", **DIODE), Junction("D2", "+5V", "VRAM", **DIODE),
    Draw("U1", "VRAM", "GND", 2e-6), Capacitance("C1", "VRAM", "GND", 1e-7),
), "GND", 40.0)
NASTY = "a b\n.control\nquit\n.endc {x} ='\x1b[31mé gnd"
EVERYTHING = Circuit((
    Source(NASTY, NASTY, "GND", 12.0), Resistance("r" + NASTY, NASTY, NASTY + "1", 1e3),
    Junction("d" + NASTY, NASTY + "1", "GND", **DIODE), Draw("u" + NASTY, NASTY, "GND", 1e-6, 3.0, 1e-7),
    Battery("b" + NASTY, NASTY + "2", NASTY + "1", 3.0, 15.0), Resistance("z", NASTY + "2", "GND", 0.0),
    Bipolar("q" + NASTY, NASTY, NASTY + "1", NASTY + "2", True, 1e-14, 100.0),
    FieldEffect("m" + NASTY, NASTY, NASTY + "1", NASTY + "2", True, 1.0, 2.0),
    Regulation("g" + NASTY, NASTY, NASTY + "3", NASTY + "4", "GND", 1.25, "adjust-ground", 0.5, 1e-6),
    Resistance("ra", NASTY + "3", NASTY + "4", 1e3), Resistance("rb", NASTY + "4", "GND", 1e3),
    Capacitance("c" + NASTY, NASTY, NASTY + "5", 1e-6),
), "GND")


def test_the_deck_that_runs_holds_nothing_of_the_users():
    text = deck(EVERYTHING).text
    card = re.compile(r"[rvbdqm][tapoigb]?\d+( [nbmdqp]?\d+){2,5}( .*)?|\.model [dqm]\d+ \w+\(.*\)"
                      r"|\.nodeset v\(n\d+\)=0|\.options .*|\.end|\* netcheck")
    assert all(card.fullmatch(line) for line in text.splitlines())
    assert not re.search(r"control|quit|\{|'|é|gnd|GND", text)


def test_a_circuit_of_nasty_names_is_solved_and_mapped_back():
    (point,) = solve([EVERYTHING])
    assert point.problem is None
    assert point.volts[NASTY] == 12.0
    # 1.25 V on each of two resistors alike, and 1 µA into the adjust pin through 1 kΩ.
    assert point.volts[NASTY + "3"] == pytest.approx(2.501, abs=1e-5)
    assert point.volts[NASTY + "5"] is None
    assert set(point.amps) == {element.name for element in EVERYTHING.elements}


def test_names_are_mapped_and_options_stated():
    written = deck(BACKUP)
    assert written.nodes == {"GND": "0", "+5V": "n1", "CHG": "n2", "CELL": "n3", "VRAM": "n4"}
    assert written.elements["D1"] == "d5"
    (options,) = [line for line in written.text.splitlines() if line.startswith(".options")]
    for word in ("temp=40.0", "tnom=40.0", "reltol=1e-6", "abstol=1e-15", "vntol=1e-9", "gmin=1e-15"):
        assert word in options.split()


def test_alike_diodes_share_their_model():
    assert deck(BACKUP).text.count(".model") == 1


def test_the_legend_names_parts_and_nets_on_one_printable_line_each():
    text = deck(EVERYTHING, annotate=True).text
    legend = [line for line in text.splitlines() if line.startswith("* ")]
    assert all(line.isprintable() and line.isascii() and len(line) < 130 for line in legend)
    assert "* n1 is net a b?.control?quit?.endc {x} ='?[31m? gnd" in legend
    assert "* d5 is D1" in deck(BACKUP, annotate=True).text.splitlines()


def printed(text):
    """Node volts of the table that the program prints."""
    return {name: float(value) for name, value in re.findall(r"^\s*(n\d+)\s+([-+\d.e]+)\s*$", text, re.MULTILINE)}


@pytest.mark.parametrize("circuit", [BACKUP, EVERYTHING])
def test_the_annotated_deck_gives_the_same_volts_elsewhere(circuit, tmp_path):
    """Fed to the library as it is, and to the ngspice program where that is installed."""
    written = deck(circuit, annotate=True)
    (point,) = solve([circuit])
    wanted = {node: point.volts[net] for net, node in written.nodes.items() if point.volts[net] is not None}
    (answer,) = simulator().run([Job(written.text, written.vectors)])
    assert answer.values[: len(written.nodes) - 1] == pytest.approx(
        [wanted.get(node, 0.0) for node in written.nodes.values() if node != "0"])
    program = shutil.which("ngspice")
    if program:
        file = tmp_path / "point.cir"
        file.write_text(written.text)
        done = subprocess.run([program, "-b", str(file)], capture_output=True, text=True, cwd=tmp_path, check=True)
        found = printed(done.stdout)
        assert {node: found[node] for node in wanted if node != "0"} == pytest.approx(
            {node: volts for node, volts in wanted.items() if node != "0"}, rel=2e-6, abs=1e-6)
