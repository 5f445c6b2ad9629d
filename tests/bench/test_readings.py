"""Readings: each judged against its own circuit, from the fragment file or from a file of their own."""

from __future__ import annotations

import math

import pytest
from msgspec.structs import replace

import netcheck
from netcheck.bench.readings import explain, judge_readings, reading_findings
from netcheck.findings import Severity
from netcheck.fragment import mods
from netcheck.reading.mistakes import FragmentError
from netcheck.reading.readings_file import loads_readings
from netcheck.reports.bench_text import readings_text

BOARD = """
title: A clock's backup (invented)
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k ±5%, between: [CELL, HOLD]}
  D1: {diode: 1N4148, anode: HOLD, cathode: VRTC}
  D2: {diode: 1N4148, anode: +5V, cathode: VRTC}
  U1: {load: 2 uA, plus: VRTC, minus: GND, works: 2.0 V to 5.5 V}
states: {running: {main: on}, stored: {main: off}}
mods:
  linked:
    steps:
      - {join: [HOLD, CELL]}
"""


def board(*entries, mod=None):
    text = BOARD + "readings:\n" + "".join(f"  - {{{entry}}}\n" for entry in entries)
    fragment = netcheck.loads(text if entries else BOARD)
    return fragment if mod is None else mods.apply(fragment, mod)


def results(*entries):
    return [one.result for one in judge_readings(board(*entries)).judged]


def test_readings_are_ok_low_or_high():
    assert results("state: stored, at: VRTC, volts: 2.8", "state: stored, at: VRTC, volts: 1.2",
                   "state: stored, at: VRTC, volts: 4.4") == ["ok", "low", "high"]


def test_a_reading_has_its_own_meter_and_empty_holder():
    """5 nA of a silicon diode's leakage stands as 50 mV on 10 MΩ and as 5 mV on 1 MΩ; with the cell in it is 3 V."""
    entry = "state: running, at: CELL, against: GND"
    assert results(f"{entry}, volts: 3.2", f"{entry}, volts: 3.2, without: [BT1]",
                   f"{entry}, volts: 0.05, without: [BT1]") == ["ok", "high", "ok"]
    assert results(f"{entry}, volts: 0.08, without: [BT1]", f"{entry}, volts: 0.08, without: [BT1], meter: 1M") == [
        "ok", "high"]


def test_powered_off_readings_need_no_state_and_count_without_the_cell():
    assert results("at: CELL, against: HOLD, ohms: 1.01k", "at: CELL, against: HOLD, ohms: 470",
                   "at: HOLD, against: VRTC, diode: 0.62", "at: HOLD, against: VRTC, diode: 0.02") == [
        "ok", "low", "ok", "low"]


def test_currents_are_judged_in_either_direction():
    entry = "state: stored, through: BT1"
    assert results(f"{entry}, amps: 2 uA", f"{entry}, amps: 40 uA") == ["ok", "high"]


def test_a_reading_without_its_state_cannot_be_judged():
    judged = judge_readings(board("at: VRTC, volts: 2.8")).judged[0]
    assert judged.result == "unknown"
    assert "which state" in judged.words


def test_findings_name_the_line_and_the_unknown_is_not_ok():
    fragment = board("state: stored, at: VRTC, volts: 2.8", "state: stored, at: VRTC, volts: 0.0",
                     "at: VRTC, volts: 2.8")
    findings = reading_findings(fragment)
    assert [one.severity for one in findings] == [Severity.CAUTION, Severity.UNKNOWN, Severity.NOTE]
    assert [one.line for one in findings[:2]] == [fragment.readings[1].mark.line, fragment.readings[2].mark.line]
    assert "too low: expected 2.9" in findings[0].message
    assert reading_findings(board("state: stored, at: VRTC, volts: 2.8")) == []


def test_readings_of_another_variant_are_left_out():
    fragment = board("state: stored, at: VRTC, volts: 2.8", "mod: linked, state: stored, at: HOLD, volts: 3.2")
    assert len(judge_readings(fragment).judged) == 1
    (one,) = judge_readings(mods.apply(fragment, "linked")).judged
    assert one.result == "ok"  # taken under the name that the net had before it was linked


def judged_file(text, name, mod=None):
    fragment = board()
    fragment = replace(fragment, readings=loads_readings(text, name, fragment))
    return judge_readings(fragment if mod is None else mods.apply(fragment, mod))


