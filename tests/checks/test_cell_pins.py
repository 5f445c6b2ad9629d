"""Clocks with a pin for a cell, supervisors, chargers that a program switches on, modules with their own cell."""

import pytest
from made_points import NOTHING, UNKNOWN, given, made, point, sound

from netcheck.checks.cell_pins import software_findings
from netcheck.checks.results import VariantResult
from netcheck.judging import judge
from netcheck.parts.catalogue import Catalogue, cell_rules
from netcheck.reading.reader import loads
from netcheck.solving.flows import DRIVEN_A


def board(parts):
    return loads("title: a board\nground: GND\nrails: {+5V: 5 V ±5%}\nconditions: {years: 10}\nparts:\n"
                 + "".join(f"  {line}\n" for line in parts))


def judged(parts) -> VariantResult:
    fragment = board(parts)
    result = judge(fragment)
    sound(result.findings, fragment)
    return result


def of(result, check, case):
    return [finding for finding in result.findings if (finding.check, finding.case) == (check, case)]


CHARGER = ["U1: {chip: DS1302, pins: {1: +5V, 4: GND, 8: CELL}}", "U2: {load: DS1302, plus: CELL, minus: GND}"]


def test_a_charger_that_a_program_switches_on_is_a_caution_for_a_primary_cell():
    result = judged([*CHARGER, "BT1: {cell: CR2032, plus: CELL, minus: GND}"])
    (found,) = of(result, "charger", "primary")
    assert result.verdict == "caution"
    # (5.25 - about 0.6 - 2.0) V over 2 kohm and the cell's resistance, into a flat cell: 1.3 mA.
    assert found.figures["charge_A"] == pytest.approx(1.3e-3, rel=0.1)
    assert "power" in found.message
    assert "if a program switches on" in found.message
    assert result.cells["BT1"].charge_A in (0.0, None)


def test_the_same_charger_is_a_note_for_a_rechargeable_and_silent_behind_a_diode():
    pack = judged([*CHARGER, "BT1: {cell: NiCd-3x60, plus: CELL, minus: GND}"])
    assert [str(one.severity) for one in of(pack, "charger", "rechargeable")] == ["note"]
    blocked = judged(["U1: {chip: DS1302, pins: {1: +5V, 4: GND, 8: HOLD}}",
                      "U2: {load: DS1302, plus: HOLD, minus: GND}", "D1: {diode: 1N4148, anode: CELL, cathode: HOLD}",
                      "BT1: {cell: CR2032, plus: CELL, minus: GND}"])
    assert not of(blocked, "charger", "primary")


LEAK_A = cell_rules().leak_limit_A


@pytest.mark.parametrize(("cell", "on_A", "off_A", "case"), [
    ("CR2032", LEAK_A, 0.0, None), ("CR2032", LEAK_A + 2 * DRIVEN_A, 0.0, "primary"),
    ("CR2032", LEAK_A + 2 * DRIVEN_A, None, "primary"), ("CR2032", 2e-3, 2e-3, None), ("CR2032", 3e-3, 2e-3, "primary"),
    ("CR2032", None, 0.0, "unsolved"), ("NiCd-3x60", None, 0.0, None),
    ("NiCd-3x60", DRIVEN_A, 0.0, None), ("NiCd-3x60", 3 * DRIVEN_A, 0.0, "rechargeable"),
])
def test_a_charger_of_a_program_is_told_where_it_drives_more_than_flows_with_it_off(cell, on_A, off_A, case):
    """Into a primary cell what a blocking diode may leak is no charge; what could not be solved is unknown there."""
    def at(amps):
        return UNKNOWN if amps is None else point({}, {"BT1": -amps})

    found = made(board([*CHARGER, f"BT1: {{cell: {cell}, plus: CELL, minus: GND}}"]), otherwise=at(off_A))
    findings, keys = given(software_findings(found), lambda key, circuit: at(on_A))
    told = [(one.case, str(one.severity), one.parts) for one in sound(findings, found.fragment)]
    severity = {"primary": "caution", "rechargeable": "note", "unsolved": "unknown"}
    assert told == ([(case, severity[case], ("U1", "BT1"))] if case else [])
    assert {state for _, state, _ in keys} == {"main on"}
    assert all(one.sources for one in findings if one.case != "unsolved")
    assert given(software_findings(made(board(CHARGER[1:]))), lambda key, circuit: NOTHING) == ([], [])


