"""The probe sheet: what the meter shows, its bands, the safe order, and the forms it is printed in."""

from __future__ import annotations

import csv
import io
import math
from itertools import product
from pathlib import Path

import pytest
from click.testing import CliRunner

import netcheck
from netcheck.bench import measure, meter, text_sheet
from netcheck.bench.measure import METER, Measurement, Subject, prospects
from netcheck.bench.meter import What
from netcheck.bench.probe_sheet import current_limit, probe_sheet, volts_limit
from netcheck.commands.bench import command
from netcheck.fragment import mods
from netcheck.fragment.states import enumerate_states
from netcheck.reports.bench_csv import sheet_csv
from netcheck.reports.bench_text import sheet_text
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.corner import Corner
from netcheck.simulation.elements import Resistance
from netcheck.simulation.operating_point import solve
from netcheck.solving.solved_states import OLD, ROOM_C

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
NAMES = ("clock-card", "logger", "rack-sampler", "terminal")


def example(name, mod=None):
    fragment = netcheck.load(EXAMPLES / f"{name}.yaml")
    return fragment if mod is None else mods.apply(fragment, mod)


def state(fragment, name):
    return next(one for one in enumerate_states(fragment).states if one.name == name)


def measured(text, what, at=None, against="GND", through=None, on=True, **more):
    """The band of one measurement on a fragment given as text."""
    fragment = netcheck.loads("title: bench\n" + text)
    stands = next(one for one in enumerate_states(fragment).states if one.live is on)
    taken = Measurement(what, stands, at, against, through, **more)
    found = prospects([(Subject(fragment), taken)])[0]
    assert found.problem is None
    return measure.band(what, found)


DIVIDER = "rails: {+5V: 5 V}\nparts:\n  R1: {resistor: 1M, between: [+5V, MID]}\n" \
          "  R2: {resistor: 1M, between: [MID, GND]}\n"


def test_meter_loads_a_divider():
    """1 MΩ over 1 MΩ from 5 V shows 2.381 V on 10 MΩ, not 2.5 V: 5 V x (1 M || 10 M) / (1 M + 1 M || 10 M)."""
    assert measured(DIVIDER, What.VOLTS, "MID").expected == pytest.approx(2.381, abs=0.0005)
    assert measured(DIVIDER, What.VOLTS, "MID", meter_ohm=1e12).expected == pytest.approx(2.5, abs=1e-3)


def test_ohms_in_circuit_read_what_is_parallel():
    """4.7 kΩ with 10 kΩ beside it reads 3.197 kΩ.

    In circuit an ohmmeter reads every parallel path: Keysight, U1231A handheld multimeter user's guide, p. 40.
    """
    band = measured("rails: {+5V: 5 V}\nparts:\n  R1: {resistor: 4.7k, between: [A, GND]}\n"
                    "  R2: {resistor: 10k, between: [A, GND]}\n", What.OHMS, "A")
    assert band.expected == pytest.approx(3197, rel=1e-4)


def test_ammeter_drops_its_burden():
    """A 1.8 mV/mA meter loses 360 mV at 200 mA (Fluke, article on burden voltage)."""
    band = measured("rails: {+5V: 5 V}\nparts:\n  R1: {resistor: 23.2, between: [+5V, OUT]}\n"
                    "  R2: {resistor: 1M, between: [OUT, GND]}\n", What.AMPS, "OUT")
    assert band.expected == pytest.approx(0.2, rel=1e-3)
    assert (5 - band.expected * 23.2) == pytest.approx(0.360, rel=2e-3)


def test_diode_test_of_a_silicon_diode():
    """0.4 V to 0.7 V forward, OL reversed (Sonel, CMM-10 multimeter user manual, p. 17)."""
    text = "rails: {+5V: 5 V}\nparts:\n  D1: {diode: 1N4148, anode: A, cathode: GND}\n"
    forward = measured(text, What.DIODE, "A")
    assert 0.4 < forward.low < forward.expected < forward.high < 0.7
    assert measured(text, What.DIODE, "GND", "A").low == math.inf


