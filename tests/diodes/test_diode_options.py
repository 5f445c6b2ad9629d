"""Which diode: the options, the two effects that pull against each other, and the cures for a single diode."""

from __future__ import annotations

import pytest

import netcheck
from netcheck.api import assumed
from netcheck.diodes.comparison import NoPlace, compare, distinct, over_years, question
from netcheck.diodes.protection import protection, worst_fault_A
from netcheck.diodes.tolerance_study import study
from netcheck.fragment.mods import apply_steps
from netcheck.parts.catalogue import Catalogue
from netcheck.solving.solved_states import survey

BACKUP = """
title: backup
rails: {+5V: 5 V ±5%}
conditions: {temperature: 10 to 50 °C, powered: 4 h/day}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
"""

CATALOGUE = Catalogue.standard()


def named(*names):
    return [CATALOGUE.diode(name) for name in names]


def compared(text, names, at=()):
    fragment = netcheck.loads(text)
    asked = question(fragment, at)
    return asked, compare(asked, named(*names), assumed(fragment))


@pytest.fixture(scope="module")
def options():
    _, found = compared(BACKUP, ["1N4148", "BAT85", "BAS70", "1N5817"])
    return {(option.at["D1"], option.at["D2"]): option for option in found.options}


def test_the_places_are_the_cells_diode_and_the_rails():
    asked, _ = compared(BACKUP, ["1N4148"])
    assert (asked.cell_places, asked.rail_places) == (("D1",), ("D2",))


def test_a_schottky_in_the_cells_place_costs_fewer_volts(options):
    silicon, schottky = options["1N4148", "1N4148"], options["BAS70", "1N4148"]
    assert schottky.drop_V < 0.7 * silicon.drop_V
    assert schottky.backup_V["fresh"] > silicon.backup_V["fresh"]
    assert schottky.leakage_in_A["typical"] > silicon.leakage_in_A["typical"]


def test_a_power_schottky_loses_to_a_small_one(options):
    power, small = options["1N5817", "1N4148"], options["BAS70", "1N4148"]
    assert power.backup_V["fresh"] > small.backup_V["fresh"]
    assert power.verdict == "danger"
    assert small.rank < power.rank
    assert "leaks" in power.why


def test_a_schottky_in_the_rails_place_drains_the_cell(options):
    drained, kept = options["1N4148", "1N5817"], options["1N4148", "1N4148"]
    assert drained.leakage_out_A["typical"] > 100 * kept.leakage_out_A["typical"]
    assert drained.life_years < 0.5 * kept.life_years
    assert "drains" in drained.why
    assert kept.rank < drained.rank


def test_ranks_run_from_one_and_the_present_one_is_marked(options):
    assert sorted(option.rank for option in options.values()) == list(range(1, len(options) + 1))
    assert [pair for pair, option in options.items() if option.present] == [("1N4148", "1N4148")]


def test_one_failure_away_whichever_diode(options):
    assert {option.shorts_to_charge for option in options.values()} == {1}


def test_the_json_is_as_contracted():
    _, found = compared(BACKUP, ["BAT85"])
    data = found.to_dict()
    assert data["format"] == "netcheck-diodes/1"
    assert data["summary"].count(". ") >= 1
    wanted = {"at", "family", "present", "rank", "why", "drop_V", "backup_V", "leakage_in_A", "leakage_share",
              "leakage_out_A", "shorts_to_charge", "life_years", "verdict"}
    for option in data["options"]:
        assert wanted <= option.keys()
        assert {"fresh", "old", "coldest", "hottest", "lowest"} == option["backup_V"].keys()
        assert option["backup_V"]["lowest"] <= min(option["backup_V"]["old"], option["backup_V"]["coldest"])


def test_a_place_where_a_diode_could_go():
    text = BACKUP.replace("  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}\n", "").replace("CELL", "VRAM")
    asked, found = compared(text, ["1N4148", "BAS70"], at=["BT1.plus"])
    assert len(asked.cell_places) == 1
    assert {option.shorts_to_charge for option in found.options} == {1}


def test_a_word_that_is_no_place_says_what_is():
    with pytest.raises(NoPlace, match=r"D9 is not a diode.*D1, D2.*BT1\.plus"):
        question(netcheck.loads(BACKUP), ["D9"])
    with pytest.raises(NoPlace, match="No cell feeds"):
        question(netcheck.loads(BACKUP.replace("diode: 1N4148, anode: CELL", "diode: 1N4148, anode: ELSE")))


def test_names_for_the_same_figures_are_tried_once():
    assert [spec.name for spec in distinct(named("1N4001", "1N4002", "1N4148"))] == ["1N4001", "1N4148"]


def test_backup_volts_over_the_years_fall_and_end_with_the_cell():
    asked, found = compared(BACKUP, ["1N4148"])
    curve = over_years(asked, found.options[0], {"1N4148": CATALOGUE.diode("1N4148")})
    years = [year for year, _ in curve]
    volts = [at for _, at in curve]
    assert years == sorted(years)
    assert volts == sorted(volts, reverse=True)
    assert years[-1] > found.options[0].life_years * 20 / 24  # the life counts 4 h a day on the rail


