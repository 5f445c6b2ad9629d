"""Which position of the links makes everything true, against trying every position by hand (brute force)."""

from __future__ import annotations

import random
from collections.abc import Mapping
from itertools import product
from pathlib import Path

import networkx as nx
import pytest
from made_points import UNKNOWN, made, point, sound
from msgspec.structs import replace

import netcheck
from netcheck.checks.links import FeatureResult, feature_findings, features, link_findings
from netcheck.fragment.mods import apply
from netcheck.reports.features_section import blocks
from netcheck.simulation.elements import OperatingPoint

ROOT = Path(__file__).resolve().parents[2]
NETS = ("A", "B", "C", "D")


def random_case(seed: int) -> tuple[str, dict[str, tuple[str, ...]], list[tuple[str, str, str]]]:
    """A few links between a few nets, and wishes for pairs to be joined or apart."""
    chance = random.Random(seed)
    links: dict[str, tuple[str, ...]] = {f"JP{n}": tuple(chance.sample(NETS, chance.choice((2, 2, 3))))
                                         for n in range(1, chance.randint(2, 4))}
    wishes = [(chance.choice(("joined", "apart")), *chance.sample(NETS, 2)) for _ in range(chance.randint(1, 3))]
    lines = ["title: links of chance", "parts:"]
    lines += [f"  {name}: {{jumper: [{', '.join(nets)}]}}" for name, nets in links.items()]
    lines += [f"  R{net}: {{resistor: 1k, between: [{net}, GND]}}" for net in NETS]
    lines.append("features:\n  wanted:")
    for word in ("joined", "apart"):
        groups = [f"[{a}, {b}]" for kind, a, b in wishes if kind == word]
        if groups:
            lines.append(f"    {word}: [{', '.join(groups)}]")
    return "\n".join(lines) + "\nrails: {+5V: 5 V}\n", links, wishes


def works(links: dict[str, tuple[str, ...]], positions: dict[str, str], wishes: list[tuple[str, str, str]]) -> bool:
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(NETS)
    for name, nets in links.items():
        if positions[name] == "closed" or positions[name] == "1-2":
            graph.add_edge(nets[0], nets[1])
        elif positions[name] == "2-3":
            graph.add_edge(nets[1], nets[2])
    return all(nx.has_path(graph, a, b) == (kind == "joined") for kind, a, b in wishes)


def test_settings_of_a_feature_are_those_of_brute_force() -> None:
    for seed in range(60):
        text, links, wishes = random_case(seed)
        result = netcheck.check(netcheck.loads(text)).variants[-1].features["wanted"]
        choices = {name: ("open", "closed") if len(nets) == 2 else ("1-2", "2-3", "absent")
                   for name, nets in links.items()}
        expected = {tuple(sorted(zip(choices, chosen, strict=True)))
                    for chosen in product(*choices.values())
                    if works(links, dict(zip(choices, chosen, strict=True)), wishes)}
        free = [name for name in choices if name not in result.settings[0][0]]
        found = {tuple(sorted({**positions, **dict(zip(free, rest, strict=True))}.items()))
                 for positions, holds in result.settings if holds
                 for rest in product(*(choices[name] for name in free))}
        assert found == expected, seed


def test_position_that_makes_every_expectation_true_is_named() -> None:
    text = ("title: t\nrails: {+5V: 5 V}\nparts:\n  JP1: {jumper: [X, +5V]}\n  JP2: {jumper: [X, Y]}\n"
            "  R1: {resistor: 1k, between: [X, GND]}\n  R2: {resistor: 1k, between: [Y, GND]}\n"
            "states: {on: {main: on}}\n"
            "expect:\n  - {at: X, state: on, volts: 5}\n  - {at: Y, state: on, volts: 0}\n")
    findings = netcheck.check(netcheck.loads(text)).variants[-1].findings
    (said,) = [one for one in findings if one.check == "links"]
    assert said.message == "With JP1 at closed every expectation is true."
    never = text.replace("volts: 0}", "volts: 3}")
    (said,) = [one for one in netcheck.check(netcheck.loads(never)).variants[-1].findings if one.check == "links"]
    assert said.message == "No position of JP1, JP2 makes every expectation true."
    true = text.replace("JP1: {jumper: [X, +5V]}", "JP1: {jumper: [X, +5V], set: closed}")
    assert "links" not in {one.check for one in netcheck.check(netcheck.loads(true)).variants[-1].findings}


