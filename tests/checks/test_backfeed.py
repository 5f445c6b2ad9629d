"""What a cell gives elsewhere than into its loads, way by way."""

from __future__ import annotations

import pytest
from made_points import UNKNOWN, made, point, told
from msgspec.structs import replace

import netcheck
from netcheck.checks.backfeed import back_feed, into_packs, losses_of
from netcheck.solving.flows import Way
from netcheck.solving.solved_states import survey

BOARD = """
title: a cell and what else it feeds
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  R1: {resistor: 1M, between: [VRAM, +5V]}
  R2: {resistor: 1M, between: [CELL, GND]}
  U1: {load: 2 uA, plus: VRAM, minus: GND}
"""


def stored(load_A=2e-6, rail_A=0.0, ground_A=0.0, known=True):
    through = load_A + rail_A
    return point({"CELL": 3.0, "VRAM": 2.6, "+5V": 0.0}, {
        "BT1": through + ground_A, "D1": through, "U1": load_A, "R1": rail_A, "+5V": -rail_A, "R2": ground_A,
    }) if known else UNKNOWN


def fed(**amps):
    found = made(BOARD, {"main off": stored(**amps)})
    return back_feed(found, found.fragment.parts["BT1"])


def test_what_goes_into_the_loads_is_not_told():
    assert fed() == []
    assert fed(rail_A=0.49e-6) == []          # a fifth of what it gives is told
    assert fed(load_A=0.0, rail_A=0.9e-9) == []
    assert fed(load_A=0.0, rail_A=1.1e-9) != []
    assert fed(known=False) == []


@pytest.mark.parametrize(("rail_A", "severity"), [(0.6e-6, "note"), (1.9e-6, "note"), (2.1e-6, "caution")])
def test_half_of_it_or_more_lost_is_a_caution(rail_A, severity):
    found = fed(rail_A=rail_A)
    assert told(found) == [("back-feed", "losses", severity)]
    (one,) = found
    assert one.figures == {"lost_A": pytest.approx(rail_A), "given_A": pytest.approx(2e-6 + rail_A),
                           "losses_0_A": pytest.approx(rail_A)}
    assert one.words["losses"] == ("the dead +5V",)
    assert one.words["losses_0_through"] == ("R1",)    # D1 serves the load as well
    assert (one.words["kind"], one.words["changed"]) == ("resistor", ("R1",))
    assert (one.subject, one.state, one.parts, one.line) == ("BT1", "main off", ("R1",), 5)


def test_each_way_is_named_the_largest_first_and_small_ones_are_not():
    (found,) = fed(load_A=0.0, rail_A=1e-6, ground_A=3e-6)
    assert found.words["losses"] == ("the ground", "the dead +5V")
    assert found.parts == ("R2", "D1", "R1")
    (small,) = fed(load_A=0.0, rail_A=0.1e-6, ground_A=3e-6)
    assert small.words["losses"] == ("the ground",)


def test_losses_through_the_same_parts_are_one_and_what_serves_a_load_is_not_to_blame():
    fragment = netcheck.loads(BOARD)
    ways = [Way(("D1", "U1"), ("CELL", "VRAM", "GND"), 2e-6),
            Way(("D1", "R1", "+5V"), ("CELL", "VRAM", "+5V", "GND"), 1e-6),
            Way(("R2",), ("CELL", "GND"), 3e-6), Way(("R2",), ("CELL", "GND"), 1e-6)]
    losses = losses_of(fragment, ways)
    assert [(loss.amps, loss.parts, loss.into) for loss in losses] == [
        (4e-6, ("R2",), "the ground"), (1e-6, ("R1",), "the dead +5V")]
    only = losses_of(fragment, [ways[0], Way(("D1",), ("CELL", "GND"), 1e-6)])
    assert only[0].parts == ("D1",)
    pack = netcheck.loads(BOARD + "  BT2: {cell: CR2032, plus: EXT, minus: GND}\n")
    (into,) = losses_of(pack, [Way(("D1", "BT2"), ("CELL", "EXT", "GND"), 1e-6)])
    assert (into.parts, into.into, into.through) == (("D1", "BT2"), "the cell BT2", ("D1",))
    assert losses_of(fragment, []) == []


TWO = """
title: two cells
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  BT2: {cell: alkaline-3xAA, plus: EXT, minus: GND}
  R1: {PART}
  U1: {load: 2 uA, plus: CELL, minus: GND}
"""


def packs(part, cell):
    found = survey(netcheck.loads(TWO.replace("{PART}", part)))
    return into_packs(found, found.fragment.parts[cell])


