"""Choosing resistors: as good as trying everything, safe, proved, and pasteable."""

from __future__ import annotations

import json
from itertools import product

import pytest
from click.testing import CliRunner

import netcheck
from netcheck.api import loads, settings_of
from netcheck.cli import main
from netcheck.parts.series import series
from netcheck.supply.choose import NoChoice, choose, question
from netcheck.supply.drawer import DrawerFault, Value, of_lines, of_series, with_pairs
from netcheck.supply.search import search

TEXT = """
title: To be chosen
rails: {+5V: 5 V ±3%}
parts:
  U5:  {regulator: MIC29302, input: +5V, output: VC, adjust: ADJ, ground: GND, heatsink: 10 K/W}
  R1:  {resistor: 249 ±1%, between: [VC, ADJ]}
  R2:  {resistor: 150 ±1%, between: [ADJ, GND]}
  U6:  {load: {draws: 0.5 A at 3.3 V, most: 0.8 A}, plus: VC, minus: GND, works: 3.0 V to 4.2 V, survives: 4.4 V}
"""
DECADES = [Value(number * 10.0 ** power, number * 10.0 ** power) for power in (1, 2) for number in series(12)]


def asked(wanted: list[float], links: int = 2, text: str = TEXT, **more: object) -> object:
    fragment = loads(text)
    return question(fragment, fragment.parts["U5"], wanted, links, **more)  # type: ignore[arg-type]


def brute(wanted: list[float], links: int, values: list[Value], limit: float = 4.4) -> float:
    """Every combination by the published formula VOUT = VREF·(1 + R1/R2) + IFB·R1 (MIC29302: Microchip)."""
    best = float("inf")
    for bottom, *rest in product([value.ohm for value in values], repeat=links + 1):
        outputs = [1.24 + (1.24 * (1 / bottom + sum(1 / one for one, closed in zip(rest, positions, strict=True)
                                                    if closed)) + 40e-9) * 249
                   for positions in product((False, True), repeat=links)]
        if max(outputs) <= limit and 7e-3 * 0.99 <= 1.24 / bottom <= 0.05:
            best = min(best, max(min(abs(one - want) / want for one in outputs) for want in wanted))
    return best


@pytest.mark.parametrize(("wanted", "links"), [
    ([3.3], 0), ([3.3, 3.6], 1), ([3.3, 3.45, 3.6, 4.0], 2), ([3.4, 4.1], 2)])
def test_the_best_is_that_of_trying_everything(wanted: list[float], links: int) -> None:
    one = asked(wanted, links, keep=["R1"])
    found = search(one.given, one.free, DECADES, one.demand)  # type: ignore[attr-defined]
    assert found.complete
    assert found.found[0].error == pytest.approx(brute(wanted, links, DECADES), rel=1e-9)


def test_what_is_passed_over_where_there_is_too_much_leaves_the_best() -> None:
    one = asked([3.3, 3.45, 3.6, 4.0], 2, keep=["R1"])
    whole = search(one.given, one.free, DECADES, one.demand)  # type: ignore[attr-defined]
    narrow = search(one.given, one.free, DECADES, one.demand, most=1)  # type: ignore[attr-defined]
    assert not narrow.complete
    assert narrow.found[0].error == pytest.approx(whole.found[0].error, rel=1e-9)


def test_choices_are_proved_safe_and_pasted_they_give_what_was_said() -> None:
    wanted = [3.3, 3.45, 3.6, 4.0]
    found = choose(asked(wanted, 3, keep=["R1"]), of_series(24))  # type: ignore[arg-type]
    best = found.choices[0]
    assert best.error < 0.005
    assert len(best.settings) == 8
    assert all(one.output_V is not None and one.output_V < 4.4 for choice in found.choices for one in choice.settings)
    assert best.settings[0].positions == dict.fromkeys(best.settings[0].positions, "open")
    pasted = loads(f"{TEXT}mods:\n  " + best.entry.replace("\n", "\n  "))
    from netcheck.fragment import mods

    again = settings_of(mods.apply(pasted, "outputs-of-U5"))["U5"]
    assert [one.output_V for one in again.settings] == pytest.approx([one.output_V for one in best.settings], abs=1e-6)
    errors = [round(choice.error, 6) for choice in found.choices]
    assert errors == sorted(errors)


def test_the_lowest_with_every_link_closed() -> None:
    found = choose(asked([3.3, 3.9], 1, keep=["R1", "R2"], lowest_with_all=True), of_series(24))  # type: ignore[arg-type]
    assert [one.positions["JP1"] for one in found.choices[0].settings] == ["closed", "open"]


