"""What a check says of capacitors: where it speaks, where it keeps silent, where it cannot know."""

import pytest

import netcheck

HEAD = """
title: a list
scope: list
rails: {+5V: 5 V ±5%, +12V: 12 V ±5%, -12V: -12 V ±5%}
conditions: {temperature: 20 to 45 °C}
parts:
"""


def judged(*lines, mod=(), more=""):
    """The last variant of a list of capacitors; `mod` is what a mod puts there."""
    text = HEAD + "".join(f"  {line}\n" for line in lines)
    if mod:
        text += "mods:\n  new:\n    steps:\n" + "".join(f"      - {{replace: {{{step}}}}}\n" for step in mod)
    return netcheck.check(netcheck.loads(text + more)).variants[-1]


def told(result, name):
    """Check and severity of each finding on one capacitor but notes."""
    return [(one.check, str(one.severity)) for one in result.findings
            if one.subject == name and str(one.severity) != "note"]


def test_a_reversed_tantalum_is_a_danger_and_so_is_a_rating_below_the_rail():
    found = judged("C1: {capacitor: 47u, type: tantalum, rated: 4 V, plus: GND, minus: +5V}",
                   "C2: {capacitor: 100u, type: wet, rated: 6.3 V, plus: +12V, minus: GND}")
    assert found.verdict == "danger"
    assert told(found, "C1") == [("polarity", "danger"), ("rating", "danger")]
    assert told(found, "C2") == [("rating", "danger")]
    one = found.capacitors["C1"]
    assert one["reversed"] is True
    assert one["stress_V"] == pytest.approx(5.25)
    assert one["rated_V"] == 4.0
    assert one["verdict"] == "danger"
    assert "the other way" not in found.capacitors["C2"]["watch"]


def test_a_negative_rail_has_its_plus_on_ground():
    right = judged("C1: {capacitor: 100u, type: wet, rated: 25 V, plus: GND, minus: -12V}")
    wrong = judged("C1: {capacitor: 100u, type: wet, rated: 25 V, plus: -12V, minus: GND}")
    assert right.verdict == "ok"
    assert right.capacitors["C1"]["reversed"] is False
    assert told(wrong, "C1") == [("polarity", "danger")]


def test_four_beside_a_supply_connector():
    """Common practice, no source: they serve +12 V, -12 V, +5 V and -5 V."""
    text = HEAD.replace("-12V: -12 V ±5%}", "-12V: -12 V ±5%, -5V: -5 V ±5%}")
    text += ("  C1: {capacitor: 10u, type: wet, rated: 25 V, plus: +12V, minus: GND}\n"
             "  C2: {capacitor: 10u, type: wet, rated: 25 V, plus: GND, minus: -12V}\n"
             "  C3: {capacitor: 10u, type: wet, rated: 25 V, plus: +5V, minus: GND}\n"
             "  C4: {capacitor: 10u, type: wet, rated: 25 V, plus: GND, minus: -5V}\n")
    found = netcheck.check(netcheck.loads(text)).variants[0]
    assert [found.capacitors[name]["rail"] for name in ("C1", "C2", "C3", "C4")] == ["+12V", "-12V", "+5V", "-5V"]
    assert found.verdict == "ok"


@pytest.mark.parametrize(("kind", "rated", "severity"), [
    # ATH30 application notes, Astec, page 5: MnO2 tantalum twice the volts of a rail; polymer tantalum is exempt
    ("tantalum", "10 V", []), ("tantalum", "6.3 V", [("derating", "caution")]),
    ("polymer-tantalum", "6.3 V", []), ("wet", "6.3 V", []),
])
def test_derating_on_a_stiff_rail(kind, rated, severity):
    found = judged(f"C1: {{capacitor: 47u, type: {kind}, rated: {rated}, plus: +5V, minus: GND}}")
    assert told(found, "C1") == severity


def test_a_rating_that_is_not_stated_is_not_called_ok():
    found = judged("C1: {capacitor: 47u, type: tantalum, plus: +5V, minus: GND}")
    assert told(found, "C1") == [("rating", "unknown")]
    assert found.capacitors["C1"]["verdict"] == "unknown"
    assert found.verdict == "unknown"


