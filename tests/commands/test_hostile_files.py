"""Files that are not what they seem: a library that overrides, pipes, files without end."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from click.testing import CliRunner

import netcheck
from netcheck.cli import main

BOARD = """\
title: a coin cell on a charger
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  R1: {resistor: 10k, between: [+5V, CELL]}
  U1: {load: 2 uA, plus: CELL, minus: GND, works: 2.0 V to 5.5 V}
"""


def run(*arguments: str | Path) -> tuple[int, str]:
    result = CliRunner().invoke(main, [str(one) for one in arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result.exit_code, result.output


def test_own_library_that_overrides_a_shipped_cell_is_told(tmp_path: Path) -> None:
    board = tmp_path / "board.yaml"
    board.write_text(BOARD)
    assert netcheck.check(netcheck.load(board)).verdict == "danger"
    shipped = (Path(netcheck.__file__).parents[1] / "library" / "cells.yaml").read_text()
    own = shipped.replace("CR2032:", "SHIPPED-CR2032:", 1).replace("  NiCd-3x60:", "  CR2032:", 1)
    own = own[:own.index("cautions:")] + own[own.index("cells:"):] if own.index("cautions:") < own.index("cells:") \
        else own[:own.index("cautions:")]
    (tmp_path / "library").mkdir()
    (tmp_path / "library" / "cells.yaml").write_text(own)
    report = netcheck.check(netcheck.load(board))
    (said,) = [finding for finding in report.variants[0].findings if finding.check == "library"]
    assert str(said.severity) == "caution"
    assert said.subject == "CR2032"
    assert "primary" in said.message
    assert str(tmp_path / "library" / "cells.yaml") in said.message
    _, told = run("check", board)
    first = " ".join(told.split())
    assert first.index("not from the shipped library. With it: ") < 300
    assert "overrides it in" in first


def test_own_library_that_only_adds_is_not_warned_of(tmp_path: Path) -> None:
    board = tmp_path / "board.yaml"
    board.write_text(BOARD)
    (tmp_path / "library").mkdir()
    (tmp_path / "library" / "loads.yaml").write_text("sources: {}\nloads: {}\n")
    findings = netcheck.check(netcheck.load(board)).variants[0].findings
    assert "library" not in {finding.check for finding in findings}


@pytest.mark.parametrize("command", ["check", "draw", "bench", "diodes", "document", "changes", "deck"])
def test_pipe_or_folder_in_place_of_a_file_is_refused_at_once(tmp_path: Path, command: str) -> None:
    pipe = tmp_path / "board.yaml"
    os.mkfifo(pipe)
    for there in (pipe, tmp_path):
        status, said = run(command, there)
        assert status == 2
        assert str(there) in said.replace("\n", "")


def test_library_file_without_end_or_sense_is_a_message_with_its_place(tmp_path: Path) -> None:
    board = tmp_path / "board.yaml"
    board.write_text(BOARD)
    (tmp_path / "library").mkdir()
    book = tmp_path / "library" / "cells.yaml"
    for content in ("x" * 5_000_000, "[" * 5000, "cells: [1", "cells: {CR2032: {}}", "\x00"):
        book.write_text(content)
        for command in ("check", "draw", "bench", "diodes", "document"):
            status, said = run(command, board)
            assert status == 2
            assert "cells.yaml:" in said


def test_library_file_that_is_a_pipe_is_refused_and_not_passed_over(tmp_path: Path) -> None:
    board = tmp_path / "board.yaml"
    board.write_text(BOARD)
    (tmp_path / "library").mkdir()
    os.mkfifo(tmp_path / "library" / "cells.yaml")
    status, said = run("check", board)
    assert status == 2
    assert "cells.yaml:1:" in said
    assert "an ordinary file" in said


def test_own_library_that_overrides_what_a_diode_leaks_is_a_caution(tmp_path: Path) -> None:
    board = tmp_path / "board.yaml"
    board.write_text(BOARD + "  D1: {diode: 1N4148, anode: CELL, cathode: +5V}\n")
    (tmp_path / "library").mkdir()
    (tmp_path / "library" / "diodes.yaml").write_text(
        "sources: {X: {title: own, publisher: own}}\ndiodes:\n  1N4148: {family: silicon, about: x, points: "
        "[{typical: {1 mA: 0.6 V}, source: X, sure: seen}], "
        "leakage: [{maximum: {20 V: 1 pA}, source: X, sure: seen}]}\n")
    (said,) = [one for one in netcheck.check(netcheck.load(board)).variants[0].findings if one.check == "library"]
    assert str(said.severity) == "caution"
    assert "leakage" in said.message


def test_the_question_about_a_misspelt_net_comes_before_what_follows_from_it(tmp_path: Path) -> None:
    board = tmp_path / "board.yaml"
    board.write_text(BOARD.replace("BT1: {cell: CR2032, plus: CELL", "BT1: {cell: CR2032, plus: CEL")
                     .replace("[+5V, CELL]", "[+5V, GND]"))
    _, said = run("check", board)
    told = " ".join(said.split())
    assert told.index("did you mean") < told.index("What follows holds for the net as it is written") < 200
    assert told.index("as it is written") < told.index("Nothing feeds U1")
