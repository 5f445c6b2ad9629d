"""A regulator in dropout: its links are found on the graph, and what only an empty socket sees is told as such."""

from __future__ import annotations

import pytest

from netcheck.api import check, loads, settings_of
from netcheck.bench.probe_sheet import probe_sheet
from netcheck.fragment.model import Fragment
from netcheck.reports.settings_text import settings_text
from netcheck.supply.results import Settings

BOARD = """
title: Core supply
rails: {{VIN: {rail}}}
parts:
  U1:  {{regulator: LM317, input: VIN, output: VC, adjust: ADJ}}
  R1:  {{resistor: 240, between: [VC, ADJ]}}
  R2:  {{resistor: 390, between: [ADJ, A2]}}
  R3:  {{resistor: 100, between: [A2, A3]}}
  R4:  {{resistor: 220, between: [A3, GND]}}
  U2:  {{load: {{draws: 100 mA at 3.3 V}}, plus: VC, minus: GND, works: 3.1 V to 3.6 V, survives: 4.0 V}}
{more}
"""
TWO = ("JP1: {jumper: [A2, GND], set: closed}", "JP2: {jumper: [A3, GND]}")


def board(rail: str, *more: str) -> Fragment:
    return loads(BOARD.format(rail=rail, more="\n".join("  " + line for line in more)))


def of(fragment: Fragment) -> Settings:
    return settings_of(fragment)["U1"]


def told(fragment: Fragment) -> str:
    return settings_text("U1", of(fragment).to_dict(), fragment)


def test_every_link_counts_whether_or_not_the_input_is_high_enough_for_it() -> None:
    """VOUT = VREF·(1 + R2/R1) + IADJ·R2 is asked for, R2 all that is in series: LM317 data sheet, TI, SNVS774O."""
    below = {("closed", "closed"): 390, ("closed", "open"): 390, ("open", "closed"): 490, ("open", "open"): 710}
    for rail in ("5 V ±5%", "5.6 V ±2%", "7.5 V ±2%", "9 V ±2%"):
        found = of(board(rail, *TWO))
        assert found.links == ("JP1", "JP2"), rail
        asked = {(one.positions["JP1"], one.positions["JP2"]): one.asked_V for one in found.settings}
        assert asked == {put: pytest.approx(1.25 * (1 + ohms / 240) + 50e-6 * ohms, abs=5e-3)
                         for put, ohms in below.items()}, rail
        assert [one.asked_V for one in found.settings] == sorted(one.asked_V or 0.0 for one in found.settings), rail


def test_settings_of_the_same_output_in_dropout_are_rows_of_their_own_and_marked() -> None:
    fragment = board("5 V ±5%", *TWO)
    found = of(fragment)
    assert {round(one.output_V or 0.0, 2) for one in found.settings} == {3.0}
    assert told(fragment).count("FAILS, in dropout") == 4
    high = told(board("5.6 V ±2%", *TWO)).splitlines()
    assert [line.endswith("in dropout") for line in high if line.startswith(("o=o", "o o"))] == [False] * 2 + [True] * 2
    assert "in dropout" not in told(board("9 V ±2%", *TWO))


def test_the_bench_tries_them_all_with_the_load_out_before_it_goes_in() -> None:
    fragment = board("5 V ±5%", *TWO)
    result = check(fragment).variants[-1]
    sections = probe_sheet(fragment, dangers=result.dangers, regulators=result.regulators).sections
    titles = [section.title for section in sections]
    first = next(place for place, title in enumerate(titles) if "U2 out of the socket" in title)
    assert len(sections[first].probes) == 4
    assert first < next(place for place, title in enumerate(titles) if title.startswith("State main on"))


def test_links_in_series_count_and_those_that_lead_nowhere_do_not() -> None:
    """Neither of two links in a row does anything by itself while the other is open."""
    series = board("5 V ±5%", "JP1: {jumper: [A2, MID]}", "JP2: {jumper: [MID, GND]}")
    assert of(series).links == ("JP1", "JP2")
    rail = "R8: {resistor: 1k, between: [VIN, S8]}", "JP8: {jumper: [S8, GND]}"
    stub = ("R9: {resistor: 1k, between: [A2, S9]}", "JP9: {jumper: [S9, S10]}",
            "C9: {capacitor: 1u, between: [S10, GND]}")
    for volts in ("5 V ±5%", "9 V ±2%"):
        assert of(board(volts, *TWO, *rail, *stub)).links == ("JP1", "JP2"), volts


def test_a_link_round_a_resistor_on_the_output_s_side_counts() -> None:
    more = ("R5: {resistor: 120, between: [VC, B1]}", "R6: {resistor: 120, between: [B1, ADJ]}",
            "JP3: {jumper: [VC, B1]}")
    found = of(board("5 V ±5%", *more))
    assert found.links == ("JP3",)
    assert found.setting_parts == ("R1", "R2", "R3", "R4", "R5", "R6")


def test_what_only_an_empty_socket_sees_is_said_so_and_not_in_the_column() -> None:
    """LM317: 10 mA of minimum load, data sheet, TI, SNVS774O, electrical characteristics; 240 Ω draw 5.2 mA."""
    fragment = board("6.5 V ±2%", *TWO)
    one = of(fragment).standing
    assert one is not None
    assert one.loaded_V is not None
    assert one.verdict == "ok"
    assert one.loaded_V[1] < 3.6 < 4.0 < (one.output_max_V or 0.0)
    assert f"may rise to {one.output_max_V:.2f} V with U2 out of its socket" in one.why
    row = next(line for line in told(fragment).splitlines() if "*" in line)
    assert row.endswith("OK")
    assert f"{one.loaded_V[0]:.2f} to {one.loaded_V[1]:.2f}" in row
    assert f"{one.output_max_V:.2f}" not in row