def test_volts_that_cannot_be_known_are_not_called_ok():
    text = "title: x\nscope: list\nparts:\n  C1: {capacitor: 47u, type: wet, rated: 16 V, plus: A, minus: B}\n"
    found = netcheck.check(netcheck.loads(text)).variants[0]
    assert found.capacitors["C1"]["stress_V"] is None
    assert found.verdict == "unknown"


FED = "U1: {chip: cpu, pins: {RST: {net: NRST, role: reset}, VDD: +5V, GND: GND}}"


@pytest.mark.parametrize(("line", "volts_V", "bound"), [
    # A pin stays within its chip's supply (absolute maximum ratings of any logic family); any other net within the
    # rails: 5 V + 5 % = 5.25 V; from +12 V + 5 % to -12 V - 5 % is 25.2 V, of which 12.6 V to ground.
    ("C1: {capacitor: 1u, type: tantalum, rated: 2.5 V, plus: NRST, minus: GND}", 5.25, "the supply of U1"),
    ("C1: {capacitor: 1u, type: tantalum, rated: 2.5 V, plus: RESET, minus: GND}", 12.6, "the rails of the board"),
    ("C1: {capacitor: 10u, type: wet, rated: 4 V, plus: VREG, minus: GND}", 12.6, "the rails of the board"),
    ("C1: {capacitor: 10u, type: wet, rated: 16 V, plus: +12V, minus: FAR}", 25.2, "the rails of the board"),
])
def test_volts_that_nothing_traced_sets_are_bounded_and_not_called_safe(line, volts_V, bound):
    found = judged(line, FED)
    one = found.capacitors["C1"]
    assert (one["stress_V"], one["bound"]) == (pytest.approx(volts_V), bound)
    assert one["verdict"] == "caution"
    assert told(found, "C1") == [("rating", "caution")]
    assert one["may_be"]["volts"][one["type"]] >= volts_V


@pytest.mark.parametrize("more", [
    "C2: {capacitor: 1u, type: wet, rated: 16 V, plus: VREG, minus: GND}",
    "U2: {load: 10 mA, plus: VREG, minus: GND}",
    "D1: {diode: 1N4148, anode: VREG, cathode: +12V}",
    "D1: {diode: 1N4148, anode: GND, cathode: VREG}",
])
def test_what_only_takes_or_limits_sets_no_volts(more):
    one = judged("C1: {capacitor: 10u, type: wet, rated: 4 V, plus: VREG, minus: GND}", more).capacitors["C1"]
    assert one["bound"] == "the rails of the board"
    assert one["verdict"] == "caution"


@pytest.mark.parametrize("more", [
    "R2: {resistor: 10k, between: [VREG, +5V]}",
    "D1: {diode: 1N4148, anode: +5V, cathode: VREG}",
    "L1: {inductor: 10u, between: [+5V, VREG]}",
])
def test_what_feeds_a_net_sets_its_volts(more):
    one = judged("C1: {capacitor: 10u, type: wet, rated: 16 V, plus: VREG, minus: GND}", more).capacitors["C1"]
    assert one["bound"] is None
    assert 3.5 < one["stress_V"] < 5.26


def test_which_way_round_is_told_where_the_net_was_not_traced():
    """Within 0 to 5.25 V nothing but backwards is possible with plus on ground; against +12 V it is so for certain."""
    tail = "type: tantalum, rated: 50 V"
    perhaps = judged(f"C1: {{capacitor: 1u, {tail}, plus: GND, minus: NRST}}", FED)
    surely = judged(f"C1: {{capacitor: 1u, {tail}, plus: NRST, minus: +12V}}", FED)
    right = judged(f"C1: {{capacitor: 1u, {tail}, plus: NRST, minus: GND}}", FED)
    either = judged(f"C1: {{capacitor: 1u, {tail}, plus: RESET, minus: GND}}", FED)
    assert told(perhaps, "C1") == [("polarity", "caution")]
    assert told(surely, "C1") == [("polarity", "danger")]
    assert surely.capacitors["C1"]["backwards_V"] == pytest.approx(12.6 - 5.25)
    assert told(right, "C1") == []
    assert [(one.check, str(one.severity)) for one in either.findings if one.subject == "C1"] == [("polarity", "note")]
    assert "12.6 V backwards" in next(one.message for one in either.findings if one.subject == "C1")


