"""What the judgement of a variant tells beside its cells and loads: what was not tried, not solved, not judged."""

from __future__ import annotations

import pytest
from made_points import UNKNOWN, made, point, told
from msgspec.structs import replace

import netcheck
from netcheck.checks import unjudged as unjudged_kinds
from netcheck.checks import variant as room
from netcheck.checks.variant import Judged, check_variant, uncured
from netcheck.clock import limited
from netcheck.findings import Finding, Severity
from netcheck.fragment.model import Kind
from netcheck.fragment.states import StateSet
from netcheck.simulation.operating_point import forget
from netcheck.solving import failures, solved_states

BOARD = """
title: one blocking diode
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: BAS70, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
"""


def unknowns(found, further=()):
    return room._unknowns(found, further)


def test_states_that_were_not_tried_are_told_with_how_many():
    found = made(BOARD)
    assert unknowns(found) == []
    fewer = replace(found, states=StateSet(found.states.states, untried=5))
    (finding,) = unknowns(fewer)
    assert told([finding]) == [("states", "untried", "unknown")]
    assert finding.figures == {"tried_count": 2, "untried_count": 5}
    assert finding.subject == "one blocking diode"


@pytest.mark.parametrize("corner", [corner.name for corner in made(BOARD).corners.everywhere])
def test_a_state_without_a_solution_is_told_whatever_the_corner(corner):
    (finding,) = unknowns(made(BOARD, {("main off", corner): UNKNOWN}))
    assert told([finding]) == [("simulation", "state-unknown", "unknown")]
    assert finding.state == "main off"


def test_a_state_solved_less_well_is_told():
    helped = replace(point(), helped=True)
    (finding,) = unknowns(made(BOARD, {("main off", "hot, old cell"): helped}))
    assert told([finding]) == [("simulation", "helped", "note")]
    assert finding.subject == "one blocking diode"
    assert (finding.state, finding.figures["within_share"]) == ("main off", pytest.approx(1e-3))


def test_without_a_simulator_nothing_else_is_told():
    (finding,) = unknowns(made(BOARD, {"main off": UNKNOWN}, missing="there is none"))
    assert told([finding]) == [("simulation", "none", "unknown")]
    assert finding.words["why"] == "there is none"


EMPTY = "title: nothing\nrails: {+5V: 5 V}\nparts:\n  R1: {resistor: 1k, between: [+5V, GND]}\n"


def test_a_board_with_nothing_to_judge_is_unknown_unless_a_section_judges_it():
    assert told(unknowns(made(EMPTY))) == [("not-judged", "nothing-here", "unknown")]
    assert unknowns(made(EMPTY), [Judged(judges=frozenset({Kind.CAPACITOR}))]) == []
    assert unknowns(made(EMPTY), [Judged(features={"mouse": 1})]) == []
    assert told(unknowns(made(EMPTY), [Judged()])) == [("not-judged", "nothing-here", "unknown")]
    for more in ("  U1: {load: 1 mA, plus: +5V, minus: GND}\n", "  BT1: {cell: CR2032, plus: +5V, minus: GND}\n",
                 "expect:\n  - {at: +5V, volts: 5}\n"):
        assert unknowns(made(EMPTY + more)) == []


def test_failures_that_were_left_out_are_told_with_how_many():
    found = made(BOARD)
    assert room._untried_faults(found, 0) == []
    assert room._untried_faults(replace(found, missing="there is none"), 3) == []
    (finding,) = room._untried_faults(found, 3)
    assert told([finding]) == [("fault-current", "untried", "unknown")]
    assert finding.figures == {"untried_count": 3}


MADE = """
title: a rail made here
rails: {+9V: 9 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  U3: {regulator: {output: 5 V}, input: +9V, output: OUT, ground: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: OUT, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND}
"""


def test_a_rail_made_on_the_board_is_taken_to_float_and_that_is_told_where_a_cell_feeds_loads():
    (finding,) = room._made_rails(made(MADE))
    assert told([finding]) == [("back-feed", "made-rail", "caution")]
    assert (finding.subject, finding.parts, finding.nets, finding.line) == ("U3", ("U3",), ("OUT",), 6)
    assert room._made_rails(made(MADE.replace("D1: {diode: 1N4148, anode: CELL, cathode: VRAM}",
                                              "D1: {diode: 1N4148, anode: VRAM, cathode: CELL}"))) == []
    assert room._made_rails(made(MADE.replace("{+9V: 9 V}", "{+9V: 9 V, OUT: 5 V}"))) == []


def unjudged(parts, judged=(), known=None, more=""):
    fragment = netcheck.loads("title: t\nrails: {+5V: 5 V}\nparts:\n" + "".join(f"  {part}\n" for part in parts) + more)
    return unjudged_kinds.unjudged(fragment, frozenset(judged), fragment.parts if known is None else known)