def test_port_of_the_example_works_only_with_its_parts_and_its_link() -> None:
    found = netcheck.load(ROOT / "examples" / "pointer-port.yaml")
    bare = netcheck.check(found, "socket-only").variants[-1]
    assert bare.verdict == "fails"
    assert bare.features["pointing device"].holds is False
    port = netcheck.check(found, "port").variants[-1]
    assert port.features["pointing device"].holds is True
    unlinked = apply(found, "port")
    opened = netcheck.loads((ROOT / "examples" / "pointer-port.yaml").read_text().replace(
        "{set: {JP4: closed}", "{set: {JP4: open}"))
    result = netcheck.check(opened, "port").variants[-1]
    (said,) = [one for one in result.findings if one.check == "feature"]
    assert said.advice == "Put JP4 at closed."
    assert unlinked.parts["JP4"].position == "closed"


def test_features_are_shown_as_a_table_against_the_settings() -> None:
    report = netcheck.check(netcheck.load(ROOT / "examples" / "pointer-port.yaml"), "port", duties=True)
    (table,) = blocks(report.variants[-1], netcheck.load(ROOT / "examples" / "pointer-port.yaml"))
    rows = {(row[1], row[2]) for row in table.rows}
    assert {("JP4 open", "does not work"), ("JP4 closed", "works"), ("as the links stand", "works")} <= rows


PORT = """
title: a port behind two links
rails: {+5V: 5 V}
parts:
  JP1: {jumper: [A, B], set: open}
  JP2: {jumper: [B, C], set: open}
  R1: {resistor: 1k, between: [A, GND]}
  R2: {resistor: 1k, between: [B, GND]}
  R3: {resistor: 1k, between: [C, GND]}
  BT1: {cell: CR2032, plus: PACK, minus: GND, plugged: maybe}
  R4: {resistor: 1k, between: [PACK, GND]}
features:
  port: {NEEDS}
"""
STANDING = point({"A": 4.0, "B": 3.0, "C": 1.0})


def port(
    needs: str, otherwise: OperatingPoint = STANDING, text: str = PORT
) -> tuple[FeatureResult, list[netcheck.Finding]]:
    survey = made(text.replace("NEEDS", needs), otherwise=otherwise)
    results = features(survey)
    return results["port"], sound(feature_findings(survey, results), survey.fragment)


@pytest.mark.parametrize(("needs", "holds", "case"), [
    ("apart: [A, B]", True, ""), ("apart: [[A, C], [A, B]]", True, ""), ("joined: [A, B]", False, "apart"),
    ("volts: {at: A, from: 4 V to 5 V}", True, ""), ("volts: {at: A, from: 3 V to 4 V}", True, ""),
    ("volts: {at: A, from: 4.1 V to 5 V}", False, "volts"), ("volts: {at: A, from: 3 V to 3.9 V}", False, "volts"),
    ("volts: {at: A, against: B, from: 0.9 V to 1.1 V}", True, ""),
    ("volts: {at: A, against: C, from: 0.9 V to 1.1 V}", False, "volts"),
    ("volts: {at: PACK, from: 1 V to 2 V}", False, "floats"),
])
def test_a_feature_is_held_to_its_copper_and_to_its_volts(needs: str, holds: bool, case: str) -> None:
    result, findings = port(needs)
    assert (result.holds, result.lack.case, bool(result.why)) == (holds, case, bool(case))
    assert [(one.subject, one.case, str(one.severity)) for one in findings] == (
        [] if holds else [("port", case, "fails")])


