"""A faulty entry of a person's own library is a message with its line in every command that reads it."""

import pytest

from netcheck.cli import main
from netcheck.commands.ending import guarded

LIBRARY = """sources:
  ME: {title: my own sheet}
diodes:
  MINE:
    family: silicon
    body: SOT23
    forward:
      - {typical: {1 mA: 0.6 V}, source: ME, sure: seen}
"""
BOARD = """
title: mine
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: GND}
  D1: {diode: NAME, anode: CELL, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND}
"""


@pytest.mark.parametrize(("command", "name"), [
    (["check", "FILE"], "MINE"), (["diodes", "FILE"], "1N4148"), (["draw", "FILE"], "MINE"),
    (["bench", "FILE"], "MINE"),
    (["document", "FILE"], "MINE"), (["deck", "FILE"], "MINE"), (["parts", "--library", "FOLDER"], "1N4148"),
    (["parts", "MINE", "--library", "FOLDER"], "1N4148"),
])
def test_the_line_at_fault_is_told(command, name, tmp_path, capsys):
    folder = tmp_path / "library"
    folder.mkdir()
    (folder / "diodes.yaml").write_text(LIBRARY, encoding="utf-8")
    file = tmp_path / "mine.yaml"
    file.write_text(BOARD.replace("NAME", name), encoding="utf-8")
    words = [{"FILE": str(file), "FOLDER": str(folder)}.get(word, word) for word in command]
    status = guarded(lambda: main(words, standalone_mode=False))
    said = capsys.readouterr().err
    assert status not in (0, 1)
    assert 'diodes.yaml:6: "SOT23": expected one of axial glass' in said
    assert 'did you mean "SOT-23"?' in said
    assert "itself failed" not in said
