"""netcheck check, deck, parts and diodes as a person or another program calls them."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from netcheck.cli import main

ROOT = Path(__file__).parents[2]
RACK = str(ROOT / "examples" / "rack-sampler.yaml")


def run(*arguments):
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def fragment(tmp_path, text, name="one.yaml"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


GOOD = """title: safe
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  U1: {load: 2 uA, plus: CELL, minus: GND, works: 2.0 V to 3.6 V}
  R1: {resistor: 1k, between: [+5V, GND]}
"""


@pytest.mark.parametrize(("arguments", "status"), [
    ([RACK], 0),                               # the last mod is right
    ([RACK, "--mod", "plain-swap"], 1),        # this one is not
    ([RACK, "--mod", "plain-swap", RACK], 1),  # the worst of several files
    ([RACK, "--all"], 0),                      # the last variant decides
    ([RACK, "--mod", "no-such-mod"], 2),
    (["no-such-file.yaml"], 2),
    ([RACK, "--temperature", "warm"], 2),
])
def test_exit_status(arguments, status):
    assert run("check", *arguments).exit_code == status


def test_a_mistake_in_the_file_is_told_with_line_and_word(tmp_path):
    result = run("check", fragment(tmp_path, GOOD.replace("resistor: 1k", "resistr: 1k")))
    assert result.exit_code == 2
    assert "one.yaml:6" in result.output
    assert "resistor" in result.output


def test_the_nearest_mod_is_named():
    assert "coin-cell" in run("check", RACK, "--mod", "coincell").output


def no_strange_numbers(value):
    if isinstance(value, dict):
        return all(map(no_strange_numbers, value.values()))
    if isinstance(value, list):
        return all(map(no_strange_numbers, value))
    return not isinstance(value, float) or math.isfinite(value)


@pytest.mark.parametrize("example", sorted((ROOT / "examples").glob("*.yaml")), ids=lambda path: path.stem)
def test_json_is_as_contracted(example):
    result = run("check", example, "--all", "--format", "json")
    data = json.loads(result.output)
    assert data["format"] == "netcheck-report/1"
    assert {"file", "title", "assumed", "variants"} <= data.keys()
    assert no_strange_numbers(data)
    for variant in data["variants"]:
        assert {"name", "verdict", "findings", "cells", "loads", "drops_V", "regulators", "capacitors",
                "expect"} <= variant.keys()
        assert variant["verdict"] in ("ok", "caution", "danger", "unknown", "fails")
        for finding in variant["findings"]:
            assert {"check", "severity", "subject", "state", "parts", "nets", "message", "advice",
                    "line"} <= finding.keys()
        for cell in variant["cells"].values():
            assert {"primary", "charge_routes", "shorts_to_charge", "shorts", "remedies", "charge_current_A",
                    "charge_state", "fault_charge_current_A", "fault", "leakage_A", "leakage_share", "drain_A",
                    "life_years"} <= cell.keys()
            for route in cell["charge_routes"]:
                assert {"from", "parts", "conducting"} <= route.keys()
        for load in variant["loads"].values():
            assert {"volts", "lowest_V", "highest_V", "margin_V", "cell_carries_it_in"} <= load.keys()


def test_one_file_is_one_document_and_several_are_a_list():
    one = json.loads(run("check", RACK, "--format", "json").output)
    two = json.loads(run("check", RACK, RACK, "--format", "json").output)
    assert two == [one, one]


def test_text_fits_eighty_columns_and_puts_danger_first():
    text = run("check", RACK, "--mod", "plain-swap").output
    assert max(map(len, text.splitlines())) <= 80
    assert text.startswith('DANGER, mod "plain-swap": +5V pushes 1.11 mA (2.66 mA at worst) into BT1')
    assert "Remove R1." in " ".join(text.splitlines()[:3])
    assert text.index("DANGER  ") < text.index("note  ")
    assert 'DANGER, mod "plain-swap".' in text.splitlines()[-1]


def test_every_figure_is_told_on_demand():
    short, full = (run("check", RACK, "--mod", "plain-swap", *more).output for more in ((), ("--full",)))
    assert "State by state" not in short
    assert full.index("DANGER  ") < full.index("State by state") < full.index("What this rests on")


def test_several_files_get_a_line_each_the_worst_last(tmp_path):
    swap = fragment(tmp_path, GOOD.replace("plus: CELL, minus: GND}\n  U1", "plus: +5V, minus: GND}\n  U1"), "bad.yaml")
    lines = run("check", swap, RACK, "--mod", "as found").output.splitlines()
    assert [line.split()[0] for line in lines] == ["OK", "DANGER", "2"]
    assert "bad.yaml" in lines[1]
    assert lines[-1] == "2 files: 1 ok, 1 danger"


def test_the_temperature_asked_for_is_used():
    cold = json.loads(run("check", RACK, "--temperature", "0 to 5 °C", "--format", "json").output)
    assert cold["assumed"]["temperature_C"] == [0, 5]


def test_a_deck_is_of_the_state_asked_for():
    stored = run("deck", RACK, "--mod", "coin-cell", "--state", "stored")
    assert stored.exit_code == 0
    assert "is net VRAM" in stored.output
    assert stored.output.rstrip().endswith(".end")
    unknown = run("deck", RACK, "--state", "storred")
    assert unknown.exit_code == 2
    assert "Did you mean 'stored'?" in unknown.output


def test_parts_explain_themselves_and_a_plot_is_a_diodes(tmp_path):
    picture = tmp_path / "bat85.svg"
    assert run("parts", "BAT85", "--plot", picture).exit_code == 0
    assert picture.read_text(encoding="utf-8").startswith("<svg")
    assert run("parts", "CR2032", "--plot", tmp_path / "cell.svg").exit_code == 2
    assert run("parts", "no-such-part").exit_code == 2


def test_diodes_as_text_and_json(tmp_path):
    text = run("diodes", RACK, "--mod", "coin-cell", "--try", "BAT85", "--plots", tmp_path / "plots")
    assert text.exit_code == 0
    assert max(len(line) for line in text.output.splitlines() if not line.startswith("Written:")) <= 80
    assert len(list((tmp_path / "plots").glob("*.svg"))) == 2
    data = json.loads(run("diodes", RACK, "--mod", "coin-cell", "--at", "D1", "--try", "BAT85", "--samples", "20",
                          "--format", "json").output)
    assert data["study"]["samples"] == 20
    assert {option["at"]["D1"] for option in data["options"]} == {"BAS70", "BAT85"}


@pytest.mark.parametrize(("arguments", "words"), [
    (["--at", "D9"], "D9 is not a diode"),
    (["--try", "1N4184"], "1N4148"),
])
def test_diodes_tell_what_is_not_there(arguments, words):
    result = run("diodes", RACK, *arguments)
    assert result.exit_code == 2
    assert words in result.output


@pytest.mark.parametrize("arguments", [["--help"], ["check", "--help"], ["start"]])
def test_help_loads_nothing_heavy(arguments):
    code = ("import sys; from click.testing import CliRunner; from netcheck.cli import main; "
            f"assert CliRunner().invoke(main, {arguments!r}).exit_code == 0; "
            "print([m for m in ('numpy', 'scipy', 'networkx', 'PySpice', 'matplotlib', 'schemdraw', 'PIL') "
            "if m in sys.modules])")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_check_needs_no_numpy_in_this_process():
    code = ("import sys, netcheck; netcheck.check(netcheck.load(sys.argv[1])); "
            "print([m for m in ('numpy', 'scipy', 'PySpice', 'matplotlib', 'schemdraw') if m in sys.modules])")
    done = subprocess.run([sys.executable, "-c", code, RACK], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("text", [
    "title: nothing else\nparts: {}\n",
    "title: a cell alone\nparts:\n  BT1: {cell: CR2032, plus: A, minus: GND}\n",
    "title: a rail alone\nrails: {+5V: 5 V}\nparts:\n  R1: {resistor: 1k, between: [+5V, GND]}\n",
    "title: a part that floats\nrails: {+5V: 5 V}\nparts:\n  R1: {resistor: 1k, between: [A, B]}\n",
])
def test_next_to_nothing_is_checked_without_a_crash(tmp_path, text):
    result = run("check", fragment(tmp_path, text), "--format", "json")
    assert result.exit_code in (0, 1), result.output
    assert json.loads(result.output)["variants"][0]["verdict"] in ("ok", "caution", "unknown")


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_is_there_for_the_shells_that_the_readme_names(shell):
    done = subprocess.run([sys.executable, "-c", "from netcheck.cli import main; main(prog_name='netcheck')"],
                          env={**os.environ, "_NETCHECK_COMPLETE": f"{shell}_source"}, capture_output=True, text=True)
    assert "_netcheck_completion" in done.stdout or "complete" in done.stdout
    assert f"_NETCHECK_COMPLETE={shell}_source netcheck" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_mods_of_the_file_complete():
    words = f"netcheck check {RACK} --mod pl"
    done = subprocess.run([sys.executable, "-c", "from netcheck.cli import main; main(prog_name='netcheck')"],
                          env={**os.environ, "_NETCHECK_COMPLETE": "bash_complete", "COMP_WORDS": words,
                               "COMP_CWORD": "4"}, capture_output=True, text=True)
    assert done.stdout.split() == ["plain,plain-swap"]


@pytest.mark.parametrize(("command", "first"), [
    (["check", RACK], 'OK, mod "coin-cell"'), (["check", RACK, "--mod", "as found"], "OK, as found"),
    (["changes", RACK], 'From as found to mod "coin-cell"'), (["deck", RACK], '* netcheck: mod "coin-cell"'),
    (["explain", RACK, "D1"], 'What each part does, mod "coin-cell"'),
    (["bench", RACK], 'Probe sheet: Memory backup, voice card, mod "coin-cell"'),
])
def test_the_first_line_says_which_variant(command, first):
    assert run(*command).output.startswith(first)


@pytest.mark.parametrize("width", [60, 80, 120])
def test_the_width_of_the_terminal_is_used(width):
    text = CliRunner().invoke(main, ["check", RACK, "--full"], env={"COLUMNS": str(width)}).output
    widest = max(len(line) for line in text.splitlines() if "- {" not in line)
    assert width - 20 < widest <= width


def test_colour_only_on_a_terminal_that_has_it_and_where_nobody_minds(monkeypatch):
    from netcheck.commands import terminal

    monkeypatch.setattr(terminal.sys.stdout, "isatty", lambda: True, raising=False)
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    assert terminal.wants_colour()
    monkeypatch.setenv("TERM", "dumb")
    assert not terminal.wants_colour()
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("NO_COLOR", "1")
    assert not terminal.wants_colour()
    assert "\x1b" not in run("check", RACK).output  # a pipe
