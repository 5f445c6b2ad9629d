"""Links as they look from above on the board: pins as o, a cap as = between them."""

from __future__ import annotations

from itertools import pairwise

from netcheck.fragment.kinds import ROWS, Moves
from netcheck.fragment.model import Part
from netcheck.fragment.states import ABSENT, joined_pins


def from_above(part: Part, position: str) -> str:
    """A link in a position: pins in a row with its cap, a trimmer's wiper on its track, else the position's word."""
    moves = ROWS[part.kind].moves
    if moves is Moves.WIPER:
        share = part.travel.get(position, 0.5)
        place = round(share * 2)
        return "".join("^" if step == place else "-" for step in range(3))
    if moves is not Moves.CAP:
        return position
    pairs = {frozenset(pair) for pair in joined_pins(part, position)} if position == ABSENT or position in \
        part.positions else set()
    pins = list(part.pins)
    if any(abs(pins.index(one) - pins.index(other)) != 1 for one, other in map(sorted, pairs)):
        return position
    drawn = "o"
    for one, other in pairwise(pins):
        drawn += ("=" if {one, other} in pairs else " ") + "o"
    return drawn
