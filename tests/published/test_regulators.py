"""Published formulas and worked examples of linear regulators, each as a fragment that is solved as any other."""

from __future__ import annotations

import pytest

from netcheck.api import loads, settings_of
from netcheck.supply.heat import junction_C
from netcheck.supply.results import Setting

LM317 = "{reference: 1.25 V, between: output-adjust, adjust_current: 50 uA, dropout: 2 V}"
LM108X = "{reference: 1.25 V, between: output-adjust, adjust_current: 55 uA, dropout: 1.5 V}"
LD1117 = "{reference: 1.25 V, between: output-adjust, adjust_current: 60 uA, dropout: 1.2 V}"
LM2941 = "{reference: 1.275 V, between: adjust-ground, dropout: 0.5 V}"
MIC = "{reference: 1.240 V, between: adjust-ground, dropout: 0.4 V}"
LP2951 = "{reference: 1.235 V, between: adjust-ground, dropout: 0.4 V}"


def solved(regulator: str, top: str, bottom: str, rail: str, load: str = "", more: str = "") -> list[Setting]:
    """Top from output to adjust, bottom from adjust to ground."""
    text = (f"title: t\nrails: {{IN: {rail}}}\nparts:\n"
            f"  U1: {{regulator: {regulator}, input: IN, output: OUT, adjust: ADJ, ground: GND}}\n"
            f"  R1: {{resistor: {top}, between: [OUT, ADJ]}}\n  R2: {{resistor: {bottom}, between: [ADJ, GND]}}\n"
            f"  U2: {{load: {load or '50 mA'}, plus: OUT, minus: GND}}\n{more}")
    return list(settings_of(loads(text))["U1"].settings)


@pytest.mark.parametrize(("regulator", "top", "bottom", "rail", "volts", "digits"), [
    # VOUT = VREF·(1 + R2/R1) + IADJ·R2: LM317, TI, SNVS774O; calculated with its 1.25 V and 50 µA
    (LM317, "240", "2k", "24 V", 11.77, 2),
    (LM317, "240", "390", "12 V", 3.30, 2),
    (LM317, "240", "720", "12 V", 5.04, 2),
    # LT1086, Analog Devices (Linear Technology), page 9: the same formula with 55 µA
    (LM108X, "121", "200", "5 V", 3.327, 3),
    # LD1117, ST, DocID2572 Rev 33, section 7, and LM1117, TI, SNOS412M: with 60 µA
    (LD1117, "120", "196", "5 V", 3.303, 3),
    (LD1117, "120", "360", "7 V", 5.022, 3),
    # LM2941, TI, SNVS770I, design example: 1 kΩ and 10.76 kΩ for 15 V
    (LM2941, "10.76k", "1k", "18 V", 15.0, 1),
    # MIC29302: VOUT = 1.240·(1 + R1/R2), Microchip (Micrel), DS20005685
    (MIC, "16.6k", "10k", "5 V", 3.30, 2),
    (MIC, "17.8k", "10k", "5 V", 3.45, 2),
    # LP2951: VOUT = 1.235·(1 + R1/R2), onsemi and TI
    (LP2951, "167k", "100k", "5 V", 3.30, 2),
    # a divider put in the wrong way round on a MIC29302, from a bench (4.33 V one way, 1.74 V the other by the formula)
    (MIC, "11.7k", "4.7k", "6 V", 4.33, 2),
    (MIC, "4.7k", "11.7k", "6 V", 1.74, 2),
])
def test_worked_outputs(regulator: str, top: str, bottom: str, rail: str, volts: float, digits: int) -> None:
    (setting,) = solved(regulator, top, bottom, rail)
    assert setting.output_V == pytest.approx(volts, abs=0.5 * 10 ** -digits + 2e-4)


def test_worst_case_of_the_published_limits() -> None:
    """LM1085, TI, SNVS038H: VREF 1.225 to 1.270 V over temperature, 1 % resistors 121 and 200 Ω: 3.21 to 3.44 V."""
    (setting,) = solved("LM1085", "121 ±1%", "200 ±1%", "6 V")
    assert setting.output_min_V == pytest.approx(3.21, abs=5e-3)
    assert setting.output_max_V == pytest.approx(3.44, abs=5e-3)


def test_a_link_across_the_lower_resistor() -> None:
    """LM108x with 475 Ω put across 200 Ω by a link: 2.712 V (the formula with 140.7 Ω)."""
    more = "  R3: {resistor: 475, between: [ADJ, S]}\n  JP1: {jumper: [S, GND]}\n"
    low, high = solved(LM108X, "121", "200", "5 V", more=more)
    assert low.output_V == pytest.approx(2.712, abs=5e-4)
    assert high.output_V == pytest.approx(3.327, abs=5e-4)


def test_published_junctions() -> None:
    """LT1083/84/85, Analog Devices, page 12: 24 W, 75 °C, 1 + 0.2 + 0.6 K/W (memory): 118 °C. MIC29152, Microchip,
    M9999-122012-B, page 20: 1.147 W, 56 K/W, 75 °C: 139.2 °C; allowed 0.893 W for 125 °C."""
    assert junction_C(75, 24, 1 + 0.2 + 0.6) == pytest.approx(118.2)
    assert junction_C(75, 1.147, 56) == pytest.approx(139.2, abs=0.05)
    assert junction_C(75, 0.893, 56) == pytest.approx(125, abs=0.05)


