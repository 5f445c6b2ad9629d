"""netcheck check DIR: a line a board, in order, one bad file not stopping the rest, the worst last."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from netcheck.cli import main

SAFE = """\
title: safe
parts:
  BT1: {cell: CR2032, plus: VRAM, minus: GND}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
"""
CHARGED = SAFE.replace("title: safe", 'title: "=1+1"\nrails: {+5V: 5 V}') + \
    "  R1: {resistor: 1k, between: [+5V, VRAM]}\n"


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    for name, text in {"c.yaml": SAFE, "b/x.yaml": CHARGED, "a.yaml": SAFE, "b/bad.yaml": "title: x\nparts: [1]\n",
                       "notes.yaml": "- {at: X, volts: 1}\n"}.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
    return tmp_path


def run(*arguments: str | Path) -> tuple[int, str]:
    result = CliRunner().invoke(main, ["check", *map(str, arguments)])
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result.exit_code, result.stdout


def test_a_line_each_in_order_then_the_count_and_the_worst(archive: Path) -> None:
    status, said = run(archive)
    lines = said.splitlines()
    order = [line.split()[1].rstrip(":,") for line in lines[:4]]
    assert order == [str(archive / name) for name in ("a.yaml", "b/bad.yaml", "b/x.yaml", "c.yaml")]
    assert status == 2
    assert "4 boards: " in said
    assert "1 danger, 1 unusable." in said
    assert lines[-1].startswith("UNUSABLE")


def test_two_processes_say_the_same(archive: Path) -> None:
    assert run(archive, "--jobs", "2") == run(archive)


def test_one_document_and_one_table(archive: Path) -> None:
    (archive / "b" / "bad.yaml").unlink()
    status, said = run(archive, "--format", "json")
    document = json.loads(said)
    assert status == 1
    assert document["format"] == "netcheck-archive/1"
    assert [board["verdict"] for board in document["boards"]][1] == "danger"
    rows = list(csv.DictReader(io.StringIO(run(archive, "--format", "csv")[1])))
    assert [row["verdict"] for row in rows] == [board["verdict"] for board in document["boards"]]
    assert rows[1]["title"] == "'=1+1"


def test_folder_without_a_fragment_is_told(tmp_path: Path) -> None:
    assert run(tmp_path)[0] == 2
