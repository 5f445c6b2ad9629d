"""The write-ups that several tests look at."""

from __future__ import annotations

from pathlib import Path

from PIL import Image

from netcheck.api import load
from netcheck.reports.document import Document, document
from netcheck.writeup import gather

EXAMPLES = Path(__file__).parents[2] / "examples"

HOSTILE = "<script>alert('x')</script> & \"quoted\" | **bold** `code` [a](http://x.invalid)"

BOARD = f"""
title: '{HOSTILE.replace("'", "''")}'
board: Larkspur S8 rack sampler (invented)
about: |
  First paragraph.

  Second <b>paragraph</b>.
photos:
  - {{file: section.jpg, caption: solder side <i>with</i> the pack lifted}}
  - {{file: gone.jpg, caption: not there}}
  - {{file: board.yaml}}
rails: {{+5V: 5 V ±5%}}
parts:
  BT1: {{cell: NiCd-3x60, plus: CELL, minus: GND, at: beside the <edge>}}
  R1:  {{resistor: 1k ±5%, between: [+5V, CHG]}}
  D3:  {{diode: 1N4148, anode: CHG, cathode: CELL}}
  D1:  {{diode: 1N4148, anode: CELL, cathode: VRAM}}
  D2:  {{diode: 1N4148, anode: +5V, cathode: VRAM}}
  JP1: {{jumper: [VRAM, TEST], at: by the connector}}
  R5:  {{resistor: 100k, between: [TEST, GND]}}
  U1:  {{load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}}
states: {{running: {{main: on}}, stored: {{main: off}}}}
mods:
  swap:
    steps:
      - {{replace: {{BT1: {{cell: CR2032}}}}}}
  safe:
    about: nothing charges it <any> more
    steps:
      - {{remove: [R1, D3], because: they charge it | really}}
      - {{replace: {{BT1: {{cell: CR2032}}}}}}
      - {{fit: {{R9: {{resistor: 4k7 ±5%, between: [CELL, HOLD]}}}}}}
      - {{move: {{BT1.plus: HOLD}}}}
"""


def board_file(folder: Path) -> Path:
    """A fragment whose words would break a page that does not escape them, with a photograph."""
    Image.linear_gradient("L").resize((3000, 2000)).convert("RGB").save(folder / "section.jpg")
    path = folder / "board.yaml"
    path.write_text(BOARD, encoding="utf-8")
    return path


def written_up(path: Path, mod: str | None = None, diodes: bool = False) -> Document:
    return document(gather(load(path), mod, compare_diodes=diodes))