def test_a_charger_that_is_always_on_is_a_danger():
    result = judged(["U1: {chip: DS12R885, pins: {VCC: +5V, VBACKUP: CELL}}",
                     "U2: {load: DS12885, plus: CELL, minus: GND}", "BT1: {cell: CR2032, plus: CELL, minus: GND}"])
    assert result.verdict == "danger"


def sources_of(chip, figure):
    """Where the library has one figure of a chip from; it has more of each."""
    figures = Catalogue.standard().chip(chip).figures
    found = tuple(one.source for one in figures if one.of == figure)
    assert found
    assert len(found) < len(figures)
    return found


def test_a_supervisor_carries_the_cell_to_the_memory_and_its_failure_is_told():
    result = judged(["U1: {chip: MAX691A, pins: {1: CELL, 2: VRAM, 3: +5V, 4: GND}}",
                     "U2: {load: SRAM-62256, plus: VRAM, minus: GND, selected: held}",
                     "BT1: {cell: CR2032, plus: CELL, minus: GND}"])
    assert result.loads["U2"].lowest_V > 2.6
    assert result.cells["BT1"].charge_A in (0.0, None)
    assert any(one.check == "fault-current" and "U1" in one.parts for one in result.findings)
    # 1 µA at most, 4 h a day over ten years: 14.6 mAh of 225 mAh, above the usual share of 3 %.
    (leak,) = of(result, "cell-pin", "leaks")
    assert leak.figures["leaked_share"] == pytest.approx(1e-6 * 4 * 365 * 10 / 0.225)
    assert str(leak.severity) == "caution"
    assert leak.sources == sources_of("MAX691A", "leaks")


def test_a_tested_clock_takes_no_failure_and_is_judged():
    result = judged(["U1: {chip: DS1307, pins: {VCC: +5V, VBAT: CELL}}", "U2: {load: DS1307, plus: CELL, minus: GND}",
                     "BT1: {cell: CR2032, plus: CELL, minus: GND}"])
    assert result.verdict == "ok"
    assert not any(one.check == "not-judged" for one in result.findings)


def test_pins_that_were_not_traced_leave_a_known_chip_unknown_and_are_named():
    result = judged(["U1: {chip: DS1302, pins: {8: CELL, 5: CE}}", "R1: {resistor: 10k, between: [CE, +5V]}",
                     "U2: {load: DS1302, plus: CELL, minus: GND}", "BT1: {cell: CR2032, plus: CELL, minus: GND}"])
    (found,) = [one for one in result.findings if one.check == "not-judged" and one.subject == "U1" and one.nets]
    assert str(found.severity) == "unknown"
    assert "VCC2 (pin 1)" in found.advice


def test_a_diode_before_a_pin_whose_maker_warns_of_it_is_told():
    # DS1307 data sheet, Maxim, REV: 121906, pin description: diodes in series between the battery and the VBAT pin may
    # prevent proper operation.
    result = judged(["U1: {chip: DS1307, pins: {VCC: +5V, GND: GND, VBAT: VB}}",
                     "U2: {load: DS1307, plus: VB, minus: GND}", "D2: {diode: 1N4148, anode: VB, cathode: X}",
                     "R1: {resistor: 1M, between: [X, GND]}", "D1: {diode: 1N4148, anode: CELL, cathode: VB}",
                     "BT1: {cell: CR2032, plus: CELL, minus: GND}"])
    (found,) = of(result, "cell-pin", "diode")
    assert (found.parts, str(found.severity)) == (("U1", "D1", "BT1"), "caution")
    assert found.sources == sources_of("DS1307", "no diode")
    assert "D1" in found.message
    assert "BT1" in found.message