def test_diode_drop_at_the_test_current():
    """The sheet's diode test agrees with the current that the meter's own source drives into that drop."""
    band = measured("rails: {+5V: 5 V}\nparts:\n  D1: {diode: 1N4148, anode: A, cathode: GND}\n", What.DIODE, "A")
    amps = (meter.DIODE_TEST_V - band.expected) / (meter.DIODE_TEST_V / meter.DIODE_TEST_A)
    assert 0.85e-3 < amps < 1.0e-3


def test_dead_rails_are_taken_open_and_shorted():
    """A path through the rest of the board widens the band downward, never upward."""
    band = measured("rails: {+5V: 5 V}\nparts:\n  R1: {resistor: 10k, between: [A, GND]}\n"
                    "  R2: {resistor: 1k, between: [A, +5V]}\n", What.OHMS, "A")
    assert band.expected == pytest.approx(10_000, rel=1e-3)
    assert band.low < 1 / (1 / 10e3 + 1 / 1e3) < band.expected
    assert band.high == pytest.approx(10_500, rel=0.02)  # no more than its own tolerance and the meter's error


def test_open_net_reads_overload_and_floating_net_reads_nothing():
    text = "rails: {+5V: 5 V}\nparts:\n  R1: {resistor: 1k, between: [A, B]}\n" \
           "  C1: {capacitor: 1u, between: [B, GND]}\n"
    assert measured(text, What.OHMS, "A").expected == math.inf
    assert measured(text, What.VOLTS, "A").expected == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(("name", "mod"), [("rack-sampler", None), ("rack-sampler", "coin-cell"),
                                           ("logger", "coin-cell"), ("clock-card", None)])
def test_bands_hold_every_corner(name, mod):
    """Bands are sums over single tolerances; every combination of tolerances lies inside them."""
    fragment = example(name, mod)
    probes = [p for p in probe_sheet(fragment).probes if p.measurement.what is What.VOLTS]
    corners = [Corner("vertex", ROOM_C, supply, resistance, used, drop, leakage, draw)
               for supply, resistance, used, drop, leakage, draw in product(
                   (-1, 1), (-1, 1), (0.0, OLD), ("minimum", "maximum"), ("typical", "maximum"),
                   ("typical", "maximum"))]
    for probe in probes:
        m = probe.measurement
        loaded = Resistance(METER, m.at, m.against, m.meter_ohm)
        circuits = [circuit_of(fragment, m.state, corner, without=m.without, extra=(loaded,)) for corner in corners]
        for point in solve(circuits):
            assert probe.low <= point.amps[METER] * m.meter_ohm <= probe.high, probe.what_for


@pytest.mark.parametrize("name", NAMES)
def test_no_cell_is_in_before_the_holders_are_proved(name):
    """Every line with a cell in its holder comes after every line that takes it out."""
    fragment = example(name)
    held = {part.name for part in fragment.parts.values() if part.kind == "cell" and part.plugged}
    out = [held <= set(probe.measurement.without) for probe in probe_sheet(fragment).probes]
    assert True in out
    assert False in out
    assert out == sorted(out, reverse=True)


def test_sheet_begins_with_the_power_off_and_ends_with_it_on():
    sheet = probe_sheet(example("rack-sampler"))
    assert [section.title for section in sheet.sections] == [
        "Power off, cells out: the parts and the trace", "Power on, cells out: the empty holders",
        "State stored", "State running"]
    assert all(probe.measurement.what.unpowered for probe in sheet.sections[0].probes)


