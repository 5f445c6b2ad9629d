"""Settings of a regulator: every position of its links, worst case, heat, slips and failed parts."""

from __future__ import annotations

from itertools import product

import pytest

from netcheck.api import check, loads, settings_of
from netcheck.reports.settings_text import failed
from netcheck.supply.results import Settings

BOARD = """
title: Core supply
rails: {{+5V: 5 V {rail}}}
conditions: {{temperature: 10 to 40 °C}}
parts:
  U5:  {{regulator: {regulator}, input: +5V, output: VC, adjust: ADJ, ground: GND{sink}}}
  R1:  {{resistor: {top}, between: [VC, ADJ]}}
  R2:  {{resistor: {bottom}, between: [ADJ, GND]}}
{more}
"""
UPPER = ("{reference: 1.25 V ±1%, between: output-adjust, adjust_current: 50 uA, adjust_current_max: 100 uA, "
         "dropout: 1 V, dropout_least: 0.8 V, limit: 3 A, junction_max: 125 °C, junction_case: 3 K/W, "
         "junction_ambient: 50 K/W}")
LOWER = ("{reference: 1.25 V ±1%, between: adjust-ground, dropout: 0.5 V, limit: 2 A, junction_max: 125 °C, "
         "junction_case: 3 K/W, junction_ambient: 50 K/W}")


def board(regulator: str = UPPER, more: str = "", rail: str = "±5%", sink: str = ", heatsink: 12 K/W",
          top: str = "120 ±1%", bottom: str = "191 ±1%") -> str:
    lines = "\n".join("  " + line for line in more.strip().splitlines())
    return BOARD.format(regulator=regulator, more=lines, rail=rail, sink=sink, top=top, bottom=bottom)


def of(text: str, name: str = "U5") -> Settings:
    return settings_of(loads(text))[name]


LOAD = "U6: {load: {draws: 0.5 A at 3.3 V, most: 1 A}, plus: VC, minus: GND, works: 3.1 V to 3.6 V, survives: 4.0 V}"
LINKS = "R3: {resistor: 1k ±1%, between: [ADJ, S1]}\nJP1: {jumper: [S1, GND]}\n"


def test_every_position_of_the_links_is_a_setting_lowest_volts_first() -> None:
    """VOUT = VREF·(1 + R2/R1) + IADJ·R2, R2 and what the link puts across it: LM317 data sheet, TI, SNVS774O."""
    found = of(board(more=LINKS + LOAD))
    assert [dict(one.positions) for one in found.settings] == [{"JP1": "closed"}, {"JP1": "open"}]
    for setting, below in zip(found.settings, (191 * 1000 / 1191, 191), strict=True):
        assert setting.output_V == pytest.approx(1.25 * (1 + below / 120) + 50e-6 * below, abs=2e-3)


@pytest.mark.parametrize("regulator", [UPPER, LOWER])
def test_the_worst_case_is_that_of_every_combination_of_ends(regulator: str) -> None:
    """Every corner of reference, both resistors and the adjust current by the formula, and no simulated one beyond."""
    (setting,) = of(board(regulator, LOAD, bottom="75 ±2%" if regulator is LOWER else "191 ±2%")).settings
    volts = []
    for reference, up, down, adjust in product((1.2375, 1.2625), (118.8, 121.2), (0.98, 1.02), (0.0, 100e-6)):
        low = down * (75 if regulator is LOWER else 191)
        volts.append(reference * (1 + low / up) + adjust * low if regulator is UPPER else reference * (1 + up / low))
    assert setting.output_max_V == pytest.approx(max(volts), abs=2e-3)
    assert setting.output_min_V == pytest.approx(min(volts), abs=2e-3)


def test_headroom_dropout_watts_and_junction() -> None:
    (setting,) = of(board(more=LOAD)).settings
    output = 1.25 * (1 + 191 / 120) + 50e-6 * 191
    assert setting.headroom_V == pytest.approx(4.75 - output - 1.0, abs=2e-3)
    assert not setting.in_dropout
    assert setting.load_A == pytest.approx(1.0, rel=1e-4)
    beside = (1.25) / 120
    assert setting.dissipation_W == pytest.approx((5.25 - output) * (1.0 + beside), rel=2e-3)
    assert setting.junction_C == pytest.approx(40 + setting.dissipation_W * 15, abs=0.1)
    assert setting.junction_limit_A == pytest.approx((125 - 40) / 15 / (5.25 - output) - beside, rel=2e-3)