REGULATOR = "U3: {regulator: LM317, input: +5V, output: OUT, adjust: ADJ}"


def test_kinds_that_no_section_judges_are_noted_and_unknown_where_something_asks():
    capacitors = [f"C{n}: {{capacitor: 1u, between: [+5V, N{n}]}}" for n in range(1, 11)]
    (finding,) = unjudged(capacitors)
    assert told([finding]) == [("not-judged", "kind", "note")]
    assert (finding.subject, len(finding.parts), finding.figures) == ("C1", 10, {"more_count": 2})
    assert finding.words == {"shown": tuple(f"C{n}" for n in range(1, 9)), "kind": "capacitor"}
    (eight,) = unjudged(capacitors[:8])
    assert eight.figures == {}
    assert unjudged(capacitors, [Kind.CAPACITOR]) == []
    (left_out,) = unjudged(capacitors, [Kind.CAPACITOR], {"C1"})
    assert left_out.parts == tuple(f"C{n}" for n in range(2, 11))
    assert unjudged(["R1: {resistor: 1k, between: [+5V, A]}", "D1: {diode: 1N4148, anode: A, cathode: B}"]) == []


@pytest.mark.parametrize(("parts", "more", "severity"), [
    ([REGULATOR], "", "note"),
    ([REGULATOR.replace("adjust: ADJ}", "adjust: ADJ, heatsink: 10 K/W}")], "", "unknown"),
    ([REGULATOR, "U1: {load: 1 mA, plus: OUT, minus: GND, survives: 7 V}"], "", "unknown"),
    ([REGULATOR, "U1: {load: 1 mA, plus: OUT, minus: GND}"], "", "note"),
    ([REGULATOR, "U1: {load: 1 mA, plus: +5V, minus: GND, survives: 7 V}"], "", "note"),
    ([REGULATOR], "settings:\n  - {of: U3, want: [3.3 V]}\n", "unknown"),
])
def test_a_regulator_of_which_something_is_asked_is_unknown_until_judged(parts, more, severity):
    (finding,) = unjudged(parts, more=more)
    assert (finding.words["kind"], str(finding.severity)) == ("regulator", severity)


def test_a_kind_that_nobody_knows_is_unknown(monkeypatch):
    monkeypatch.setattr(unjudged_kinds, "BACKUP", unjudged_kinds.BACKUP - {Kind.RELAY})
    (finding,) = unjudged(["K1: {relay: 167, coil: [+5V, GND], common: A, rest: B}"])
    assert told([finding]) == [("not-judged", "kind", "unknown")]
    assert finding.words["other"] == "relay"


def test_a_big_board_is_cut_to_what_hangs_together_with_cells_loads_and_wishes(monkeypatch):
    text = BOARD + ("  R1: {resistor: 1k, between: [+5V, FAR]}\n  R2: {resistor: 1k, between: [+5V, WISH]}\n"
                    "  R3: {resistor: 1k, between: [+5V, THRU]}\n  R4: {resistor: 1k, between: [+5V, REF]}\n"
                    "  R5: {resistor: 1k, between: [+5V, ONE]}\n  R6: {resistor: 1k, between: [+5V, TWO]}\n"
                    "  C1: {capacitor: 1u, between: [+5V, GND]}\n  C2: {capacitor: 1u, between: [FAR, GND]}\n"
                    "expect:\n  - {at: WISH, against: REF, volts: 5}\n  - {through: R3, amps: 0 mA}\n"
                    "  - {apart: [ONE, TWO]}\n")
    fragment = netcheck.loads(text)
    assert room._relevant(fragment) is fragment
    monkeypatch.setattr(room, "_SMALL", len(fragment.parts))
    assert room._relevant(fragment) is fragment
    monkeypatch.setattr(room, "_SMALL", len(fragment.parts) - 1)
    assert set(fragment.parts) - set(room._relevant(fragment).parts) == {"R1", "C2"}


def test_what_could_not_be_worked_out_of_a_cell_is_told():
    found = made(BOARD)
    cell = found.fragment.parts["BT1"]
    assert room._unsolved(found, cell, None) == []
    assert room._unsolved(replace(found, missing="there is none"), cell, "why") == []
    (finding,) = room._unsolved(found, cell, "it does not settle")
    assert told([finding]) == [("life", "not-solved", "unknown")]
    assert (finding.subject, finding.line, finding.words) == ("BT1", 5, {"why": "it does not settle"})


def said(severity, subject):
    return Finding("backup-voltage", severity, subject, case="not-stated")