def test_what_a_cell_gives_into_a_flat_one_is_told_and_not_through_what_blocks():
    """4.5 V and more into a flat CR2032 of 2 V over 1 kilohm: about 3 mA; the other way 3.3 V into 2.4 V."""
    for cell, other in (("BT1", "BT2"), ("BT2", "BT1")):
        found = packs("{resistor: 1k, between: [CELL, EXT]}", cell)
        assert told(found) == [("back-feed", "into-flat-pack", "caution")]
        (one,) = found
        assert (one.subject, one.parts) == (cell, ("R1", other))
        assert (one.words["pack"], one.words["through"]) == (other, ("R1",))
        assert one.figures["lost_A"] > 0.2e-3
        assert one.state == "main off"
    diode = "{diode: 1N4148, anode: EXT, cathode: CELL}"
    assert [len(packs(diode, cell)) for cell in ("BT1", "BT2")] == [0, 1]
    assert packs("{resistor: 1k, between: [CELL, X]}", "BT2") == []


def test_a_pack_that_takes_back_through_what_blocks_does_not_hide_the_next():
    """BT3 takes what no conducting part brings there, BT4 what comes through a resistor."""
    found = made("""
title: three packs
rails: {+5V: 5 V}
parts:
  BT2: {cell: alkaline-3xAA, plus: B, minus: GND}
  BT3: {cell: CR2032, plus: C, minus: GND}
  BT4: {cell: CR2032, plus: D, minus: GND}
  D1: {diode: 1N4148, anode: C, cathode: B}
  R1: {resistor: 1k, between: [B, D]}
""", {("main off", "charge, BT3 alone flat"): point({"B": 4.5, "C": 2.0}, {"BT2": 1e-3, "BT3": -1e-3}),
      ("main off", "charge, BT4 alone flat"): point({"B": 4.5, "D": 3.5}, {"BT2": 1e-3, "BT4": -1e-3, "R1": 1e-3})})
    findings = into_packs(found, found.fragment.parts["BT2"])
    assert [one.words["pack"] for one in findings] == ["BT4"]


@pytest.mark.parametrize("worst", ["open", "closed"])
def test_the_state_in_which_a_flat_pack_takes_the_most_is_told(worst):
    def at(amps):
        return point({"B": 4.5, "D": 3.5}, {"BT2": amps, "BT4": -amps, "R1": amps})

    found = made("""
title: two packs and a jumper
parts:
  BT2: {cell: alkaline-3xAA, plus: B, minus: GND}
  BT4: {cell: CR2032, plus: D, minus: GND}
  R1: {resistor: 1k, between: [B, D]}
  JP1: {jumper: [B, X], set: open}
  R2: {resistor: 1k, between: [X, D]}
""", {(f"JP1 {position}", "charge, BT4 alone flat"): at(2e-3 if position == worst else 1e-3)
      for position in ("open", "closed")})
    (one,) = into_packs(found, found.fragment.parts["BT2"])
    assert (one.state, one.figures["lost_A"]) == (f"JP1 {worst}", 2e-3)


def test_no_diode_that_conducts_forward_is_to_be_exchanged_for_one_of_lower_leakage():
    text = """
title: a clamp across the backup
rails: {+5V: 5 V}
parts:
  BT1: {cell: ER14250, plus: VB, minus: GND}
  D6: {diode: BAT85, anode: VB, cathode: VM}
  D7: {diode: BZX55C3V3, anode: GND, cathode: VM}
  R1: {resistor: 10k, between: [+5V, GND]}
"""
    found = survey(netcheck.loads(text))
    (one,) = back_feed(found, found.fragment.parts["BT1"])
    assert one.words["losses_0_through"] == ("D6", "D7")
    assert one.words["changed"] == ("D7",)


def test_of_a_cell_with_both_pins_on_one_net_no_way_is_named():
    found = netcheck.check(netcheck.loads("""
title: a cell that its holder shorts
parts:
  BT1: {cell: CR2032, plus: CELL, minus: CELL}
  R1: {resistor: 1k, between: [CELL, GND]}
"""))
    (lost,) = [one for one in found.variants[-1].findings if one.check == "back-feed"]
    assert lost.case == "lost"
    assert lost.figures["lost_A"] == pytest.approx(lost.figures["given_A"], rel=1e-6)


LAMP = """
title: a lamp that the rail switches on
rails: {+5V: 5 V}
conditions: {powered: 6 h/day}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R9: {resistor: 1k, between: [CELL, LED]}
  Q1: {transistor: 2N3904, collector: LED, base: B, emitter: GND}
  R6: {resistor: 10k, between: [+5V, B]}
  U1: {load: 2 uA, plus: VRAM, minus: GND}
"""