def test_a_setting_in_dropout_says_by_how_much() -> None:
    (setting,) = of(board(more=LOAD.replace("3.6 V", "5 V").replace("4.0 V", "5.5 V"), bottom="300 ±1%")).settings
    wanted = 1.25 * (1 + 300 / 120) + 50e-6 * 300
    assert setting.in_dropout
    assert setting.output_V == pytest.approx(4.0, abs=2e-3)
    assert setting.headroom_V == pytest.approx(4.75 - 1 - wanted, abs=2e-3)
    assert setting.verdict == "fails"
    assert "In dropout: 4.39 V are asked for and 4 V come out" in setting.why


def test_past_its_limit_it_says_from_which_load_on() -> None:
    (setting,) = of(board(more=LOAD.replace("most: 1 A", "most: 3.5 A"), sink=", heatsink: 1 K/W")).settings
    assert setting.verdict == "caution"
    assert "3.51 A are drawn at most" in setting.why
    assert "it holds to a load of 2.99 A" in setting.why


def test_without_a_heat_sink_it_is_too_hot_and_says_what_it_bears() -> None:
    (setting,) = of(board(more=LOAD, sink=", heatsink: none")).settings
    assert setting.junction_C == pytest.approx(40 + 50 * setting.dissipation_W, abs=0.1)
    assert setting.verdict == "caution"
    assert "Too hot by" in setting.why


def test_no_thermal_figure_is_unknown_and_never_ok() -> None:
    bare = "{reference: 1.25 V, between: adjust-ground, dropout: 0.5 V, limit: 2 A}"
    (setting,) = of(board(bare, LOAD, bottom="75 ±1%")).settings
    assert setting.junction_C is None
    assert setting.verdict == "unknown"


def test_an_open_link_that_lets_the_output_go_is_a_danger_with_its_slip() -> None:
    """Reference between output and adjust, nothing from adjust to ground: the output goes to input less dropout."""
    more = "R4: {resistor: 200 ±1%, between: [ADJ, S4]}\nJP4: {jumper: [S4, GND], set: closed}\n" + LOAD
    text = board(more=more).replace("  R2:  {resistor: 191 ±1%, between: [ADJ, GND]}\n", "")
    found = of(text)
    last = found.settings[-1]
    assert last.positions == {"JP4": "open"}
    assert last.verdict == "danger"
    assert last.output_max_V == pytest.approx(5.25, abs=5e-3)  # without a load even past the dropout
    assert "Nothing sets the output" in last.why
    report = check(loads(text))
    said = [one for one in report.variants[-1].findings if one.check == "link-mistake"]
    assert report.verdict == "danger"
    assert "JP4 forgotten" in said[0].message
    assert "Never move a link with the power on" in said[0].message


def test_the_other_family_falls_to_its_reference_with_the_link_out() -> None:
    """Reference between adjust and ground, nothing to ground: the adjust pin stands at the output, VOUT = VREF."""
    text = board(LOWER, "R4: {resistor: 75 ±1%, between: [ADJ, S4]}\nJP4: {jumper: [S4, GND], set: closed}\n" + LOAD)
    found = of(text.replace("  R2:  {resistor: 191 ±1%, between: [ADJ, GND]}\n", ""))
    assert found.settings[0].positions == {"JP4": "open"}
    assert found.settings[0].output_V == pytest.approx(1.25, abs=2e-3)