@pytest.mark.parametrize("name", NAMES)
def test_every_net_is_probed_in_some_state_and_only_named_states_are_gone_through(name):
    fragment = example(name)
    sheet = probe_sheet(fragment)
    probes = [probe for probe in sheet.probes
              if probe.measurement.what is What.VOLTS and not probe.measurement.without]
    assert {probe.measurement.state.name for probe in probes} <= {state.name for state in fragment.states}
    assert {net for probe in probes for net in probe.what_for.split(", ")} == set(fragment.nets) - {fragment.ground}
    assert sheet.untried == len(enumerate_states(fragment).states) - len(fragment.states)


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.yaml")), ids=lambda path: path.stem)
def test_sheet_is_for_a_human(path):
    """At most about 25 rows, none that a meter cannot judge, none twice."""
    found = netcheck.load(path)
    for fragment in (found, *(mods.apply(found, mod) for mod in found.mods)):
        sheet = probe_sheet(fragment)
        assert len(sheet.probes) <= 25
        assert [probe.step for probe in sheet.probes] == list(range(1, len(sheet.probes) + 1))
        for probe in sheet.probes:
            what = probe.measurement.what
            if what is What.AMPS and probe.limit is not None:
                assert probe.limit >= 3 * meter.count(what, probe.limit)
            if what is What.AMPS and probe.limit is None:
                assert abs(probe.expected) >= 3 * meter.count(what, probe.expected)
        seen = [(probe.measurement.at, probe.measurement.against, round(probe.low, 2), round(probe.high, 2))
                for probe in sheet.probes if probe.measurement.what is What.VOLTS and not probe.measurement.without]
        assert len(seen) == len(set(seen))


CLEARING = """\
title: a jumper that shorts the cell
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [CELL, N]}
  D1: {diode: 1N4148, anode: N, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  JP1: {jumper: [CELL, GND], set: open}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
states: {stored: {main: off}, running: {main: on}, wrong: {main: off, JP1: closed}}
"""


def test_sheet_of_a_danger_ends_at_the_empty_holder_and_says_why():
    swap = example("rack-sampler", "plain-swap")
    dangers = netcheck.check(example("rack-sampler"), "plain-swap").variants[-1].dangers
    sheet = probe_sheet(swap, dangers=dangers)
    assert sheet.stopped
    assert all("BT1" in probe.measurement.without for probe in sheet.probes)
    assert any(probe.forbidden for probe in sheet.probes)
    text = sheet_text(sheet)
    assert "Here the sheet ends: no cell goes in" in text
    assert text.index("Here the sheet ends") > text.index("DO NOT FIT BT1")


def test_state_that_harms_without_a_cell_is_not_powered():
    fragment = netcheck.loads(CLEARING)
    danger = netcheck.Severity.DANGER
    load = netcheck.Finding("over-voltage", danger, "U1", "beyond", "running", figures={"volts_V": 12, "limit_V": 5.5})
    cell = netcheck.Finding("charge-route", danger, "BT1", "charged-unknown", "running")
    for stop, probed in ((load, False), (cell, True)):
        sheet = probe_sheet(fragment, dangers=[stop])
        assert ("running" in {probe.measurement.state.name for probe in sheet.probes
                              if not probe.measurement.what.unpowered}) is probed


def test_what_flows_out_of_a_cell_and_what_flows_in_are_told_apart():
    notes = {probe.state: probe.note for probe in probe_sheet(example("rack-sampler")).probes
             if probe.measurement.through == "BT1"}
    assert "out of BT1" in notes["stored"]
    assert "into BT1: it is charged" in notes["running"]


def test_each_resistor_and_diode_is_tested_with_the_power_off():
    sheet = probe_sheet(example("logger"))
    assert [probe.what_for for probe in sheet.sections[0].probes] == [
        "R1", "R2", "D2", "D2 reversed", "Q1 emitter-base", "Q1 emitter-base reversed", "Q1 collector-base",
        "Q1 collector-base reversed", "D1", "D1 reversed"]


