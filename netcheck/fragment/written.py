"""Steps of a mod written as the file would have them, ready to be pasted."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Sequence
from itertools import count

from msgspec.structs import replace
from typing_extensions import assert_never

from netcheck.fragment.kinds import ROWS, Form
from netcheck.fragment.model import AS_FOUND, Fragment, Part, Step
from netcheck.parts.specs import CapacitorSpec, FuseSpec
from netcheck.quantities.values import Quantity, engineering


def resistance(ohm: float, tolerance: float) -> Quantity:
    """A resistance with its tolerance (a share), and its text as a file has it.

    >>> resistance(3600.0, 0.01).text, resistance(240.0, 0.05).text
    ('3.6k ±1%', '240 ±5%')
    """
    text = engineering(ohm, "ohm", 6).replace("Ω", "").replace(" ", "")
    return Quantity(ohm, ohm * (1 - tolerance), ohm * (1 + tolerance), "ohm", f"{text} ±{tolerance * 100:g}%")


def step_lines(step: Step) -> list[str]:
    """One line of YAML for each thing the step does, without the leading dash."""
    match step.action:
        case "remove" | "join":
            return [f"{{{step.action}: [{', '.join(step.names)}]}}"]
        case "move":
            return [f"{{move: {{{name}.{pin}: {net}}}}}" for (name, pin), net in step.moves.items()]
        case "set":
            return [f"{{set: {{{name}: {position}}}}}" for name, position in step.settings.items()]
        case _:
            return [f"{{{step.action}: {{{part.name}: {part_text(part)}}}}}" for part in step.parts]


def part_text(part: Part) -> str:
    """A part as its line in the file: kind, name or value, and pins."""
    row = ROWS[part.kind]
    named = {pin: net for pin, net in part.pins.items() if pin in row.pins}
    lists = [f"{key}: {_list([part.pins[pin] for pin in pins])}" for key, pins in row.lists.items()
             if set(pins) <= set(part.pins)]
    words = [f"{pin}: {plain(net)}" for pin, net in named.items()]
    match row.form:
        case Form.LISTED:
            fields = [f"{part.kind}: {_list(part.pins.values())}"]
        case Form.MANY:
            pins = ", ".join(f"{pin}: {plain(net)}" for pin, net in part.pins.items())
            fields = [f"{part.kind}: {_what(part)}", f"pins: {{{pins}}}"]
        case Form.WORDS:
            fields = [f"{part.kind}: {_what(part)}", *lists, *words]
        case _:
            assert_never(row.form)
    return f"{{{', '.join((*fields, *_further(part)))}}}"


def _list(nets: Iterable[str]) -> str:
    return f"[{', '.join(map(plain, nets))}]"


def _further(part: Part) -> Iterator[str]:
    """What else is known of it, and how it stands where that is not what the file would take it to be."""
    row = ROWS[part.kind]
    for key, attribute, unit in (("rated", "rated_V", "V"), ("power", "power_W", "W"), ("esr", "esr_ohm", "ohm")):
        known = getattr(part.spec, attribute, None)
        if known is not None:
            yield f"{key}: {engineering(known, unit)}"
    if isinstance(part.spec, CapacitorSpec) and part.spec.type != "unknown":
        yield f"type: {part.spec.type}"
    if row.form is Form.LISTED and set(part.positions) - {"open", "closed", "1-2", "2-3"}:
        joins = ", ".join(f"{name}: {_pairs(pairs)}" for name, pairs in part.positions.items())
        yield f"positions: {{{joins}}}"
    if part.position is not None and part.position not in ("open", "middle", "rest"):
        yield f"set: {plain(part.position)}"
    if part.pulled_by is not None:
        yield f"pulled: {plain(part.pulled_by)}"


def _pairs(pairs: tuple[tuple[str, str], ...]) -> str:
    if not pairs:
        return "none"
    joined = [f"{one}-{other}" for one, other in pairs]
    return joined[0] if len(joined) == 1 else f"[{', '.join(joined)}]"


_PLAIN = re.compile(r"[^\s\[\]{},#&*!|>'\"%@`:?-][^\[\]{},#:\"']*|-[^\s\[\]{},#:\"']+")


def plain(text: str) -> str:
    """A text as a scalar of a YAML flow mapping: in quotes where it could be read otherwise.

    >>> plain("+5V"), plain("-12V"), plain("A, B"), plain("# 1")
    ('+5V', '-12V', '"A, B"', '"# 1"')
    """
    if _PLAIN.fullmatch(text) and text == text.strip():
        return text
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


def _what(part: Part) -> str:
    return plain(getattr(part.spec, "name", "") or _value(part))


def _value(part: Part) -> str:
    spec = part.spec
    if isinstance(spec, FuseSpec):
        return "unknown" if spec.rating_A is None else engineering(spec.rating_A, "A")
    for name in ("resistance", "capacitance", "inductance", "coil"):
        value = getattr(spec, name, None)
        if value is not None:
            return value.text or f"{value.value:g}"
    return "unknown"


_NUMBERED = re.compile(r"([A-Za-z]+)[0-9]+")


def mod_text(name: str, steps: Sequence[Step], fragment: Fragment) -> str:
    """Steps as an entry of `mods:`; the name and the designators of what is fitted are free in the whole file."""
    return entry_text(name, [line for step in _renamed(steps, fragment) for line in step_lines(step)], fragment)


def entry_text(name: str, lines: Iterable[str], fragment: Fragment) -> str:
    """Lines of steps as an entry of `mods:` that comes after the fragment's variant, under a name that is free."""
    after = [] if fragment.variant == AS_FOUND else [f"  after: {fragment.variant}"]
    return "\n".join([f"{_free(name, fragment.mods)}:", *after, "  steps:", *(f"    - {line}" for line in lines)])


def _renamed(steps: Sequence[Step], fragment: Fragment) -> Iterator[Step]:
    """The steps with designators that neither the board nor one of its mods has had."""
    taken = set(designators(fragment))
    for step in steps:
        if step.action != "fit":
            yield step
            continue
        parts = []
        for part in step.parts:
            name = _designator(part, taken)
            taken.add(name)
            parts.append(replace(part, name=name))
        yield replace(step, parts=tuple(parts))


def designators(fragment: Fragment) -> Iterator[str]:
    """Every designator of the board, what its mods take out and fit included."""
    yield from fragment.parts
    for mod in fragment.mods.values():
        for step in mod.steps:
            yield from (part.name for part in step.parts)
            yield from (step.names if step.action == "remove" else ())


def _designator(part: Part, taken: Collection[str]) -> str:
    letters = _NUMBERED.fullmatch(part.name)
    if part.name not in taken or letters is None:
        return part.name
    return next(name for number in count(1) if (name := f"{letters[1]}{number}") not in taken)


def _free(name: str, taken: Collection[str]) -> str:
    return next(free for number in count(1) if (free := name if number == 1 else f"{name}-{number}") not in taken)