def test_failed_parts_against_the_formula() -> None:
    (setting,) = of(board(more=LOAD)).settings
    volts = {(fault.part, fault.how): fault.output_V for fault in setting.faults}
    assert volts["R2", "open"] == pytest.approx(5.25 - 0.8, abs=5e-3)
    assert volts["R2", "short"] == pytest.approx(1.2625, abs=5e-3)
    assert volts["R1", "short"] == pytest.approx(5.25 - 0.8, abs=5e-3)
    assert volts["R1", "open"] == pytest.approx(1.2625 + 100e-6 * 191, abs=5e-3)
    assert volts["U5", "adjust pin open"] == pytest.approx(5.25 - 0.8, abs=5e-3)
    assert volts["U5", "adjust pin grounded"] == pytest.approx(1.2625, abs=5e-3)
    assert volts["U5", "shorted through"] == pytest.approx(5.25, abs=5e-3)
    assert {fault.part for fault in setting.faults if "U6" in fault.hurts} == {"R1", "R2", "U5"}


JUMPERED = """
title: a supply with two jumpers
rails: {+12V: 12 V ±5%}
parts:
  U1: {regulator: LM317, input: +12V, output: VA, adjust: ADJ, heatsink: 15 K/W}
  R1: {resistor: 240 ±1%, between: [VA, ADJ]}
  R2: {resistor: 750 ±1%, between: [ADJ, M1]}
  R3: {resistor: 330 ±1%, between: [M1, M2]}
  R4: {resistor: 470 ±1%, between: [M2, GND]}
  JP1: {jumper: [M1, M2], set: closed}
  JP2: {jumper: [M2, GND], set: JP2_SET}
  U3: {load: 0.3 A at 5 V, plus: VA, minus: GND, works: 4.75 V to 5.5 V, survives: 7 V}
"""


@pytest.mark.parametrize(("put", "harmful"), [
    ("closed", {("R1", "short"), ("R2", "open"), ("R3", "open"),
      ("U1", "adjust pin open"), ("U1", "shorted through")}),
    ("open", {("R1", "short"), ("R2", "open"), ("R3", "open"),
      ("R4", "open"), ("U1", "adjust pin open"), ("U1", "shorted through")}),
])
def test_a_failure_harms_only_where_the_output_is_higher_by_it_and_both_commands_list_the_same(put, harmful) -> None:
    """R3 or R4 short lower the output, and R4 open behind a closed JP2 changes nothing.

    R3 open is felt where JP1 is open.
    """
    text = JUMPERED.replace("JP2_SET", put)
    found = of(text, "U1")
    assert {(one.part, one.how) for one in found.failures} == harmful
    (said,) = [one for one in check(loads(text)).variants[-1].findings if one.check == "setting-fault"]
    assert said.words["faults"] == tuple(one.part for one in found.failures)
    assert [line.split(": up to")[0] for line in failed(found.to_dict())] == [
        f"{one.part} {one.how}" for one in found.failures]


def test_one_failure_away_is_a_caution_and_not_told_where_the_load_survives_it() -> None:
    def told(text: str) -> list[str]:
        return [str(one.severity) for one in check(loads(text)).variants[-1].findings if one.check == "setting-fault"]

    assert told(board(more=LOAD)) == ["caution"]
    assert told(board(more=LOAD.replace("survives: 4.0 V", "survives: 5.5 V"))) == []


def test_links_elsewhere_stay_as_set_and_do_not_multiply_the_settings() -> None:
    more = LINKS + LOAD + "\nJP7: {jumper: [+5V, LAMP]}\nR9: {resistor: 1k, between: [LAMP, GND]}\n" + \
        "JP8: {jumper: [VC, LED]}\nR8: {resistor: 1k, between: [LED, GND]}"
    assert of(board(more=more)).links == ("JP1",)


def test_a_three_pin_link_a_switch_and_a_trimmer() -> None:
    three = "R3: {resistor: 1k ±1%, between: [ADJ, S1]}\nJP1: {jumper: [VC, S1, GND], set: 1-2}\n" + LOAD
    found = of(board(more=three))
    assert [dict(one.positions)["JP1"] for one in found.settings] == ["2-3", "absent", "1-2"]
    trimmer = "RV1: {trimmer: 500 ±20%, ends: [ADJ, GND], wiper: GND}\n" + LOAD
    assert len(of(board(more=trimmer)).settings) == 3