def test_a_feature_says_the_links_that_would_do_with_the_reason_that_the_file_gives() -> None:
    result, (finding,) = port("joined: [A, B], because: the driver waits")
    assert result.to_dict() == {"holds": False, "why": result.why, "settings": [
        {"positions": {"JP1": "open"}, "holds": False}, {"positions": {"JP1": "closed"}, "holds": True}]}
    assert (finding.advice, finding.line) == ("Put JP1 at closed.", 13)
    assert "because the driver waits" in finding.message
    _, (both,) = port("joined: [A, B, C]")
    assert both.advice == "Put JP1 at closed and JP2 at closed."
    _, (never,) = port("joined: [A, B], apart: [A, B]")
    assert "Put" not in never.advice
    assert "because" not in never.message
    assert port("apart: [A, B]")[0].settings == (({"JP1": "open"}, True), ({"JP1": "closed"}, False))


def test_a_feature_whose_volts_were_not_solved_is_unknown() -> None:
    result, (finding,) = port("volts: {at: A, from: 1 V to 5 V}", UNKNOWN)
    assert (result.holds, finding.case, str(finding.severity)) == (None, "not-solved", "unknown")
    assert port("joined: [A, B]", UNKNOWN)[0].holds is False  # copper needs no simulator


def test_a_feature_of_which_the_position_that_is_set_was_not_tried_is_unknown() -> None:
    survey = made(PORT.replace("NEEDS", "joined: [A, B]"), otherwise=STANDING)
    closed = tuple(one for one in survey.states.states if one.positions["JP1"] == "closed")
    survey = replace(survey, states=replace(survey.states, states=closed))
    results = features(survey)
    (finding,) = sound(feature_findings(survey, results), survey.fragment)
    assert (results["port"].holds, finding.case, str(finding.severity)) == (None, "not-tried", "unknown")


def test_what_is_to_be_apart_and_is_joined_is_named_also_over_two_links() -> None:
    closed = PORT.replace("set: open", "set: closed")
    for nets, joined in (("[A, B]", {"A", "B"}), ("[X, A, C]", {"A", "C"})):
        result, (finding,) = port(f"apart: {nets.replace('X', 'PACK')}", text=closed)
        assert (result.holds, finding.case, str(finding.severity)) == (False, "joined", "fails")
        assert {finding.words["one"], finding.words["other"]} == joined


WISHES = PORT[:PORT.index("features:")] + "expect:\n"


def put(*wishes: str, at: Mapping[str, OperatingPoint] | None = None, states: str = "") -> list[str]:
    survey = made(WISHES + "".join(f"  - {wish}\n" for wish in wishes) + states, at, STANDING)
    findings = sound(link_findings(survey), survey.fragment)
    assert all(one.line == 13 and str(one.severity) == "note" for one in findings)
    return [one.message for one in findings]


def test_the_fewest_links_that_make_every_expectation_true_are_named() -> None:
    assert put("{joined: [A, B]}") == ["With JP1 at closed every expectation is true."]
    assert put("{joined: [A, B]}", "{joined: [B, C]}") == [
        "With JP1 at closed and JP2 at closed every expectation is true."]
    assert put("{joined: [A, B]}", "{apart: [A, B]}") == ["No position of JP1, JP2 makes every expectation true."]
    assert put("{apart: [A, B]}") == []
    assert put("{at: A, volts: 1}") == ["No position of JP1, JP2 makes every expectation true."]
    assert put("{at: A, volts: 4}") == []


def test_a_wish_for_other_positions_says_nothing_of_these() -> None:
    assert put("{joined: [A, B], when: {JP2: closed}}") == []     # it fails only with JP2 elsewhere than it is set
    assert put("{joined: [A, B], when: {JP1: closed}}") == []
    assert put("{joined: [A, B], when: {JP2: open}}") == ["With JP1 at closed every expectation is true."]
    assert put("{at: A, volts: 1, when: {main: on}}") == ["No position of JP1, JP2 makes every expectation true."]
    whole = "{joined: [A, B], when: {main: on, JP1: open, JP2: open, BT1: unplugged}}"
    assert put(whole) == ["With JP1 at closed every expectation is true."]
    named = "states: {on: {main: on, JP1: open, JP2: open, BT1: unplugged}}\n"
    at = {"on": point({"A": 1.0})}
    assert put("{at: A, state: on, volts: 4}", at=at, states=named) == ["With JP1 at closed every expectation is true."]