def test_limit_at_the_holder_is_the_leakage_share():
    """3 % of 220 mAh over 10 years of 24 h is 75 nA, which drops 0.75 V across 10 MΩ (3 %: common practice)."""
    fragment = example("clock-card", "coin-cell")
    cell = fragment.parts["BT1"]
    share = cell.spec.leak_share * cell.spec.capacity_Ah / (10 * 8760)
    assert share == pytest.approx(75e-9, rel=0.1)
    assert current_limit(fragment, cell) == pytest.approx(share)
    assert volts_limit(cell, share, 10e6) == pytest.approx(share * 10e6)
    assert volts_limit(cell, 1.0, 10e6) == pytest.approx(cell.spec.curve[0].volts_V)


def holders(name, mod):
    return [p for p in probe_sheet(example(name, mod)).probes if p.limit is not None]


def test_cell_that_would_be_charged_is_forbidden():
    assert all(probe.forbidden for probe in holders("rack-sampler", "plain-swap"))
    assert holders("rack-sampler", "coin-cell")
    assert not any(probe.forbidden for probe in holders("rack-sampler", "coin-cell"))
    text = sheet_text(probe_sheet(example("rack-sampler", "plain-swap")))
    assert "GIVES MORE THAN THAT: DO NOT FIT BT1" in " ".join(text.split())


def test_holder_volts_are_leakage_times_the_meter():
    """At an empty holder behind a blocking diode the voltmeter is a nanoammeter."""
    fragment = example("rack-sampler", "coin-cell")
    at_10M, at_1M = (next(p for p in probe_sheet(fragment, ohm).probes if p.limit).expected for ohm in (10e6, 1e6))
    assert at_10M == pytest.approx(10 * at_1M, rel=0.02)


def test_what_is_not_known_is_unknown():
    fragment = netcheck.loads("""
title: a part of which too little is known
rails: {+5V: 5 V}
parts:
  Q1: {transistor: {polarity: n-channel}, drain: OUT, gate: +5V, source: GND}
  R1: {resistor: 1k, between: [+5V, OUT]}
""")
    probes = {(p.measurement.what, p.measurement.at): p for p in probe_sheet(fragment).probes if p.state == "main on"}
    probe = probes[What.VOLTS, "OUT"]
    assert probe.expected is None
    assert "Q1" in probe.problem
    assert "unknown" in sheet_text(probe_sheet(fragment))


@pytest.mark.parametrize("name", NAMES)
def test_text_fits_the_page_and_has_a_blank_a_probe(name):
    sheet = probe_sheet(example(name))
    lines = sheet_text(sheet).splitlines()
    assert max(map(len, lines)) <= 80
    assert sum("______" in line for line in lines) == len(sheet.probes)


def test_csv_holds_the_sheet():
    sheet = probe_sheet(example("rack-sampler"))
    rows = list(csv.DictReader(io.StringIO(sheet_csv(sheet))))
    assert [int(row["step"]) for row in rows] == list(range(1, len(sheet.probes) + 1))
    assert not any(row["reading"] for row in rows)
    stored = next(row for row in rows if row["state"] == "stored" and row["at"] == "VRAM" and row["test"] == "volts")
    assert float(stored["low"]) < float(stored["expected"]) < float(stored["high"])
    assert next(row for row in rows if row["at"] == "CELL" and row["against"] == "CHG")["expected"] == "OL"


def run(*arguments):
    return CliRunner().invoke(command, [str(argument) for argument in arguments])


def filled(tmp_path, change=None):
    """The rack sampler's sheet, filled in with what is expected; change: (net, state, test) to another reading."""
    fragment = example("rack-sampler", "coin-cell")
    rows = [row for row in csv.DictReader(io.StringIO(sheet_csv(probe_sheet(fragment)))) if row["test"] != "diode"]
    for row in rows:
        row["reading"] = (change or {}).get((row["at"], row["state"], row["test"]), row["expected"])
    path = tmp_path / "sheet.csv"
    with path.open("w", newline="") as file:
        table = csv.DictWriter(file, rows[0])
        table.writeheader()
        table.writerows(rows)
    return path