@pytest.fixture(scope="module")
def judged():
    """Judged once, with a section and a warning of the test's own."""
    asked = []

    def section(found):
        asked.append(found.fragment)
        yield {}
        return Judged(findings=(said(Severity.FAILS, "OWN"),), regulators={"U9": 1}, capacitors={"C9": 2},
                      duties={"R9": 3}, features={"mouse": 4}, judges=frozenset({Kind.CHIP}))

    fragment = netcheck.loads(BOARD + "  U2: {chip: g, pins: {1: +5V, 2: FAR}}\n")
    result = check_variant(fragment, lambda one: [said(Severity.NOTE, "WARNED")], [section])
    return result, asked


def test_every_section_is_joined_and_the_gravest_findings_come_first(judged):
    result, _ = judged
    order = [list(Severity).index(finding.severity) for finding in result.findings]
    assert order == sorted(order)
    assert {"OWN", "WARNED"} <= {finding.subject for finding in result.findings}
    assert "not-judged" not in {finding.check for finding in result.findings}
    assert (result.regulators, result.capacitors, result.duties, result.features) == (
        {"U9": 1}, {"C9": 2}, {"R9": 3}, {"mouse": 4})
    assert result.name == "as found"
    assert result.simulated
    assert set(result.loads) == {"U1"}
    assert set(result.net_volts) == set(result.drops_V) == {"main on", "main off"}
    assert result.net_volts["main on"]["+5V"] == 5.0
    assert result.drops_V["main off"]["D1"] > 0.1


def test_the_figures_of_a_cell_are_those_of_its_checks(judged):
    cell = judged[0].cells["BT1"]
    assert cell.primary
    assert (cell.shorts_to_charge, cell.shorts) == (1, ("D1",))
    assert cell.fault.part == "D1"
    assert cell.charge_A < 100e-9
    assert cell.charge_state in ("main on", None)
    assert cell.drain_A["main off"] == pytest.approx(2e-6, rel=0.1)
    assert (cell.takes_A["main off"], cell.drain_A["main on"]) == (0.0, 0.0)
    assert cell.leakage_A["maximum"] > cell.leakage_A["typical"] > 0
    assert 5 < cell.life.years < 15
    assert cell.life.least_years < cell.life.years
    assert (cell.end_of_charge_V, cell.trickle_A) == (None, None)
    assert cell.hours_within["typical"] == 24


def test_failures_left_out_are_told_by_the_whole_judgement(monkeypatch):
    monkeypatch.setattr(failures, "_MOST_FAULT_WORK", 0)
    monkeypatch.setattr(failures, "_LEAST_FAULTS", 2)
    result = check_variant(netcheck.loads(BOARD))
    assert [finding.figures["untried_count"] for finding in result.findings if finding.case == "untried"] == [5]
    assert result.verdict == "unknown"


CHARGED = """
title: a charger
rails: {+5V: 5 V ±5%}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 1k, between: [+5V, CELL]}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 1.5 V to 5.5 V}
"""


@pytest.fixture(scope="module")
def charged():
    return check_variant(netcheck.loads(CHARGED))


def route(result):
    return next(one for one in result.findings if one.check == "charge-route" and one.severity is Severity.DANGER)


def test_a_charge_is_told_with_the_cures_that_were_proved_and_one_mod(charged):
    cell = charged.cells["BT1"]
    assert charged.verdict == "danger"
    assert ("R1",) in [remedy.remove for remedy in cell.remedies]
    assert all(remedy.verdict not in (None, "danger", "fails") for remedy in cell.remedies)
    assert "Remove R1" in route(charged).advice
    assert cell.proposal.verdict not in ("danger", "fails")
    assert "R1" in cell.proposal.mod


def test_judged_without_cures_the_verdict_is_the_same_and_failures_are_left_out_where_they_are_not_asked_for(charged):
    fragment = netcheck.loads(CHARGED)
    for bare in (uncured(fragment), check_variant(fragment, cured=False)):
        assert bare.verdict == charged.verdict
        assert (bare.cells["BT1"].remedies, bare.cells["BT1"].proposal) == ((), None)
        assert "R1" not in route(bare).advice
    safe = netcheck.loads(BOARD)
    assert uncured(safe).cells["BT1"].fault.part == "D1"
    alone = uncured(safe, failing=False)
    assert (alone.cells["BT1"].fault, alone.simulated) == (None, True)
    assert not [one for one in alone.findings if one.check.startswith("fault")]


def test_a_rechargeable_that_is_charged_has_what_would_stop_it_without_being_told_to():
    result = check_variant(netcheck.loads(CHARGED.replace("CR2032", "NiCd-3x60")), cured=False)
    assert [remedy.remove for remedy in result.cells["BT1"].remedies] == [("R1",)]
    assert not [one for one in result.findings if one.check == "charge-route" and one.severity is Severity.DANGER]


