"""--deadline bounds a whole command: what it had no time for is unknown, with exit status 1, and never an error."""

import time

import pytest
from click.testing import CliRunner

import netcheck
from netcheck.cli import main
from netcheck.judging import forget_judged
from netcheck.simulation.operating_point import forget

EXAMPLE = "examples/rack-sampler.yaml"
COMMANDS = {
    "check": [], "bench": [], "document": [], "draw": ["-o", "{folder}/a.svg"], "changes": [], "diodes": [],
    "caps": [], "explain": [],
    "settings": [], "choose": ["--outputs", "3.3 V"], "impedance": ["--at", "VRAM"],
}
FILES = {"settings": "examples/coprocessor-card.yaml", "choose": "examples/coprocessor-card.yaml",
         "caps": "examples/sound-card.yaml"}

COUPLED = """
title: packs and jumpers that all see each other
rails: {+5V: 5 V ±5%, +12V: {volts: 12 V ±5%, supply: aux}}
parts:
  BT1: {cell: CR2032, plus: VRAM, minus: GND}
  R1: {resistor: 1k, between: [+5V, VRAM]}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
""" + "".join(f"""  BT{n}: {{cell: alkaline-3xAA, plus: EXT{n}, minus: GND, plugged: maybe}}
  D{n}: {{diode: BAT85, anode: EXT{n}, cathode: VRAM}}
""" for n in range(10, 22))


def run(command, tmp_path, seconds):
    forget()
    more = [one.format(folder=tmp_path) for one in COMMANDS[command]]
    return CliRunner().invoke(main, [command, FILES.get(command, EXAMPLE), "--deadline", str(seconds), *more])


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_without_time_says_so_and_ends_with_1(command, tmp_path):
    done = run(command, tmp_path, 1e-6)
    assert done.exit_code == 1, done.output
    assert "s allowed for all were used up" in " ".join(done.output.split())


def test_what_was_found_in_time_stands_and_the_rest_is_unknown():
    """The first state alone is judged, and the danger in it told; the time is kept however many ways there are."""
    forget()
    started = time.process_time()
    variant = netcheck.check(netcheck.loads(COUPLED), deadline_s=1.5).variants[-1]
    assert time.process_time() - started < 15
    assert variant.verdict == "danger"
    assert variant.cut_short
    assert any(finding.check == "states" and finding.severity == "unknown" for finding in variant.findings)
    assert all(remedy.verdict is None for cell in variant.cells.values() for remedy in cell.remedies)


SHORTS = """
title: what the wiring alone shows in states that there is no time for
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
"""
SEEN = {
    "  JP1: {jumper: [+5V, GND]}\n": ("short-circuit", "supply", "JP1 closed"),
    "  JP1: {jumper: [CELL, GND]}\n": ("short-circuit", "cell-by-copper", "JP1 closed"),
    "  JP1: {jumper: [+5V, CHG]}\n  R1: {resistor: 1k, between: [CHG, CELL]}\n":
        ("charge-route", "charged-unknown", "JP1 closed"),
}


@pytest.mark.parametrize("parts", SEEN)
def test_what_the_wiring_shows_is_told_of_states_that_were_not_reached(parts):
    """By hand: with JP1 closed the rail, or the cell, is shorted by copper, or 5 V push through 1k into 3 V."""
    check, case, position = SEEN[parts]
    for seconds in (1e-6, None):
        forget()
        forget_judged()
        variant = netcheck.check(netcheck.loads(SHORTS + parts), deadline_s=seconds).variants[-1]
        assert variant.verdict == "danger"
        if seconds is not None:
            (found,) = [one for one in variant.findings if (one.check, one.case) == (check, case)]
            assert position in found.state
            assert "Worked out in time: 1 of the ways" in " ".join(one.message for one in variant.findings)
