"""Random fragments with charge routes, decoy zeners, second packs, minus-side diodes, several supplies; seeded."""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

from nodal_judge import GROUND, Bipolar, Cell, Diode, Jumper, Load, Part, Rail, Resistor, Sketch, Zener

OHMS = (100, 470, 1e3, 2.2e3, 4.7e3, 10e3, 22e3, 47e3)
ZENERS = (3.9, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 9.1)
SILICON, SCHOTTKY, SMALL_SCHOTTKY = (2.52e-9, 1.752), (2.117e-7, 1.016), (3e-9, 1.06)
"""Saturation current and emission of published cards: 1N4148 class, BAT54 class, BAS70 class."""


@dataclass
class Builder:
    """Parts under way, with fresh names."""

    dice: random.Random
    rails: dict[str, Rail]
    parts: list[Part] = field(default_factory=list)
    count: int = 0

    def name(self, letter: str) -> str:
        self.count += 1
        return f"{letter}{self.count + 10}"

    def node(self) -> str:
        self.count += 1
        return f"N{self.count}"

    def diode(self, anode: str, cathode: str) -> Diode:
        return Diode(self.name("D"), anode, cathode, *self.dice.choice((SILICON, SILICON, SCHOTTKY, SMALL_SCHOTTKY)))

    def element(self, start: str, end: str) -> Part:
        """One part from start to end, most often one that lets current go that way."""
        roll = self.dice.random()
        if roll < 0.45:
            return Resistor(self.name("R"), start, end, self.dice.choice(OHMS))
        if roll < 0.72:
            return self.diode(start, end)
        if roll < 0.80:
            return self.diode(end, start)
        if roll < 0.95:
            zener = self.dice.choice(ZENERS)
            one, two = (end, start) if self.dice.random() < 0.8 else (start, end)
            return Zener(self.name("D"), one, two, zener)
        return Jumper(self.name("JP"), start, end)

    def chain(self, start: str, end: str, longest: int = 4) -> None:
        """A row of parts from start to end, with a resistor in it."""
        nodes = [start, *(self.node() for _ in range(self.dice.randint(1, longest - 1))), end]
        links = [self.element(one, two) for one, two in itertools.pairwise(nodes)]
        if not any(isinstance(link, Resistor) for link in links):
            place = self.dice.randrange(len(links))
            links[place] = Resistor(self.name("R"), nodes[place], nodes[place + 1], self.dice.choice(OHMS))
        self.parts += links

    def nets(self) -> list[str]:
        return sorted({pin for part in self.parts for pin in part.pins()} | {GROUND, *self.rails})


RAILS = (
    {"+5V": Rail(5.0)},
    {"+5V": Rail(5.0), "+12V": Rail(12.0)},
    {"+5V": Rail(5.0, 0.1), "VB": Rail(5.0, 0.1, "second")},
    {"+5V": Rail(5.0), "-5V": Rail(-5.0)},
    {"+5V": Rail(5.0), "3VSB": Rail(3.3, 0.05, "standby")},
)


def backup(builder: Builder) -> None:
    """The coin cell with its diodes, in its plus lead or on both sides, and the memory."""
    minus = "CM" if builder.dice.random() < 0.3 else GROUND
    builder.parts.append(Cell("BT1", "CELL", minus))
    if minus != GROUND:
        builder.parts.append(Diode("D3", GROUND, "CM"))
    hold = "CELL"
    if builder.dice.random() < 0.5:
        hold = "HOLD"
        builder.parts.append(Resistor("R1", "CELL", "HOLD", 1e3))
    builder.parts += [Diode("D1", hold, "VRAM"), Diode("D2", "+5V", "VRAM"), Load("U1", "VRAM", GROUND)]


def charger(builder: Builder) -> None:
    builder.chain(builder.dice.choice([*builder.rails, "+5V"]), "CELL")