LOOP = ("U1: {chip: clock generator, pins: {LF: loop-filter, VDD: +5V, GND: GND}}",
        "C2: {capacitor: 1u, type: tantalum, rated: 35 V, plus: LF, minus: GND}")


def test_a_loop_filter_keeps_its_value_whatever_the_family():
    """Common practice, no source: a 1 µF loop-filter capacitor stays 1 µF whatever its family."""
    same = judged(*LOOP, mod=["C2: {capacitor: 1u, type: film, rated: 63 V, plus: LF, minus: GND}"])
    assert told(same, "C2") == []
    assert same.capacitors["C2"]["verdict"] == "ok"
    other = judged(*LOOP, mod=["C2: {capacitor: 4.7u, type: film, rated: 63 V, plus: LF, minus: GND}"])
    assert told(other, "C2") == [("value", "fails")]
    leaky = judged(*LOOP, mod=["C2: {capacitor: 1u, type: polymer, rated: 16 V}"])
    assert told(leaky, "C2") == [("family", "caution")]
    may = same.capacitors["C2"]["may_be"]
    assert may["least_F"] == may["most_F"] == 1e-6
    assert "wet" not in may["families"]


def test_a_loop_goes_as_the_published_formulas_say():
    """ICS673-01, Integrated Circuit Systems, page 5: ωn = √(Kv·Ic/(N·C)), ζ = (Rz/2)·√(Kv·Ic·C/N).

    Ten times the 270 pF of its example: 10 kHz becomes 3.3 kHz (the sheet rounds), damping 0.7 becomes 2.2.
    """
    found = judged(*LOOP, mod=["C2: {capacitor: 10u, type: film, rated: 63 V, plus: LF, minus: GND}"])
    effect = found.capacitors["C2"]["effect"]
    assert effect["what"] == "loop filter"
    assert effect["frequency_times"] == pytest.approx(3.16 / 10, rel=2e-3)
    assert effect["damping_times"] == pytest.approx(2.2 / 0.7, rel=0.02)


def test_old_rails_bear_larger_ones_within_reason():
    """Common practice, no source."""
    old = "C1: {capacitor: 220u, type: wet, rated: 16 V, plus: +5V, minus: GND}"
    larger = judged(old, mod=["C1: {capacitor: 680u, type: polymer, rated: 10 V}"])
    assert told(larger, "C1") == []
    huge = judged(old, mod=["C1: {capacitor: 4700u, type: wet, rated: 16 V}"])
    assert told(huge, "C1") == [("value", "caution")]
    small = judged(old, mod=["C1: {capacitor: 47u, type: wet, rated: 16 V}"])
    assert told(small, "C1") == [("value", "caution")]


def test_small_ceramics_of_10_uF_at_each_supply_pin_do_no_harm():
    """Common practice, no source: more than needed, and harmless."""
    found = judged("U1: {chip: processor, pins: {VDD: +5V, GND: GND}}",
                   "C1-C8: {capacitor: 100n, type: X7R, rated: 50 V, between: [+5V, GND]}",
                   mod=["C1-C8: {capacitor: 10u, type: X7R, rated: 16 V}"])
    assert found.verdict == "ok"
    assert {one["role"] for one in found.capacitors.values()} == {"decoupling"}


def test_too_much_for_the_supply_to_start_is_told():
    found = judged("C1-C8: {capacitor: 470u, type: wet, rated: 16 V, plus: +5V, minus: GND}",
                   mod=["C1-C8: {capacitor: 1000u, type: wet, rated: 16 V}"])
    assert ("start", "caution") in told(found, "+5V")