def test_nothing_safe_says_which_demand_stands_in_the_way() -> None:
    found = choose(asked([3.3, 4.6], 1), of_series(12))  # type: ignore[arg-type]
    assert found.choices[0].error > 0.04
    assert "4.6 V are wanted, and a load survives 4.4 V" in found.stands_in_the_way


def test_what_cannot_be_asked_is_said() -> None:
    with pytest.raises(NoChoice, match="R9 is none of the resistors"):
        asked([3.3], 0, keep=["R9"])
    with pytest.raises(NoChoice, match="no resistor is left"):
        asked([3.3], 0, keep=["R1", "R2"])


def test_a_drawer_has_so_many_of_each() -> None:
    drawer = of_lines("150 1\n750 1\n1.5k 2 # from the old board\n3k")
    assert [(value.ohm, value.there) for value in drawer] == [(150, 1), (750, 1), (1500, 2), (3000, None)]
    found = choose(asked([3.3, 3.5, 3.7, 3.9], 2, keep=["R1"]), drawer)  # type: ignore[arg-type]
    for choice in found.choices:
        used = [value.ohm for value in choice.ohms.values()]
        assert used.count(150) <= 1
        assert used.count(750) <= 1
    with pytest.raises(DrawerFault, match="drawer:2"):
        of_lines("150 1\nsome of 1k", "drawer")


def test_pairs_count_as_values_and_come_as_two_resistors() -> None:
    values = with_pairs(of_lines("7.5k 9\n249 1\n150 2"))
    assert {(value.ohm, value.how) for value in values} >= {(3750, "parallel"), (15000, "series"), (7500, "one"),
                                                            (75, "parallel"), (300, "series")}
    assert 124.5 not in {value.ohm for value in values}  # there is but one of 249
    found = choose(asked([3.3, 3.38], 1, keep=["R1", "R2"]), with_pairs(of_lines("7.5k 2")))  # type: ignore[arg-type]
    best = found.choices[0]
    assert best.ohms["R3"].ohm == 3750
    assert best.mod.count("resistor: 7.5k") == 2


def test_series_are_those_of_the_standard() -> None:
    """IEC 60063:2015, tables of E24 and E96: some of their values, and how many a decade has."""
    ohms = [value.ohm for value in of_series(24)]
    assert {240.0, 270.0, 620.0, 3600.0, 7500.0, 15000.0, 1e6} <= set(ohms)
    assert 250.0 not in ohms
    assert len([ohm for ohm in ohms if 100 <= ohm < 1000]) == 24
    assert {121.0, 249.0, 301.0, 4750.0} <= {value.ohm for value in of_series(96)}


def test_the_command(tmp_path) -> None:  # type: ignore[no-untyped-def]
    path = tmp_path / "b.yaml"
    path.write_text(TEXT, encoding="utf-8")
    run = CliRunner().invoke(main, ["choose", str(path), "--outputs", "3.3 V, 3.6 V", "--links", "1", "--keep", "R1",
                                    "--series", "E12", "--format", "json"])
    assert run.exit_code == 0, run.output
    data = json.loads(run.stdout)
    assert data["format"] == "netcheck-choice/1"
    assert data["complete"] is True
    first = data["choices"][0]
    assert first["rank"] == 1
    assert first["ohms"].keys() == {"R2", "R3"}
    assert {one["wanted_V"] for one in first["settings"]} == {3.3, 3.6}
    assert first["mod"].startswith("steps:\n  - ")
    text = CliRunner().invoke(main, ["choose", str(path), "--from", "3.3 V", "--to", "3.6 V", "--links", "1"])
    assert text.exit_code == 0
    assert max(map(len, text.stdout.splitlines())) <= 80
    for options, said in ((["--outputs", "3.3 V", "--series", "E7"], "E7 is no series"),
                          (["--outputs", "lots"], "--outputs"), ([], "which outputs"),
                          (["--outputs", "3.3 V", "--of", "U6"], "No regulator")):
        wrong = CliRunner().invoke(main, ["choose", str(path), *options])
        assert wrong.exit_code == 2
        assert said in wrong.output


def test_for_a_negative_regulator_nothing_is_chosen_and_why_is_said():
    fragment = netcheck.loads("""
title: a supply below ground
rails: {-12V: -12 V}
parts:
  U2: {regulator: LM337, input: -12V, output: VN, adjust: ADJ}
  R1: {resistor: 120, between: [VN, ADJ]}
  R2: {resistor: 360, between: [ADJ, GND]}
""")
    with pytest.raises(NoChoice, match="U2 makes volts below 0"):
        question(fragment, fragment.parts["U2"], [-5.0])
