"""What the README shows must be so: its fragments load, its Python runs, its commands are there."""

from __future__ import annotations

import re
from pathlib import Path

import yaml
from click.testing import CliRunner
from jsonschema import Draft202012Validator

import netcheck
from netcheck.cli import COMMANDS, main
from netcheck.reading.schema.document import schema

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def fenced(language):
    return re.findall(rf"^```{language}\n(.*?)^```", README, re.MULTILINE | re.DOTALL)


def test_the_worked_example_loads():
    (first, *_) = [text for text in fenced("yaml") if "title:" in text]
    fragment = netcheck.loads(first)
    assert list(fragment.mods) == ["plain-swap"]


def test_the_measured_diode_loads():
    (line,) = [text for text in fenced("yaml") if "4.62 uA" in text]
    text = "title: measured\nrails: {+5V: 5 V}\nparts:\n  BT1: {cell: CR2032, plus: CELL, minus: GND}\n" + line + \
        "  U1: {load: 2 uA, plus: VRAM, minus: GND}\n"
    assert netcheck.loads(text).parts["D1"].spec.forward[0].current_A == 4.62e-6


def test_what_else_a_file_may_say_reads_and_fits_its_schema():
    (text,) = [text for text in fenced("yaml") if "trimmer:" in text]
    board = "title: t\nrails: {+5V: 5 V}\n" + text + "nets: {" + ", ".join(
        f"{net}: []" for net in ("MIRQ", "IRQ12", "VP")) + "}\n"
    board = board.replace("MIRQ: [], IRQ12: [], VP: []", "MIRQ: [X1.1], IRQ12: [X1.2], VP: [X1.3]").replace(
        "parts:\n", "parts:\n  X1: {connector: unknown}\n")
    fragment = netcheck.loads(board)
    assert len([name for name in fragment.parts if name.startswith("C")]) == 7
    assert fragment.parts["RV1"].travel["30 %"] == 0.3
    assert list(Draft202012Validator(schema()).iter_errors(yaml.load(board, yaml.BaseLoader))) == []


def test_the_python_runs(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    (code,) = fenced("python")
    exec(code, {})
    assert capsys.readouterr().out.startswith("ok\n")


def test_every_command_is_told_and_has_help_with_an_example():
    told = re.findall(r"^\| `netcheck (\w+)", README, re.MULTILINE)
    assert set(told) == set(COMMANDS)
    for name in COMMANDS:
        result = CliRunner().invoke(main, [name, "--help"])
        assert result.exit_code == 0
        assert "Example" in result.output


def test_the_report_that_is_shown_is_the_one_that_is_printed(monkeypatch):
    monkeypatch.chdir(ROOT)
    result = CliRunner().invoke(main, ["check", "examples/rack-sampler.yaml", "--mod", "plain-swap"])
    assert result.exit_code == 1
    printed = [line.rstrip() for line in result.output.splitlines()]
    (shown,) = re.findall(r"^```\n(DANGER, mod .*?)^```", README, re.MULTILINE | re.DOTALL)
    assert shown.splitlines() == printed