REGULATOR = ("U3: {regulator: LM1117, input: +5V, output: VC, adjust: ADJ}", "R3: {resistor: 120, between: [VC, ADJ]}",
             "R4: {resistor: 200, between: [ADJ, GND]}", "U4: {load: 100 mA, plus: VC, minus: GND}",
             "C7: {capacitor: 22u, type: tantalum, rated: 10 V, plus: VC, minus: GND}")


def test_series_resistance_outside_the_window_of_its_regulator():
    """LM1117, Texas Instruments, SNOS412M: 0.3 to 22 Ω."""
    kept = judged(*REGULATOR)
    assert told(kept, "C7") == []
    polymer = judged(*REGULATOR, mod=["C7: {capacitor: 47u, type: polymer, rated: 10 V}"])
    assert told(polymer, "C7") == [("stability", "fails")]
    assert "polymer" in polymer.capacitors["C7"]["may_be"]["may_not"]
    ceramic = judged(*REGULATOR, mod=["C7: {capacitor: 22u, type: X7R, rated: 16 V, plus: VC, minus: GND}"])
    assert told(ceramic, "C7") == [("stability", "fails")]
    measured = judged(*REGULATOR, mod=["C7: {capacitor: 22u, type: X7R, rated: 16 V, esr: 1, plus: VC, minus: GND}"])
    assert told(measured, "C7") == []
    effect = polymer.capacitors["C7"]["effect"]
    assert (effect["window_least_ohm"], effect["window_most_ohm"]) == (0.3, 22.0)
    assert effect["after_ohm"] < 0.3 < effect["before_ohm"]


RESET = ("R1: {resistor: 10k, between: [+5V, NRES]}", "U1: {chip: processor, pins: {RES: NRES, VDD: +5V}}",
         "C6: {capacitor: 10u, type: film, rated: 63 V, between: [NRES, GND]}")


def test_a_reset_time_before_and_after():
    """t = -R·C·ln(1 - Vth/Vcc): 10 kΩ and 10 µF to 2.5 of 5 V take 69 ms (textbook, from memory)."""
    found = judged(*RESET, mod=["C6: {capacitor: 22u, type: film, rated: 63 V, between: [NRES, GND]}"])
    effect = found.capacitors["C6"]["effect"]
    assert effect["what"] == "reset time"
    assert effect["before_s"] == pytest.approx(0.0693, rel=2e-3)
    assert effect["after_s"] == pytest.approx(2.2 * 0.0693, rel=2e-3)
    assert effect["after_simulated_s"] == pytest.approx(effect["after_s"], rel=2e-3)
    assert told(found, "C6") == [("value", "fails")]


def test_a_leaky_capacitor_that_never_lets_the_reset_go():
    """22 µA through 100 kΩ are 2.2 V (Nichicon ZR series: 0.01·C·V): a polymer at its limit leaks ten times that."""
    found = judged("R1: {resistor: 1M, between: [+5V, NRES]}", RESET[1], RESET[2],
                   mod=["C6: {capacitor: 10u, type: polymer, rated: 16 V, plus: NRES, minus: GND}"])
    assert found.capacitors["C6"]["effect"]["after_s"] is None
    assert ("value", "fails") in told(found, "C6")


def test_crystal_load():
    """NXP on crystal load capacitors: CL = C1·C2/(C1 + C2) + Cs; 26 pF each and 2 pF make 15 pF (here with 3 pF)."""
    found = judged("U2: {chip: clock, pins: {XI: crystal, XO: crystal, VDD: +5V}}",
                   "C1: {capacitor: 26p, type: C0G, rated: 50 V, between: [XI, GND]}",
                   "C2: {capacitor: 26p, type: C0G, rated: 50 V, between: [XO, GND]}",
                   mod=["C1: {capacitor: 33p, type: C0G, rated: 50 V}"])
    effect = found.capacitors["C1"]["effect"]
    assert effect["before_F"] == pytest.approx(16e-12)
    assert effect["after_F"] == pytest.approx((26 * 33 / 59 + 3) * 1e-12)
    assert told(found, "C1") == [("value", "fails")]