def test_command_prints_a_sheet():
    done = run(EXAMPLES / "rack-sampler.yaml", "--mod", "coin-cell", "--meter", "1M")
    assert done.exit_code == 0
    assert "A meter of 1 MΩ" in done.output


def test_sheet_filled_in_can_be_fed_back(tmp_path):
    good = run(EXAMPLES / "rack-sampler.yaml", "--readings", filled(tmp_path))
    assert good.exit_code == 0
    assert "Readings, coin-cell: all agree" in good.output
    path = filled(tmp_path, {("VRAM", "stored", "volts"): "0.012 V"})
    bad = run(EXAMPLES / "rack-sampler.yaml", "--readings", path, "--mod", "coin-cell")
    assert bad.exit_code == 1
    assert "1 of 9 disagree" in bad.output
    again = run(EXAMPLES / "rack-sampler.yaml", "--readings", path, "--mod", "coin-cell", "--format", "csv")
    rows = csv.DictReader(io.StringIO(again.output))
    assert next(row for row in rows if (row["at"], row["state"], row["test"]) == ("VRAM", "stored", "volts"))[
        "reading"] == "0.012"


@pytest.mark.parametrize(("arguments", "said"), [
    (["--mod", "coincell"], "Did you mean 'coin-cell'?"),
    (["--meter", "10 V"], "a resistance"),
    (["--meter", "0"], "such as 10M"),
    (["--readings", "no-such-file.csv"], "no-such-file.csv"),
])
def test_command_refuses_what_it_cannot_use(arguments, said):
    done = run(EXAMPLES / "rack-sampler.yaml", *arguments)
    assert done.exit_code == 2
    assert said in done.output


def answered(form, text):
    """A sheet with a healthy board's readings written in, one of them wrong."""
    if form == "text":
        return text.replace("______ Ω", "470", 1).replace("______ V", "0,353 V", 1).replace("______ V", "__OL__", 1)
    lines = []
    for line in text.splitlines():
        if "volts: }" in line and "at: VRAM" in line and "state: stored" in line:
            line = line.replace("volts: }", "volts: 0.9}")
        elif "diode: }" in line and "D1 reversed" in line:
            line = line.replace("diode: }", "diode: OL}")
        lines.append(line)
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize(("form", "said"), [("text", "all agree"), ("yaml", "1 of 2 disagree")])
def test_sheet_as_text_and_as_yaml_can_be_filled_in_and_fed_back(tmp_path, form, said):
    sheet = run(EXAMPLES / "rack-sampler.yaml", "--mod", "coin-cell", "--format", form).output
    path = tmp_path / f"sheet.{form}"
    path.write_text(answered(form, sheet))
    result = run(EXAMPLES / "rack-sampler.yaml", "--mod", "coin-cell", "--readings", path)
    assert f"Readings, coin-cell: {said}" in result.output


def test_lone_1_is_asked_about_and_an_empty_sheet_is_told(tmp_path):
    sheet = run(EXAMPLES / "rack-sampler.yaml", "--mod", "coin-cell", "--format", "text").output
    path = tmp_path / "sheet.txt"
    path.write_text(sheet.replace("______ Ω", "1", 1))
    result = run(EXAMPLES / "rack-sampler.yaml", "--readings", path)
    assert result.exit_code == 2
    assert "OL, where the meter showed nothing but a 1" in result.output
    path.write_text(sheet)
    assert "no blank is filled in" in run(EXAMPLES / "rack-sampler.yaml", "--readings", path).output


def test_rail_without_a_tolerance_has_the_usual_one():
    band = measured("rails: {+5V: 5 V}\nparts:\n  R1: {resistor: 1k, between: [+5V, GND]}\n", What.VOLTS, "+5V")
    assert (band.low, band.high) == pytest.approx((4.75, 5.25), abs=0.05)


