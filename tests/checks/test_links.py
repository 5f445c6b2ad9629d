"""Which position of the links makes everything true, against trying every position by hand (brute force)."""

from __future__ import annotations

import random
from itertools import product
from pathlib import Path

import networkx as nx

import netcheck
from netcheck.fragment.mods import apply
from netcheck.reports.features_section import blocks

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