def decoy(builder: Builder) -> None:
    middle = builder.node()
    source = builder.dice.choice(list(builder.rails))
    builder.parts.append(Zener(builder.name("D"), middle, source, builder.dice.choice(ZENERS)))
    builder.parts.append(builder.element(middle, "CELL"))


def second_pack(builder: Builder) -> None:
    stands = builder.dice.choice([GROUND, GROUND, "+5V", *builder.rails])
    kind = builder.dice.choice((("nickel-metal-hydride", 4.05, 3.0), ("alkaline", 4.74, 2.4),
                                ("lithium-primary", 3.25, 2.0)))
    builder.parts.append(Cell("BT2", "EXT", stands, kind[1], kind[2], 1.5, kind[0]))
    builder.chain("EXT", builder.dice.choice(["CELL", "VRAM", "CELL"]), 3)


def minus_side(builder: Builder) -> None:
    if "CM" in builder.nets():
        end = builder.dice.choice([*list(builder.rails), GROUND])
        builder.parts.append(builder.element("CM", end))


def switch(builder: Builder) -> None:
    emitter = builder.dice.choice(list(builder.rails))
    base, out = builder.node(), builder.node()
    builder.parts += [
        Bipolar(builder.name("Q"), out, base, emitter),
        Resistor(builder.name("R"), base, builder.dice.choice([GROUND, *builder.rails]), builder.dice.choice(OHMS)),
        builder.element(out, "CELL"),
    ]


def stray(builder: Builder) -> None:
    one, two = builder.dice.sample(builder.nets(), 2)
    builder.parts.append(Resistor(builder.name("R"), one, two, builder.dice.choice(OHMS)))


FEATURES: tuple[tuple[Callable[[Builder], None], float], ...] = (
    (charger, 0.6), (decoy, 0.4), (second_pack, 0.3), (minus_side, 0.5), (switch, 0.2), (stray, 0.35),
)


def fragments(seed: int) -> Iterator[Sketch]:
    """Random fragments without end; the same for the same seed."""
    dice = random.Random(seed)
    number = 0
    while True:
        builder = Builder(dice, dict(dice.choice(RAILS)))
        backup(builder)
        for feature, often in FEATURES:
            if dice.random() < often:
                feature(builder)
        if len(builder.parts) > 5 and _sound(builder):
            number += 1
            yield Sketch(builder.rails, tuple(builder.parts), f"random {seed}-{number}")


def _sound(builder: Builder) -> bool:
    """No part with both pins on one net, and none without a resistor straight between two fixed nets."""
    fixed = {GROUND, *builder.rails}
    return all(len(set(part.pins())) == len(part.pins())
               and (isinstance(part, Resistor) or not set(part.pins()) <= fixed) for part in builder.parts)


def _coin(plus: str = "CELL", minus: str = GROUND) -> Cell:
    return Cell("BT1", plus, minus)