def test_leakage_of_a_wet_one_on_the_backup_net_is_told():
    found = judged("BT1: {cell: CR2032, plus: CELL, minus: GND}", "D1: {diode: BAT85, anode: CELL, cathode: VB}",
                   "U4: {load: 2 uA, plus: VB, minus: GND}",
                   "C1: {capacitor: 10u, type: X7R, rated: 16 V, between: [VB, GND]}",
                   mod=["C1: {capacitor: 100u, type: wet, rated: 16 V, plus: VB, minus: GND}"])
    one = found.capacitors["C1"]
    assert one["role"] == "backup"
    assert one["effect"]["after_A"] > 10 * one["effect"]["before_A"]
    assert told(found, "C1") != []
    assert one["leakage_A"]["maximum"] > one["leakage_A"]["typical"] > 0


def test_life_in_the_report():
    """Common practice, no source: 2000 h at 105 °C are 128,000 h at 45 °C by the wet rule; the polymer's is capped."""
    found = judged("C1: {capacitor: 100u, type: wet, rated: 16 V, hours: 2000 h at 105 °C, plus: +5V, minus: GND}",
                   "C2: {capacitor: 100u, type: polymer, rated: 16 V, hours: 2000 h at 105 °C, plus: +5V, minus: GND}",
                   "C3: {capacitor: 100u, type: tantalum, rated: 16 V, plus: +5V, minus: GND}")
    assert found.capacitors["C1"]["life_years"] == pytest.approx(128_000 / 8760)
    assert found.capacitors["C2"]["life_years"] == pytest.approx(15.0)
    assert found.capacitors["C3"]["life_years"] is None


def test_readings_of_a_tester():
    """Common practice, no source: on a simple tester an old 4.7 µF tantalum showed 1.6 Ω, an old 220 µF wet one 0.7 Ω
    and about 200 µF, a 640 µF polymer 0.18 Ω; none of them is out."""
    found = judged("C1: {capacitor: 4.7u ±20%, type: tantalum, rated: 16 V, plus: +5V, minus: GND}",
                   "C2: {capacitor: 220u ±20%, type: wet, rated: 10 V, plus: +5V, minus: GND}",
                   "C3: {capacitor: 640u ±20%, type: polymer, rated: 10 V, plus: +5V, minus: GND}",
                   "C4: {capacitor: 220u ±20%, type: wet, rated: 10 V, plus: +5V, minus: GND}",
                   "C5: {capacitor: 220u ±20%, type: wet, rated: 10 V, plus: +5V, minus: GND}",
                   more="readings:\n  - {of: C1, esr: 1.6, tester: 100 kHz}\n"
                        "  - {of: C2, capacitance: 197u, esr: 0.7, tester: 100 kHz}\n"
                        "  - {of: C3, esr: 0.18, tester: 100 kHz}\n"
                        "  - {of: C4, capacitance: 120u, esr: 0.7, tester: 100 kHz}\n"
                        "  - {of: C5, capacitance: 200u, esr: 1.5, tester: 100 kHz}\n")
    verdicts = {name: one["tester"]["verdict"] for name, one in found.capacitors.items()}
    assert verdicts == {"C1": "good", "C2": "good", "C3": "good", "C4": "out", "C5": "tired"}
    assert told(found, "C4") == [("tester", "caution")]


def test_after_a_single_failure():
    """A regulator that fails short puts its input on its output."""
    found = judged("U3: {regulator: '7805', input: +12V, output: VA, ground: GND}",
                   "U4: {load: 100 mA, plus: VA, minus: GND}",
                   "C1: {capacitor: 100u, type: wet, rated: 10 V, plus: VA, minus: GND}")
    one = found.capacitors["C1"]
    assert one["fault"] == {"part": "U3", "as": "short"}
    assert one["fault_V"] == pytest.approx(12.6, rel=0.02)
    assert one["verdict"] == "ok"


def test_surge_at_switch_on_is_that_of_the_ramp():
    """i = C·dV/dt where the resistance is small: 47 µF to 5 V in 1 ms are 235 mA."""
    found = judged("C1: {capacitor: 47u, type: tantalum, rated: 10 V, plus: +5V, minus: GND}")
    assert found.capacitors["C1"]["surge_A"] == pytest.approx(0.235, rel=1e-3)