def test_where_the_time_is_used_up_the_graph_alone_tells_what_would_cure_and_nothing_is_ok():
    forget()
    with limited(1e-9):
        safe, result = check_variant(netcheck.loads(BOARD)), check_variant(netcheck.loads(CHARGED))
    assert (safe.verdict, safe.cut_short, result.cut_short) == ("unknown", True, True)
    (finding,) = [one for one in safe.findings if one.check == "time"]
    assert "1e-09 s" in finding.message
    assert "BT1.plus" in [remedy.insert_diode for remedy in result.cells["BT1"].remedies]
    assert result.cells["BT1"].proposal is None


def test_a_wish_through_a_part_and_against_a_net_keeps_them_of_a_big_board(monkeypatch):
    monkeypatch.setattr(room, "_SMALL", 3)
    far = ("  R7: {resistor: 1k, between: [+5V, FAR]}\n  R8: {resistor: 1k, between: [FAR, GND]}\n"
           "  R9: {resistor: 1k, between: [+5V, OFF]}\n  RA: {resistor: 1k, between: [OFF, GND]}\n")
    kept = {wish: set(room._relevant(netcheck.loads(f"{BOARD}{far}expect: [{{{wish}}}]\n")).parts) & {"R7", "R9"}
            for wish in ("through: R7, amps: 1 mA", "at: VRAM, against: OFF, volts: 1 V", "joined: [FAR, VRAM]",
                         "at: VRAM, volts: 4 V", "apart: [VRAM, OFF]")}
    assert list(kept.values()) == [{"R7"}, {"R9"}, {"R7"}, set(), {"R9"}]


def test_leakage_is_told_of_a_primary_cell_that_is_not_charged_and_the_charge_alone_of_one_that_is():
    unknown = "{diode: {points: [[1 mA, 0.6 V]]}, anode: CELL, cathode: VRAM}"
    told_of = {}
    for name, text in (("blocked", BOARD.replace("{diode: BAS70, anode: CELL, cathode: VRAM}", unknown)),
                       ("charged", CHARGED.replace("{diode: 1N4148, anode: CELL, cathode: VRAM}", unknown))):
        told_of[name] = [one.case for one in uncured(netcheck.loads(text), failing=False).findings
                         if one.check == "leakage"]
    assert told_of == {"blocked": ["not-stated"], "charged": []}


def test_a_rechargeable_has_the_figures_of_its_own_window_alone():
    """NiCd is held to a lasting current, and has no volts at which charging ends; a primary cell has neither."""
    cells = {name: uncured(netcheck.loads(CHARGED.replace("CR2032", name)), failing=False).cells["BT1"]
             for name in ("NiCd-3x60", "CR2032")}
    assert cells["NiCd-3x60"].trickle_A > 0
    assert [cells[name].end_of_charge_V for name in cells] == [None, None]
    assert cells["CR2032"].trickle_A is None


def test_a_chip_of_the_library_is_known_where_the_pins_that_matter_were_traced():
    def chip(pins):
        text = f"title: t\nrails: {{+5V: 5 V}}\nparts:\n  U1: {{chip: DS1302, pins: {pins}}}\n"
        return netcheck.loads(text).parts["U1"]

    assert unjudged_kinds._known_chip(chip("{1: +5V, 4: GND, 8: CELL}"))
    assert not unjudged_kinds._known_chip(chip("{8: CELL, 5: CE}"))
    assert not unjudged_kinds._known_chip(netcheck.loads(BOARD).parts["D1"])


def test_a_rail_made_on_the_board_with_its_load_in_the_file_needs_no_word():
    for more, told_of in (("[OUT, GND]", 0), ("[OUT, VRAM]", 1), ("[VRAM, GND]", 1)):
        assert len(room._made_rails(made(f"{MADE}  R5: {{resistor: 1k, between: {more}}}\n"))) == told_of


def test_a_section_is_told_why_nothing_is_simulated(monkeypatch):
    monkeypatch.setattr(solved_states, "_MOST_PARTS", 1)
    problems = []

    def section(found):
        cell = found.fragment.parts["BT1"]
        points = yield {"one": found.circuit(cell, found.states.states[0], found.corners.room)}
        problems.append(points["one"].problem)
        return Judged()

    result = uncured(netcheck.loads(BOARD), sections=[section])
    assert problems == [solved_states.too_large(netcheck.loads(BOARD))]
    assert problems[0].startswith("4 parts")
    assert result.verdict == "unknown"


def test_a_rail_made_on_the_board_that_its_load_holds_at_0_v_needs_no_word():
    def held(volts, feed=0.0, load="  U4: {load: 80 mA, plus: OUT, minus: GND}\n"):
        return room._made_rails(made(MADE + load, {"main off": point({"OUT": volts, "+9V": feed})}))

    assert held(0.0) == []
    assert held(0.0, load="") != []  # it floats, whatever a simulator finds
    assert held(2.9) != []  # a load of nanoamperes
    assert held(None) != []