def test_watts_and_junction_of_the_published_case_with_its_ground_current() -> None:
    """The same MIC29152: 3.3 V to 2.5 V at 1.5 A, 16 mA of ground current: 0.8·1.5 + 3.3·0.016 = 1.253 W, 145 °C."""
    text = """
title: MIC29152
rails: {IN: 3.3 V}
conditions: {temperature: 75 to 75 °C}
parts:
  U1: {regulator: {reference: 1.24 V, between: adjust-ground, dropout: 0.35 V, limit: 1.5 A, ground_current: 16 mA,
       junction_max: 125 °C, junction_ambient: 56 K/W}, input: IN, output: OUT, adjust: ADJ, ground: GND}
  R1: {resistor: 101.6k, between: [OUT, ADJ]}
  R2: {resistor: 100k, between: [ADJ, GND]}
  U2: {load: 1.49999 A, plus: OUT, minus: GND, works: 2.4 V to 2.6 V}
"""
    (setting,) = settings_of(loads(text))["U1"].settings
    assert setting.dissipation_W == pytest.approx(1.253, abs=2e-3)
    assert setting.junction_C == pytest.approx(145.2, abs=0.2)
    assert setting.verdict == "fails"
    assert "it bears a load of 1.05 A" in setting.why   # (0.893 - 3.3·0.016) W over 0.8 V


def test_eight_settings_of_three_links() -> None:
    """Common practice, no source: 1.25 V between adjust and ground, 249 Ω to ground, 620 Ω from output to adjust,
    and links that put 3.75 kΩ, 7.5 kΩ and 15 kΩ across it: 3.66 V with every link to 4.36 V with none."""
    more = "".join(f"  R{place}: {{resistor: {ohm}, between: [ADJ, S{place}]}}\n"
                   f"  JP{place}: {{jumper: [S{place}, OUT]}}\n"
                   for place, ohm in ((3, "3.75k"), (4, "7.5k"), (5, "15k")))
    settings = solved("KA278RA05C", "620", "249", "5 V", load="1.5 A", more=more)
    volts = [setting.output_V for setting in settings]
    assert len(volts) == 8
    assert volts[:4] == pytest.approx([3.66, 3.74, 3.83, 3.92], abs=0.01)
    assert volts[-1] == pytest.approx(4.36, abs=0.01)
    assert set(settings[0].positions.values()) == {"closed"}
    assert set(settings[-1].positions.values()) == {"open"}


def test_three_links_of_which_one_is_to_be_fitted() -> None:
    """Common practice, no source: with none of them fitted the output goes close to its 5 V input."""
    text = """
title: One of three
rails: {IN: 5 V}
parts:
  U1: {regulator: LM1085, input: IN, output: OUT, adjust: ADJ, heatsink: 10 K/W}
  R1: {resistor: 120, between: [OUT, ADJ]}
  R3: {resistor: 200, between: [ADJ, S3]}
  R4: {resistor: 214, between: [ADJ, S4]}
  R5: {resistor: 227, between: [ADJ, S5]}
  JP3: {jumper: [S3, GND], set: closed}
  JP4: {jumper: [S4, GND]}
  JP5: {jumper: [S5, GND]}
  U2: {load: {draws: 1 A at 3.3 V, most: 1.5 A}, plus: OUT, minus: GND, works: 3.1 V to 3.7 V, survives: 4.0 V}
"""
    found = settings_of(loads(text))["U1"]
    none = found.settings[-1]
    assert set(none.positions.values()) == {"open"}
    assert none.output_max_V > 4.0
    assert none.verdict == "danger"
    assert {mistake.link for mistake in found.mistakes if mistake.what == "forgotten"} == {"JP3", "JP4", "JP5"}


def test_a_small_heat_sink_serves_for_three_watts() -> None:
    """Common practice, no source: 1.5 V across the pass device at 2 A is 3 W, for which a small heat sink serves."""
    text = """
title: Three watts
rails: {IN: 5 V}
conditions: {temperature: 20 to 40 °C}
parts:
  U1: {regulator: KA278RA05C, input: IN, output: OUT, adjust: ADJ, ground: GND, heatsink: 15 K/W}
  R1: {resistor: 4.5k, between: [OUT, ADJ]}
  R2: {resistor: 2.5k, between: [ADJ, GND]}
  U2: {load: 1.9993 A, plus: OUT, minus: GND, works: 3.4 V to 3.6 V}
"""
    (setting,) = settings_of(loads(text))["U1"].settings
    assert setting.dissipation_W == pytest.approx(3.0 + 5 * 0.01, rel=0.01)
    assert setting.junction_C < 125
    (bare,) = settings_of(loads(text.replace("heatsink: 15 K/W", "heatsink: none")))["U1"].settings
    assert bare.junction_C > 150