MODULE = "U5: {load: DS12887, plus: VRAM, minus: GND}"


def test_a_module_with_its_own_cell_needs_none_and_a_second_one_is_unknown():
    fed = judged([MODULE, "D1: {diode: BAT85, anode: +5V, cathode: VRAM}",
                  "D2: {diode: 1N4148, anode: CELL, cathode: VRAM}", "BT1: {cell: CR2032, plus: CELL, minus: GND}"])
    (found,) = of(fed, "own-cell", "fed")
    assert (str(found.severity), found.parts) == ("unknown", ("U5", "BT1"))
    assert fed.verdict in ("unknown", "danger")
    alone = judged(["U5: {load: DS12887, plus: +5V, minus: GND}"])
    (found,) = of(alone, "own-cell", "none")
    assert str(found.severity) == "note"
    assert not any(one.check == "keeps-nothing" for one in alone.findings)


ALWAYS_ON = "U1: {chip: DS12R885, pins: {VCC: +5V, VBACKUP: CELL}"


def unknowns(result):
    return [finding for finding in result.findings if str(finding.severity) == "unknown"]


def test_a_charger_of_which_no_resistance_is_known_is_one_finding_that_says_what_was_not_worked_out():
    for kind, verdict in (("CR2032", "danger"), ("ML2032", "unknown")):
        result = judged([ALWAYS_ON + "}", f"BT1: {{cell: {kind}, plus: CELL, minus: GND}}"])
        (found,) = unknowns(result)
        assert result.verdict == verdict
        assert (found.check, found.case, found.parts) == ("charger", "no-ohms", ("U1", "BT1"))
        assert "state main on" in found.message
        assert "the life or the charging of BT1" in found.message
        assert "from VCC to VBACKUP" in found.advice
    alone = judged([ALWAYS_ON + "}", "C1: {capacitor: 100n, between: [CELL, GND]}"])
    (found,) = unknowns(alone)
    assert (alone.verdict, found.parts) == ("unknown", ("U1",))
    assert "life" not in found.message


def test_with_its_ohms_stated_it_is_judged_as_any_charger_and_another_reason_is_told_beside_it():
    stated = ALWAYS_ON + ", paths: [{from: VCC, to: VBACKUP, by: charger, ohms: 2k}]}"
    result = judged([stated, "BT1: {cell: CR2032, plus: CELL, minus: GND}"])
    assert (result.verdict, unknowns(result)) == ("danger", [])
    # (5.25 - 2.0) V over 2 kohm at the most.
    assert result.cells["BT1"].charge_A == pytest.approx(1.6e-3, rel=0.05)
    beside = judged([ALWAYS_ON + "}", "BT1: {cell: ML2032, plus: CELL, minus: GND}",
                     "U9: {chip: gate array, pins: {5: CELL, 40: +5V}}"])
    told = {(one.check, one.case) for one in unknowns(beside)}
    assert {("charger", "no-ohms"), ("not-judged", "chip-at-cell")} <= told


def test_a_cell_that_feeds_a_module_has_no_life_that_could_be_told():
    cell = "BT1: {cell: CR2032, plus: CELL, minus: GND}"
    diodes = ["D1: {diode: 1N4148, anode: CELL, cathode: VRAM}", "D2: {diode: 1N4148, anode: +5V, cathode: VRAM}"]
    fed = judged([cell, *diodes, MODULE])
    assert (fed.verdict, fed.cells["BT1"].life) == ("unknown", None)
    assert not of(fed, "backup-voltage", "not-stated")
    memory = judged([cell, *diodes, "U5: {load: SRAM-62256, plus: VRAM, minus: GND}"])
    assert memory.cells["BT1"].life is not None
