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
    (["parts", "MINE", "--library", "FOLDER"], "1N4148"), (["caps", "FILE"], "MINE"), (["settings", "FILE"], "MINE"),
    (["choose", "FILE"], "MINE"), (["explain", "FILE"], "MINE"), (["changes", "FILE"], "MINE"),
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


@pytest.mark.parametrize(("kind", "entry", "part", "said"), [
    ("cells", "chemistry: lithium-primary\n    volts: [3 V, ME]", "{cell: MINE, plus: A, minus: GND}",
     "a figure with its origin"),
    ("loads", "draws: 2 uA", "{load: MINE, plus: A, minus: GND}", "a list, one line each"),
    ("transistors", "polarity: npm", "{transistor: MINE, collector: A, base: B, emitter: GND}", "expected one of npn"),
    ("regulators", "output: [5 A, ME, seen]", "{regulator: MINE, input: +5V, output: A, ground: GND}", "a voltage"),
    ("chips", "pins: [1, 2]", "{chip: MINE, pins: {1: A}}", "pins, such as"),
])
def test_a_faulty_entry_of_any_kind_is_told_by_check(kind, entry, part, said, tmp_path, capsys):
    folder = tmp_path / "library"
    folder.mkdir()
    (folder / f"{kind}.yaml").write_text(f"sources:\n  ME: {{title: my own sheet}}\n{kind}:\n  MINE:\n    {entry}\n",
                                         encoding="utf-8")
    file = tmp_path / "mine.yaml"
    file.write_text("title: mine\nrails: {+5V: 5 V}\nparts:\n  R1: {resistor: 1k, between: [A, GND]}\n"
                    f"  X1: {part}\n", encoding="utf-8")
    status = guarded(lambda: main(["check", str(file)], standalone_mode=False))
    told = capsys.readouterr().err
    assert status not in (0, 1)
    assert f"{kind}.yaml:" in told
    assert said in told
    assert "itself failed" not in told