_FED = (Diode("D2", "+5V", "VRAM"), Load("U1", "VRAM", GROUND))
_5V = {"+5V": Rail(5.0)}
SAFE: tuple[Sketch, ...] = (
    Sketch(_5V, (_coin(), Resistor("R1", "CELL", "HOLD", 1e3), Diode("D1", "HOLD", "VRAM"), *_FED),
           "diode and resistor"),
    Sketch(_5V, (_coin(), Resistor("R1", "CELL", "HOLD", 1e3), Diode("D1", "HOLD", "VRAM", *SMALL_SCHOTTKY), *_FED),
           "Schottky and resistor"),
    Sketch(_5V, (_coin(), Diode("D3", "CELL", "HOLD"), Diode("D1", "HOLD", "VRAM"), *_FED), "two diodes in series"),
    Sketch(_5V, (_coin("CELL", "CM"), Resistor("R1", "CM", "CN", 1e3), Diode("D3", GROUND, "CN"),
                 Diode("D1", "CELL", "VRAM"), *_FED), "diodes on both sides"),
    Sketch({"+5V": Rail(5.0), "+12V": Rail(12.0)},
           (_coin(), Resistor("R1", "CELL", "HOLD", 1e3), Diode("D1", "HOLD", "VRAM"), *_FED,
            Resistor("R5", "+12V", "VZ", 2.2e3), Zener("D7", GROUND, "VZ", 9.1)), "beside a zener supply"),
    Sketch({"+5V": Rail(5.0), "3VSB": Rail(3.3, 0.05, "standby")},
           (_coin(), Resistor("R1", "CELL", "HOLD", 1e3), Diode("D1", "HOLD", "VRAM"), *_FED,
            Diode("D4", "3VSB", "VRAM")), "fed by two supplies"),
    Sketch(_5V, (_coin(), Resistor("R1", "CELL", "HOLD", 2.2e3), Diode("D1", "HOLD", "VRAM"), *_FED,
                 Resistor("R6", "+5V", "SENSE", 10e3), Resistor("R7", "SENSE", GROUND, 10e3)), "beside a divider"),
    Sketch(_5V, (_coin(), Resistor("R1", "CELL", "HOLD", 1e3), Diode("D1", "HOLD", "VRAM"), *_FED,
                 Jumper("JP1", "SPARE", "HOLD"), Resistor("R6", "SPARE", GROUND, 10e6)), "with a jumper"),
)
"""Boards that makers would accept; mutants of them are made below."""


def _reverse(part: Part, dice: random.Random, nets: list[str]) -> Part | None:
    if isinstance(part, Diode | Zener):
        return replace(part, anode=part.cathode, cathode=part.anode)
    if isinstance(part, Cell):
        return replace(part, plus=part.minus, minus=part.plus)
    return None


def _move(part: Part, dice: random.Random, nets: list[str]) -> Part | None:
    if isinstance(part, Diode | Zener):
        pin = dice.choice(("anode", "cathode"))
    elif isinstance(part, Resistor | Jumper):
        pin = dice.choice(("one", "two"))
    elif isinstance(part, Cell):
        pin = dice.choice(("plus", "minus"))
    else:
        return None
    moved = replace(part, **{pin: dice.choice(nets)})
    return moved if len(set(moved.pins())) == 2 else None


def _short(part: Part, dice: random.Random, nets: list[str]) -> Part | None:
    return Resistor(part.name.replace("D", "R4"), part.anode, part.cathode, 0.1) if isinstance(part, Diode) else None


def mutants(seed: int) -> Iterator[Sketch]:
    """Safe boards with one to three mistakes, each once: a part reversed, moved, shorted, or a part too many."""
    dice = random.Random(seed)
    made: set[tuple[object, ...]] = set()
    while True:
        board = dice.choice(SAFE)
        for _ in range(dice.choice((1, 1, 2, 3))):
            nets = sorted({pin for part in board.parts for pin in part.pins()} | {GROUND, *board.rails})
            if dice.random() < 0.35:
                board = _extra(board, dice, nets)
                continue
            part = dice.choice(board.parts)
            changed = dice.choice((_reverse, _move, _short))(part, dice, nets)
            if changed is not None:
                board = board.with_part(part.name, changed)
        fixed = {GROUND, *board.rails}
        sound = all((isinstance(part, Resistor) and part.ohm > 1) or not set(part.pins()) <= fixed
                    for part in board.parts)
        if sound and board not in SAFE and board.parts not in made:
            made.add(board.parts)
            yield replace(board, title=f"mutant {seed}-{len(made)} of {board.title}")


def _extra(board: Sketch, dice: random.Random, nets: list[str]) -> Sketch:
    one, two = dice.sample(nets, 2)
    name = str(20 + len(board.parts))
    part: Part = dice.choice((
        Resistor(f"R{name}", one, two, dice.choice(OHMS)),
        Diode(f"D{name}", one, two),
        Zener(f"D{name}", one, two, dice.choice(ZENERS)),
        Cell(f"BT{name}", one, two, 4.05, 3.0, 1.5, "nickel-metal-hydride"),
    ))
    return replace(board, parts=(*board.parts, part))