def test_a_load_below_the_minimum_lets_the_output_rise_and_it_is_said() -> None:
    """LM317 data sheet, TI, SNVS774O: below its minimum load the output rises. 10 mA in 240 Ω + 382 Ω is 6.2 V."""
    light = UPPER.replace("limit: 3 A", "limit: 3 A, minimum_load: 10 mA")
    (setting,) = of(board(light, LOAD, top="240 ±1%", bottom="382 ±1%")).settings
    assert setting.output_max_V == pytest.approx(5.25 - 0.3 * 0.55, abs=0.35)
    assert "less than the 10 mA" in setting.why


def test_two_regulators_in_a_chain_are_each_judged() -> None:
    text = """
title: Chain
rails: {+12V: 12 V ±5%}
conditions: {temperature: 10 to 40 °C}
parts:
  U4: {regulator: 7805, input: +12V, output: V5, ground: GND, heatsink: 5 K/W}
  U5: {regulator: LM1085, input: V5, output: VC, adjust: ADJ, heatsink: 12 K/W}
  R1: {resistor: 121 ±1%, between: [VC, ADJ]}
  R2: {resistor: 121 ±1%, between: [ADJ, GND]}
  U6: {load: {draws: 0.5 A at 2.5 V, most: 0.6 A}, plus: VC, minus: GND, works: 2.3 V to 2.7 V}
"""
    first, second = of(text, "U4").settings[0], of(text, "U5").settings[0]
    assert second.output_V == pytest.approx(2.5 + 55e-6 * 121, abs=2e-3)
    assert first.load_A == pytest.approx(0.6, rel=1e-3)
    assert first.dissipation_W == pytest.approx((12.6 - 5) * (0.6 + 1.25 / 121) + 12.6 * 8e-3, rel=0.01)


def test_a_negative_and_a_lifted_one() -> None:
    text = """
title: Two more
rails: {-12V: -12 V ±5%, +12V: 12 V ±5%}
parts:
  U1: {regulator: LM337, input: -12V, output: VN, adjust: AN, heatsink: 20 K/W}
  R1: {resistor: 120 ±1%, between: [VN, AN]}
  R2: {resistor: 360 ±1%, between: [AN, GND]}
  U2: {load: {draws: 0.1 A at 5 V, most: 0.1 A}, plus: GND, minus: VN, works: 4.5 V to 5.5 V}
  U3: {regulator: 7805, input: +12V, output: VP, ground: GP, heatsink: 20 K/W}
  R3: {resistor: 470 ±1%, between: [VP, GP]}
  R4: {resistor: 100 ±1%, between: [GP, GND]}
  U4: {load: {draws: 0.1 A at 7 V, most: 0.1 A}, plus: VP, minus: GND, works: 6 V to 8 V}
"""
    found = settings_of(loads(text))
    assert found["U1"].settings[0].output_V == pytest.approx(-(1.25 * 4 + 65e-6 * 360), abs=5e-3)
    assert found["U1"].settings[0].output_min_V < found["U1"].settings[0].output_V
    assert found["U3"].settings[0].output_V == pytest.approx(5 + (5 / 470 + 8e-3) * 100, abs=5e-3)


def test_current_back_through_one_whose_input_is_dead() -> None:
    def text(name: str) -> str:
        return f"""
title: Held up
rails: {{+5V: 5 V ±5%}}
parts:
  U5: {{regulator: {name}, input: +5V, output: VC, adjust: ADJ, heatsink: 20 K/W}}
  R1: {{resistor: 121, between: [VC, ADJ]}}
  R2: {{resistor: 200, between: [ADJ, GND]}}
  BT1: {{cell: CR2032, plus: CELL, minus: GND}}
  D1: {{diode: BAT85, anode: CELL, cathode: VC}}
  U6: {{load: 10 uA, plus: VC, minus: GND, works: 2.0 V to 3.6 V}}
"""
    for name, severity in (("LM317", "unknown"), ("LM1086", "caution")):
        said = [one for one in check(loads(text(name))).variants[-1].findings if one.check == "back-current"]
        assert [str(one.severity) for one in said] == [severity]


