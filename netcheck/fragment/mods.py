"""A mod applied to a fragment gives a new fragment; the one it started from stays as it was."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from msgspec.structs import replace

from netcheck.fragment.kinds import MOVABLE, ROWS, Moves
from netcheck.fragment.model import Clamp, Feature, Fragment, Part, Step
from netcheck.fragment.states import ABSENT, follows
from netcheck.quantities.words import one_of


class StepFault(ValueError):
    """A step that the circuit does not allow: the `text` at fault, what was `expected`, words it may mean."""

    def __init__(self, text: str, expected: str, near: Iterable[str] = ()) -> None:
        super().__init__(f'"{text}": expected {expected}')
        self.text = text
        self.expected = expected
        self.near = tuple(near)


def apply(fragment: Fragment, name: str) -> Fragment:
    """The circuit as found with one mod applied, the mods that it comes after first.

    Raises KeyError where there is no such mod, StepFault where a step is impossible
    (in a fragment that was read from a file neither happens by its own mods).
    """
    found = fragment.found or fragment
    chain = [fragment.mods[name]]
    while (before := chain[0].after) is not None:
        if len(chain) > len(fragment.mods):
            raise StepFault(name, "mods that do not come after themselves")
        chain.insert(0, fragment.mods[before])
    for mod in chain:
        fragment = apply_steps(fragment, mod.steps)
    return replace(fragment, variant=name, found=found)


def apply_steps(fragment: Fragment, steps: Iterable[Step]) -> Fragment:
    """Steps applied one after the other. Raises StepFault where one is impossible."""
    for step in steps:
        fragment = _ACTIONS[step.action](fragment, step)
    return fragment


def _remove(fragment: Fragment, step: Step) -> Fragment:
    for name in step.names:
        _part(fragment, name)
    return fragment.with_parts({n: p for n, p in fragment.parts.items() if n not in step.names})


def _replace(fragment: Fragment, step: Step) -> Fragment:
    for part in step.parts:
        _part(fragment, part.name)
    return fragment.with_parts({**fragment.parts, **{part.name: part for part in step.parts}})


def _fit(fragment: Fragment, step: Step) -> Fragment:
    for part in step.parts:
        if part.name in fragment.parts and fragment.parts[part.name].fitted:
            raise StepFault(part.name, f"a designator that is free: {part.name} is fitted already")
    return fragment.with_parts({**fragment.parts, **{part.name: part for part in step.parts}})


def _move(fragment: Fragment, step: Step) -> Fragment:
    parts = dict(fragment.parts)
    for (name, pin), net in step.moves.items():
        part = _part(fragment.with_parts(parts), name)
        if pin not in part.pins:
            raise StepFault(f"{name}.{pin}", f"a pin of the {part.kind} {name} ({', '.join(part.pins)})",
                            (f"{name}.{known}" for known in part.pins))
        parts[name] = replace(part, pins={**part.pins, pin: net})
    return fragment.with_parts(parts)


def _join(fragment: Fragment, step: Step) -> Fragment:
    """All the nets become one; it keeps the name of the ground or rail among them, else the first name.

    A link may lead to a net that was not traced, but not from one to another.
    """
    known = fragment.nets
    if not set(step.names) & set(known):
        raise StepFault(step.names[0], "a net of the circuit", known)
    driven = [net for net in dict.fromkeys(step.names) if net in fragment.rails or net == fragment.ground]
    if len(driven) > 1:
        raise StepFault(driven[1], f"a net without a supply: {' and '.join(driven)} joined are a short")
    kept = driven[0] if driven else step.names[0]
    return renamed(fragment, dict.fromkeys(step.names, kept))


def renamed(fragment: Fragment, names: Mapping[str, str]) -> Fragment:
    """The fragment with nets under other names, wherever they are spoken of."""
    def net(name: str) -> str:
        return names.get(name, name)

    def maybe(name: str | None) -> str | None:
        return None if name is None else net(name)

    parts = {name: _renamed_part(part, names) for name, part in fragment.parts.items()}
    expectations = tuple(
        replace(wish, joined=tuple(map(net, wish.joined)), apart=tuple(map(net, wish.apart)),
                at=maybe(wish.at), against=maybe(wish.against))
        for wish in fragment.expectations)
    readings = tuple(replace(reading, at=maybe(reading.at), against=maybe(reading.against))
                     for reading in fragment.readings)
    declared = {net(name): mark for name, mark in fragment.declared_nets.items()}
    return replace(fragment, parts=parts, expectations=expectations, readings=readings,
                   features=tuple(_renamed_feature(one, names) for one in fragment.features),
                   declared_nets=declared)


def _renamed_feature(feature: Feature, names: Mapping[str, str]) -> Feature:
    def groups(nets: tuple[tuple[str, ...], ...]) -> tuple[tuple[str, ...], ...]:
        return tuple(tuple(names.get(n, n) for n in group) for group in nets)

    volts = tuple(replace(one, at=names.get(one.at, one.at), against=names.get(one.against or "", one.against))
                  for one in feature.volts)
    return replace(feature, joined=groups(feature.joined), apart=groups(feature.apart), volts=volts)


def _renamed_part(part: Part, names: Mapping[str, str]) -> Part:
    clamp = part.clamp
    if clamp is not None:
        clamp = Clamp(names.get(clamp.to, clamp.to), tuple(names.get(n, n) for n in clamp.inputs))
    paths = tuple(replace(path, when_volts={names.get(n, n): span for n, span in path.when_volts.items()})
                  for path in part.paths)
    pulled_by = names.get(part.pulled_by or "", part.pulled_by)
    if (clamp, paths, pulled_by) == (part.clamp, part.paths, part.pulled_by) and \
            names.keys().isdisjoint(part.pins.values()):
        return part
    return replace(part, clamp=clamp, paths=paths, pulled_by=pulled_by,
                   pins={pin: names.get(n, n) for pin, n in part.pins.items()})


def _set(fragment: Fragment, step: Step) -> Fragment:
    parts = dict(fragment.parts)
    for name, position in step.settings.items():
        part = _part(fragment, name)
        if part.kind not in MOVABLE:
            raise StepFault(name, f"a {one_of(map(str, MOVABLE))}: {name} is a {part.kind}")
        if follows(fragment, part):
            raise StepFault(name, f"nothing to set: {name} is pulled whenever the supply of its coil is on")
        parts[name] = replace(part, position=_position(part, position))
    return fragment.with_parts(parts)


def _position(part: Part, position: str) -> str:
    if position in part.positions:
        return position
    absent = [ABSENT] if ROWS[part.kind].moves is Moves.CAP else []
    if position in absent:
        return next((name for name, pairs in part.positions.items() if not pairs), ABSENT)
    words = [*part.positions, *absent]
    raise StepFault(position, f"a position of {part.name} ({', '.join(words)})", words)


def _part(fragment: Fragment, name: str) -> Part:
    if name not in fragment.parts:
        raise StepFault(name, "a part of the circuit as it stands after the steps before", fragment.parts)
    return fragment.parts[name]


_ACTIONS: Mapping[str, Callable[[Fragment, Step], Fragment]] = {
    "remove": _remove, "replace": _replace, "fit": _fit, "move": _move, "join": _join, "set": _set,
}