def test_a_file_of_readings_is_a_list_or_a_section():
    entry = "{state: stored, at: VRTC, volts: 2.8}"
    for text in (f"- {entry}\n", f"readings: [{entry}]\n"):
        assert [one.result for one in judged_file(text, "r.yaml").judged] == ["ok"]


def test_a_sheet_may_hold_only_what_is_needed():
    text = "at,state,reading,who took it\nVRTC,stored,2.8 V,me\nVRTC,running,4.4,me\nCELL,stored,,me\n"
    assert [one.result for one in judged_file(text, "r.csv").judged] == ["ok", "ok"]
    assert len(judged_file(text.replace(",", ";"), "R.CSV").judged) == 2


def test_a_link_made_by_a_mod_keeps_the_old_names():
    text = "mod,at,state,reading\nlinked,HOLD,stored,3.2\nlinked,CELL,stored,3.2\n"
    assert [one.result for one in judged_file(text, "r.csv", "linked").judged] == ["ok", "ok"]


def test_decimal_comma_is_read_as_it_is_meant():
    (said,) = loads_readings('at,state,reading\nVRTC,stored,"2,8 V"\n', "r.csv", board())
    assert said.volts == 2.8


def test_overload_is_a_reading():
    text = "test,at,against,reading\ndiode,VRTC,HOLD,OL\nohms,HOLD,CELL,OL\ndiode,HOLD,VRTC,0.61\n"
    judged = judged_file(text, "r.csv").judged
    assert [one.result for one in judged] == ["ok", "high", "ok"]
    assert judged[0].value == math.inf


@pytest.mark.parametrize(("text", "line", "said"), [
    ("at,state,reading\nVRTD,stored,2.8\n", 2, 'did you mean "VRTC"'),
    ("at,state,reading\nVRTC,sored,2.8\n", 2, 'did you mean "stored"'),
    ("at,state,reading\n\nVRTC,stored,2.8 A\n", 3, "a voltage"),
    ("at,state,reading\nVRTC,stored,2,8 V\n", 2, "3 cells"),
    ("at,sate,reading\nVRTC,stored,2.8\n", 1, 'did you mean "state"'),
    ("at,state\nVRTC,stored\n", 1, '"reading"'),
    ("at,test,state,reading\nVRTC,volt,stored,2.8\n", 2, 'did you mean "volts"'),
    ("at,state,reading\nVRTC,stored,\n", 1, "no blank is filled in"),
    ('at,state,reading\nVRTC,"stored,2.8\n', 2, "valid CSV"),
])
def test_mistakes_in_a_sheet_are_told_by_their_line(text, line, said):
    with pytest.raises(FragmentError) as told:
        loads_readings(text, "r.csv", board())
    assert told.value.faults[0].line == line
    assert said in str(told.value)


@pytest.mark.parametrize("text", ["just words\n", "reading: []\n", "readings: {a: b}\n"])
def test_a_file_that_is_no_list_of_readings_is_refused(text):
    with pytest.raises(FragmentError, match="reading"):
        loads_readings(text, "r.yaml", board())


def test_text_of_judged_readings():
    fragment = board("state: stored, at: VRTC, volts: 0.0", "state: stored, at: HOLD, volts: 3.2",
                     "state: running, at: VRTC, volts: 4.5")
    judged = judge_readings(fragment)
    text = readings_text([(judged, explain(fragment, judged))])
    assert "1 of 3 disagree" in text
    assert "LOW" in text
    assert "D1 open" in text
    assert max(map(len, text.splitlines())) <= 80


IDLE_CELL = """title: One coin cell and a gate
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: VB, minus: GND}
  R1: {resistor: 330, between: [VB, VX]}
  D1: {diode: 1N4148, anode: VX, cathode: VM}
  D2: {diode: 1N4148, anode: +5V, cathode: VM}
  U4: {load: 74HC-gate, plus: VM, minus: GND}
readings:
  - {state: main on, at: VB, volts: 3.25, meter: 10M}
  - {state: main off, at: VB, volts: 2.78, meter: 10M}
  - {state: main on, at: VB, volts: 3.4, meter: 10M}
"""


def test_a_fresh_cell_that_gives_nothing_is_no_fault():
    """A fresh one without a load stands at 3.25 V; 3.4 V is beyond what any gives."""
    judged = judge_readings(netcheck.loads(IDLE_CELL)).judged
    assert [one.result for one in judged] == ["ok", "ok", "high"]