class TestASingleDiodeThatFails:
    """Two accepted protections: Renata, "3V Lithium Coin Cells - Designer's Guide", pp. 52-53."""

    def found(self):
        asked = question(netcheck.loads(BACKUP))
        return asked, protection(asked)

    def test_the_resistor_is_the_least_that_keeps_the_limit(self):
        asked, found = self.found()
        assert found.fault_A > found.allowed_A == 10e-3
        (resistor, steps), (_, diode_steps) = found.mods
        assert "resistor" in resistor
        changed = apply_steps(asked.fragment, steps)
        assert worst_fault_A(survey(changed), "BT1") <= 10e-3
        # 5.25 V less a warm diode's drop and a cell at its end point (2.0 V) over 10 mA, less its own resistance
        assert 100 <= found.resistor_ohm <= 330
        doubled = apply_steps(asked.fragment, diode_steps)
        assert netcheck.check(doubled).variants[-1].cells["BT1"].shorts_to_charge == 2

    def test_what_each_costs_in_backup_volts(self):
        _, found = self.found()
        assert 0 <= found.resistor_costs_V < 2e-3  # 2 µA through a few hundred ohm
        assert 0.2 < found.diode_costs_V < 0.5     # another silicon diode at 2 µA

    def test_a_second_diode_that_leaves_an_old_cell_too_few_volts_is_told_as_such(self):
        assert "old cell" not in self.found()[1].words
        found = protection(question(netcheck.loads(BACKUP.replace("works: 2.0 V", "works: 2.5 V"))))
        assert "with an old cell U1 then gets" in found.words
        assert "and needs 2.5 V" in found.words

    def test_the_limit_by_formula(self):
        """R >= (Vmain - Vbat) / Ipermitted: Hitachi Maxell, ER6K datasheet p. 4 (diode taken as shorted)."""
        text = BACKUP.replace("  D2: {diode: 1N4148, anode: +5V, cathode: VRAM}",
                              "  D2: {resistor: 1m, between: [+5V, VRAM]}").replace("5 V ±5%", "5 V").replace(
            "cell: CR2032", "cell: {chemistry: lithium-thionyl, volts: 3.6, capacity: 1 Ah, resistance: 1m, "
                            "abnormal_charge: 100 uA}")
        found = protection(question(netcheck.loads(text)))
        assert found.resistor_ohm == 15e3  # the E24 value from 14 kohm up, its 5 % allowed for
        closer = protection(question(netcheck.loads(text.replace("100 uA", "96 uA"))))
        assert closer.resistor_ohm == 16e3  # 14.6 kohm: the low end of 15 kohm is 14.25 kohm


def test_the_study_is_the_same_for_a_seed_and_spreads_about_the_nominal():
    asked, found = compared(BACKUP, ["1N4148"])
    first, again, other = (study(asked, 200, seed) for seed in (1, 1, 2))
    assert first == again
    assert first != other
    assert (first.samples, first.failed) == (200, 0)
    for low, half, high in (*first.volts.values(), first.life_years):
        assert low < half < high
    nominal = next(option for option in found.options if option.present)
    assert first.volts["fresh"][1] == pytest.approx(nominal.backup_V["fresh"], abs=0.1)
    assert first.life_years[1] == pytest.approx(nominal.life_years, rel=0.35)


@pytest.mark.parametrize(("capacity", "load", "years"), [
    ("80 mAh", "500 nA", 18.2),  # DS1307 and CR2016: 160 000 h (EDAboard thread 34325, restating the makers' figures)
    ("80 mAh", "800 nA", 11.4),  # the same with square wave: 100 000 h
    ("48 mAh", "500 nA", 10.96),  # BR1225 (Handbook of Battery Materials, Table 2.5) in a clock module
])
def test_published_lifetime_sums(capacity, load, years):
    """Hours are capacity over current where the curve is flat and nothing else draws; 8760 h a year."""
    text = f"""
title: sum
rails: {{+5V: 5 V}}
conditions: {{temperature: 25 °C}}
parts:
  BT1: {{cell: {{chemistry: lithium-primary, volts: 3.0, capacity: {capacity}, resistance: 15}}, plus: B, minus: GND}}
  U1: {{load: {load}, plus: B, minus: GND, works: 2.0 V to 3.5 V}}
"""
    assert netcheck.check(netcheck.loads(text)).variants[-1].cells["BT1"].life.years == pytest.approx(years, rel=5e-3)


def test_hours_powered_lengthen_the_life():
    """years = Ah / (8760 x (1 - duty) x current): ST, real-time clock battery-life page."""
    text = """
title: duty
rails: {+5V: 5 V}
conditions: {temperature: 25 °C, powered: HOURS}
parts:
  BT1: {cell: {chemistry: lithium-primary, volts: 3.0, capacity: 48 mAh, resistance: 15}, plus: B, minus: GND}
  D1: {diode: BAS116, anode: B, cathode: VRTC}
  D2: {diode: BAS116, anode: +5V, cathode: VRTC}
  U1: {load: 2 uA, plus: VRTC, minus: GND, works: 1.8 V to 5.5 V}
"""
    years = [netcheck.check(netcheck.loads(text.replace("HOURS", hours))).variants[-1].cells["BT1"].life.years
             for hours in ("0 h/day", "12 h/day")]
    assert years[1] == pytest.approx(2 * years[0], rel=0.01)