def test_a_capacitor_that_leaks_at_most_but_not_typically_has_a_sheet():
    """An electrolytic without a type: its leakage is an element of one corner only."""
    band = measured("parts:\n  BT1: {cell: CR2032, plus: CELL, minus: GND}\n"
                    "  R1: {resistor: 100k, between: [CELL, V]}\n  C1: {capacitor: 4700u, plus: V, minus: GND}\n",
                    What.VOLTS, "V", on=False)
    assert band.low < band.expected - 0.3


@pytest.mark.parametrize(("written", "meant"), [
    ("OL V", "OL"), ("3.02 V V", "3.02 V"), ("580 mV V", "580 mV"), ("3,02 V", "3,02 V"), ("__2.9__ V", "2.9 V"),
    ("4.7k Ω", "4.7k"), ("OL Ω", "OL"), ("4.7 kΩ", "4.7 kΩ"), ("12 µA A", "12 µA"), ("580 mV", "580 mV"),
])
def test_a_unit_may_be_written_before_the_printed_one(written, meant):
    assert text_sheet._said(written) == meant


@pytest.mark.parametrize(("row", "written", "value"), [
    ("V", "580 mV", 0.58), ("V", "OL", None), ("V", "0,58", 0.58), ("V", "0.58 V", 0.58),
    ("Ω", "4.7k", 4700.0), ("Ω", "OL", None), ("Ω", "470 Ω", 470.0),
])
def test_blanks_are_read_with_a_unit_before_the_printed_one(row, written, value):
    sheet = probe_sheet(netcheck.loads(
        "title: t\nrails: {+5V: 5 V}\nparts:\n  R1: {resistor: 470, between: [+5V, A]}\n"
        "  D1: {diode: 1N4148, anode: A, cathode: GND}\n"))
    text = sheet_text(sheet).replace(f"______ {row}", f"{written} {row}", 1)
    taken = text_sheet.readings(text, "sheet.txt", sheet)[0]
    found = taken.ohms if row == "Ω" else taken.diode_V
    assert found == pytest.approx(value) if written != "OL" else meter.overload(
        What.OHMS if row == "Ω" else What.DIODE, found)


LOOSE_REGULATOR = """title: An adjustable supply with a heavy load
rails: {+5V: 5 V ±5%}
parts:
  U5: {regulator: LM1084, input: +5V, output: VC, adjust: ADJ, heatsink: 12 K/W}
  R1: {resistor: 100 ±1%, between: [VC, ADJ]}
  R2: {resistor: 160 ±1%, between: [ADJ, GND]}
  R3: {resistor: 1k ±1%, between: [ADJ, T1]}
  R4: {resistor: 470 ±1%, between: [ADJ, T2]}
  JP1: {jumper: [T1, GND], set: open}
  JP2: {jumper: [T2, GND], set: open}
  C1: {capacitor: 47u, type: tantalum, rated: 10 V, plus: VC, minus: GND}
  C2: {capacitor: 47u, type: tantalum, rated: 6.3 V, plus: +5V, minus: GND}
  U1: {load: {draws: 2 A at 3.3 V, most: 3 A}, plus: VC, minus: GND, works: 3.1 V to 3.6 V, survives: 4.0 V}
settings:
  - {of: U5, want: [3.3 V, 3.45 V, 2.9 V], within: 2%}
"""


def test_resistor_on_a_dead_board_with_a_heavy_load_is_worked_out():
    """R3 hangs on an open jumper, and 1 kΩ is all that lies between its ends."""
    sheet = probe_sheet(netcheck.loads(LOOSE_REGULATOR))
    assert not [probe.problem for probe in sheet.probes if probe.problem]
    assert next(probe for probe in sheet.probes if probe.what_for == "R3").expected == pytest.approx(1000, rel=0.01)


def test_power_goes_off_before_a_jumper_moves():
    fragment = netcheck.loads(LOOSE_REGULATOR)
    states = [section for section in probe_sheet(fragment).sections if section.title.startswith("State main on, JP1 c")]
    assert states
    assert all(any("Power off before JP" in sentence for sentence in one.how) for one in states)
