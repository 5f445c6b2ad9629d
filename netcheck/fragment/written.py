"""Steps of a mod written as the file would have them, ready to be pasted."""

from __future__ import annotations

from netcheck.fragment.model import Kind, Part, Step


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
    what = getattr(part.spec, "name", "") or _value(part)
    pins = f"between: [{', '.join(part.nets)}]" if list(part.pins) == ["1", "2"] and part.kind is not Kind.JUMPER \
        else ", ".join(f"{pin}: {net}" for pin, net in part.pins.items())
    return f"{{{part.kind}: {what}, {pins}}}"


def _value(part: Part) -> str:
    for name in ("resistance", "capacitance", "inductance"):
        value = getattr(part.spec, name, None)
        if value is not None:
            return value.text or f"{value.value:g}"
    return "given"