def lit(amps):
    off = point({"CELL": 3.0, "LED": 3.0, "B": 0.0, "+5V": 0.0, "VRAM": 0.0}, {"BT1": 0.0, "R9": 0.0})
    on = point({"CELL": 3.0, "LED": 0.1, "B": 0.7, "+5V": 5.0, "VRAM": 5.0}, {
        "BT1": amps, "R9": amps, "Q1": amps, "R6": 4e-4, "U1": 2e-6})
    found = made(LAMP, {"main off": off, "main on": on})
    return back_feed(found, found.fragment.parts["BT1"])


def test_what_a_cell_gives_for_nothing_while_the_supply_is_on_is_told_with_its_hours():
    """Makers aim for a microampere at most into a cell, and what it gives is held to the same."""
    (finding,) = lit(1.2e-3)
    assert (str(finding.severity), finding.state, finding.parts) == ("caution", "main on", ("R9", "Q1"))
    assert finding.figures["lost_A"] == pytest.approx(1.2e-3)
    assert finding.figures["hours_a_day_h"] == 6.0
    assert "into the ground" in finding.message
    assert lit(0.9e-6) == []


def test_a_rail_that_is_on_is_not_called_dead():
    way = Way(("R1", "+5V"), ("VRAM", "+5V", "GND"), 1e-3)
    fragment = netcheck.loads(BOARD)
    assert [loss.into for loss in losses_of(fragment, [way])] == ["the dead +5V"]
    assert [loss.into for loss in losses_of(fragment, [way], {"main": True})] == ["+5V"]


BESIDE = """
title: two cells, each with a load of its own
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  U1: {load: 2 uA, plus: CELL, minus: GND}
  R1: {resistor: 100k, between: [CELL, +5V]}
  R2: {resistor: 100k, between: [CELL, GND]}
  BT2: {cell: CR2450, plus: OTHER, minus: GND}
  U2: {load: 200 uA, plus: OTHER, minus: GND}
"""


def test_what_another_cell_gives_to_its_load_hides_no_drain_of_this_one():
    """Ohm's law: 2.9 V or so over two times 100 kilohm, and 2 uA of the load."""
    found = survey(netcheck.loads(BESIDE))
    (one,) = back_feed(found, found.fragment.parts["BT1"])
    volts = found.at(found.resting(False), found.corners.room).volts["CELL"]
    assert one.state == "main off"
    assert one.figures["lost_A"] == pytest.approx(2 * volts / 100e3, rel=0.01)
    assert one.figures["given_A"] == pytest.approx(2 * volts / 100e3 + 2e-6, rel=0.01)
    assert set(one.parts) == {"R1", "R2"}
    assert back_feed(found, found.fragment.parts["BT2"]) == []


def test_of_what_a_rail_and_a_cell_give_together_the_cell_has_lost_no_more_than_it_gives():
    """1 mA of the rail and 0.5 mA of the cell meet: a third of the 0.3 mA of the load is the cell's."""
    off = point({"CELL": 3.0, "+5V": 0.0}, {"BT1": 0.0})
    on = point({"CELL": 3.0, "+5V": 5.0}, {"BT1": 0.5e-3, "R1": -1e-3, "+5V": 1e-3, "R2": 1.2e-3, "U1": 0.3e-3})
    found = made(BESIDE, {"main off": off, "main on": on})
    (one,) = back_feed(found, found.fragment.parts["BT1"])
    assert (one.state, one.parts) == ("main on", ("R2",))
    assert one.figures["lost_A"] == pytest.approx(0.4e-3)
    assert one.figures["losses_0_A"] == pytest.approx(0.4e-3)
    assert one.figures["given_A"] == 0.5e-3


def test_without_a_state_that_is_solved_nothing_is_told():
    """A deadline may leave one state alone."""
    for live, found in ((True, made(BOARD, {"main off": stored()})), (False, made(LAMP))):
        kept = tuple(state for state in found.states.states if state.live is live)
        cut = replace(found, states=replace(found.states, states=kept, untried=1))
        assert back_feed(cut, found.fragment.parts["BT1"]) == []


def test_a_cell_in_a_row_with_another_takes_nothing_from_it_and_one_beside_it_does():
    fragment = netcheck.loads(BOARD.replace("minus: GND}\n  D1", "minus: MID}\n  BT2: {cell: CR2032, plus: MID, "
                                            "minus: GND}\n  D1"))
    (row,) = losses_of(fragment, [Way(("R2", "BT2"), ("CELL", "GND", "MID"), 1e-6)])
    assert row.into == "the ground"
    (beside,) = losses_of(fragment, [Way(("R2", "BT2"), ("CELL", "MID", "GND"), 1e-6)])
    assert beside.into == "the cell BT2"
