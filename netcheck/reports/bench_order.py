"""The steps of a mod in an order that can be soldered: cells out, then what comes out, then the rest, cells in.

The file tells what changes, in the order in which somebody thought of it. At the bench no iron comes near a fitted
cell, and a cell whose lead goes to a new point is put there once, not moved after it went in.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

from msgspec.structs import replace

from netcheck.fragment.model import Fragment, Kind, Mod, Part, Step
from netcheck.fragment.mods import StepFault, apply, apply_steps

Ordered = list[tuple[Mod, Step]]


def mods_before(fragment: Fragment, name: str) -> list[Mod]:
    """The mod and those that it comes after, in the order in which they are made."""
    chain = [fragment.mods[name]]
    while (before := chain[0].after) is not None:
        chain.insert(0, fragment.mods[before])
    return chain


def in_bench_order(fragment: Fragment, name: str) -> Ordered:
    """Every step of the mod `name` and of those that it comes after; as in the file where no other order does.

    fragment: the circuit as found. Raises KeyError where there is no such mod.
    """
    written = [(mod, step) for mod in mods_before(fragment, name) for step in mod.steps]
    if len(written) < 2:
        return written
    final = apply(fragment, name).parts
    ordered = _ordered(fragment, written, final)
    return ordered if _leads_to(fragment, ordered, final) else written


def _ordered(fragment: Fragment, written: Ordered, final: Mapping[str, Part]) -> Ordered:
    cells_in = {part.name: (mod, step) for mod, step in written if step.action in ("fit", "replace")
                for part in step.parts if part.kind is Kind.CELL and part.name in final}
    out: Ordered = []
    rest: Ordered = []
    for mod, step in written:
        gone = tuple(part.name for part in step.parts if part.name in cells_in and _is_fitted(fragment, part.name)) \
            if step.action == "replace" else ()
        if gone and not any(name in one.names for _, one in out for name in gone):
            out.append((mod, Step("remove", step.mark, names=gone)))
        kept = _without(step, cells_in)
        early = kept is not None and kept.action == "remove" and all(_is_fitted(fragment, one) for one in kept.names)
        if kept is not None:
            (out if early else rest).append((mod, kept))
    out.sort(key=lambda one: not any(fragment.parts[name].kind is Kind.CELL for name in one[1].names))
    last = [(mod, Step("fit", step.mark, parts=(final[cell],), because=step.because))
            for cell, (mod, step) in cells_in.items()]
    return [*out, *rest, *last]


def _is_fitted(fragment: Fragment, name: str) -> bool:
    return name in fragment.parts and fragment.parts[name].fitted


def _without(step: Step, cells: Collection[str]) -> Step | None:
    """A step without the cells that go in at the end; None where nothing is left of it."""
    if step.action in ("fit", "replace"):
        parts = tuple(part for part in step.parts if part.name not in cells)
        return replace(step, parts=parts) if parts else None
    if step.action == "move":
        moves = {end: net for end, net in step.moves.items() if end[0] not in cells}
        return replace(step, moves=moves) if moves else None
    return step


def _leads_to(fragment: Fragment, ordered: Ordered, final: Mapping[str, Part]) -> bool:
    """Whether the steps in this order make the same circuit."""
    try:
        made = apply_steps(fragment, _steps(ordered)).parts
    except StepFault:
        return False
    return made == final


def _steps(ordered: Ordered) -> Iterator[Step]:
    return (step for _, step in ordered)