def test_readings_say_which_part_is_off() -> None:
    """R2 of 205 Ω in place of 191 Ω, both settings read as the formula has them then."""
    def volts(below: float) -> float:
        return 1.25 * (1 + below / 120) + 50e-6 * below

    readings = "states:\n  a: {main: on, JP1: open}\n  b: {main: on, JP1: closed}\nreadings:\n" + "".join(
        f"  - {{mod: as found, state: {state}, at: VC, volts: {volts(below):.4f}}}\n"
        for state, below in (("a", 205.0), ("b", 205 * 1000 / 1205)))
    text = board(more=LINKS + LOAD) + readings
    (said,) = (one.words for one in of(text).fitted)
    assert "R2 reads as 205 Ω" in said
    assert "R1 reads" not in said
    right = text.replace(f"{volts(205.0):.4f}", f"{volts(191.0):.4f}").replace(
        f"{volts(205 * 1000 / 1205):.4f}", f"{volts(191 * 1000 / 1191):.4f}")
    assert of(right).fitted == ()


def test_what_is_wanted_and_not_there_fails() -> None:
    text = board(more=LINKS + LOAD) + "settings: [{of: U5, want: [3.25 V, 2.5 V], within: 1%}]\n"
    said = [one.message for one in check(loads(text)).variants[-1].findings if one.check == "setting-wanted"]
    assert len(said) == 1
    assert "2.5 V" in said[0]


def test_the_probe_sheet_goes_through_the_settings_lowest_first_with_the_socket_empty() -> None:
    from netcheck.bench.probe_sheet import probe_sheet
    from netcheck.judging import judge

    fragment = loads(board(more=LINKS + LOAD))
    found = judge(fragment)
    sheet = probe_sheet(fragment, dangers=found.dangers, regulators=found.regulators)
    (section,) = [one for one in sheet.sections if "settings of U5" in one.title]
    assert "U6 out of the socket" in section.title
    assert [probe.what_for for probe in section.probes] == ["JP1 closed", "JP1 open"]
    assert [probe.expected for probe in section.probes] == pytest.approx(
        [one.empty_V for one in of(board(more=LINKS + LOAD)).settings], abs=2e-3)
    assert all("U6" in probe.measurement.without for probe in section.probes)


def test_a_dangerous_setting_is_marked_on_the_sheet_and_not_powered_with_the_load_in() -> None:
    from netcheck.bench.probe_sheet import probe_sheet
    from netcheck.judging import judge

    fragment = loads(board(more=LINKS + LOAD.replace("survives: 4.0 V", "survives: 3.1 V").replace("3.1 V to 3.6 V",
                                                                                             "2.8 V to 3.0 V")))
    found = judge(fragment)
    assert found.verdict == "danger"
    sheet = probe_sheet(fragment, dangers=found.dangers, regulators=found.regulators)
    (section,) = [one for one in sheet.sections if "settings of U5" in one.title]
    assert "never with it in place" in section.probes[-1].note
    assert not any(one.title.startswith("State ") for one in sheet.sections)


def test_a_heat_sink_may_be_named() -> None:
    (setting,) = of(board(more=LOAD, sink=", heatsink: small")).settings
    assert setting.junction_C == pytest.approx(40 + (3 + 15) * setting.dissipation_W, abs=0.1)


def test_the_heat_sink_that_is_advised_is_just_enough() -> None:
    """TJ = TA + P (θJC + θSA): with the advised θSA the junction keeps within its limit, with 10 % more it does not."""
    hot = board(more=LOAD, sink=", heatsink: none")
    advice = next(one.advice for one in check(loads(hot)).variants[-1].findings
                  if "heat sink of" in one.advice)
    advised = float(advice.partition("heatsink: ")[2].partition(" K/W")[0])
    limit_C = 125
    for K_per_W, within in ((advised, True), (1.1 * advised + 1, False)):
        (setting,) = of(board(more=LOAD, sink=f", heatsink: {K_per_W} K/W")).settings
        assert (setting.junction_C <= limit_C) is within, K_per_W
