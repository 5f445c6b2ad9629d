"""What each part does: a line a part first, in the order of the current's way, then the rest of what is known of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from netcheck.checks.results import VariantResult
from netcheck.explain.duties import Duty, PartDuties
from netcheck.explain.effects import Effect
from netcheck.fragment.model import Fragment, Kind
from netcheck.fragment.states import ABSENT
from netcheck.quantities import digits
from netcheck.reports.blocks import Block, Section, Table
from netcheck.wording.lists import listed

_SHORT_CIRCUIT_A = 10.0
"""What is more than this is told as a short-circuit: no supply of a board gives it for long."""


def blocks(result: VariantResult, fragment: Fragment) -> Iterator[Block]:
    rows = tuple((name, "; ".join(sentences(fragment, name, found)[:3])) for name, found in result.duties.items())
    if rows:
        yield Table(("part", "what it does"), rows, worded=True)


def sentences(fragment: Fragment, part: str, found: PartDuties) -> list[str]:
    """The duties of a part as phrases, those alike but for a load as one."""
    return [_sentence(fragment, part, duty, [to for to in targets if to is not None])
            for duty, targets in _alike(found.duties)]


def consequences(found: PartDuties) -> list[str]:
    """What happens when the part is open, and when it is short."""
    told = []
    for how, felt in (("open", found.if_open), ("short", found.if_short)):
        told.append(f"{how}: {_effect(*felt) if felt is not None else 'nothing changes here'}")
    return told


def word(found: PartDuties) -> str:
    """The telling duty as one word, for a drawing."""
    return found.duties[0].duty.replace("-", " ")


def explain_text(fragment: Fragment, duties: Mapping[str, PartDuties], parts: Sequence[str], width: int) -> str:
    """A line a part; with `parts` those alone, with what happens when each is open or short."""
    from netcheck.reports.screen import folded

    names = list(parts) or list(duties)
    margin = max((len(name) for name in names), default=0) + 2
    lines: list[str] = []
    for name in names:
        told = _told(fragment, name, duties.get(name))
        if parts and name in duties:
            told += consequences(duties[name])
        for number, text in enumerate(told):
            head = name if number == 0 else ""
            wrapped = folded(text, width - margin)
            lines += [f"{head if row == 0 else '':<{margin}}{line}" for row, line in enumerate(wrapped)]
        if parts:
            lines.append("")
    return "\n".join(lines).rstrip() + "\n"


def _told(fragment: Fragment, name: str, found: PartDuties | None) -> list[str]:
    """What a part does; of an empty footprint and of one that the variant leaves without a neighbour, that."""
    if not fragment.parts[name].fitted:
        return ["is an empty footprint here: it does nothing"]
    if found is None:
        return ["what it does could not be worked out"]
    if found.duties[0].duty == "nothing" and _cut_off(fragment, name):
        return [f"does nothing here: the mod {fragment.variant} leaves nothing else on its nets"]
    return sentences(fragment, name, found)


def _cut_off(fragment: Fragment, name: str) -> bool:
    """Whether the mod of this variant took everything else off a net of the part, where something stood as found."""
    def others(of: Fragment, net: str) -> bool:
        return net == of.ground or net in of.rails or any(
            net in one.nets for one in of.fitted if one.name != name)

    found = fragment.found
    return found is not None and name in found.parts and any(
        others(found, net) and not others(fragment, net) for net in fragment.parts[name].nets)


def _alike(found: Iterable[Duty]) -> list[tuple[Duty, list[str | None]]]:
    groups: dict[tuple[object, ...], tuple[Duty, list[str | None]]] = {}
    for duty in found:
        alike = duty.duty in ("feeds", "backs-up")
        key = (duty.duty, duty.source, duty.states, None if alike else duty.to)
        groups.setdefault(key, (duty, []))[1].append(duty.to)
    return list(groups.values())


def _sentence(fragment: Fragment, part: str, duty: Duty, to: Sequence[str]) -> str:
    when, loses = _when(fragment, duty.states), _loses(duty)
    match duty.duty:
        case "feeds":
            return f"brings {duty.source} to {listed(to)}{when}{loses}"
        case "backs-up" if part == duty.source:
            return f"keeps {listed(to)} alive{when}: gives {digits.amps(duty.amps)}"
        case "backs-up":
            return f"lets {duty.source} keep {listed(to)} alive{when}{loses}"
        case "charges":
            setting = "; sets that current" if duty.sets_it else ""
            return f"charges {duty.to} from {duty.source}{when}: {digits.amps(duty.amps)}{setting}"
        case "blocks":
            return f"{_kept_apart(fragment, duty)}{when}; short, {_current(duty.if_short_A)} would flow"
        case "limits":
            return (f"keeps the current into {duty.to} small ({digits.amps(duty.amps)}) should {duty.others[0]} ever "
                    f"fail short; without it, {_current(duty.if_short_A)}")
        case "selects":
            return "; ".join(_position(fragment, name, *found) for name, found in duty.positions.items())
        case "sets":
            return f"sets {duty.to}" + (f" with {listed(duty.others)}" if duty.others else "")
        case "clamps":
            below = f"keeps {duty.to} below {digits.volts(duty.limit_V)}"
            return below if duty.source == fragment.ground else f"{below} above {duty.source}"
        case "pulls":
            return f"pulls {duty.to} {'down' if duty.source == fragment.ground else 'up'} to {duty.source}"
        case "holds":
            return duty.others[0] if duty.others else f"holds {duty.source} steady against {duty.to}"
        case "draws":
            return f"takes {digits.amps(duty.amps)} from {duty.source}{when}"
        case "carries":
            return f"passes {digits.amps(duty.amps)}{when}: {duty.to} is not the same without it"
        case _:
            return "does nothing that this section shows: traced completely?"


def _kept_apart(fragment: Fragment, duty: Duty) -> str:
    if duty.to in fragment.rails:
        return f"keeps {duty.source} from feeding the dead {duty.to}"
    if duty.to == fragment.ground:
        return f"keeps {duty.source} off {duty.to}"
    return f"keeps {duty.source} out of {duty.to}"


def _current(amps: float | None) -> str:
    return "a short-circuit" if amps is not None and amps > _SHORT_CIRCUIT_A else digits.amps(amps)


def _loses(duty: Duty) -> str:
    return "" if duty.drop_V is None or abs(duty.drop_V) < 1e-3 else f" (loses {digits.volts(abs(duty.drop_V))})"


def _when(fragment: Fragment, states: Sequence[str]) -> str:
    """While running; in every state: nothing is said."""
    named = [state.name for state in fragment.states]
    if not states:
        return ""
    if all(state in named for state in states):
        return f" while {listed(states)}"
    return f" in {listed(states[:2])}" + (f" and {len(states) - 2} more states" if len(states) > 2 else "")


def _position(fragment: Fragment, name: str, nets: Sequence[str], alive: Sequence[str]) -> str:
    joins = f"joins {listed(nets)} at {name}" if nets else ("out" if name == ABSENT else f"open at {name}")
    if not any(True for _ in fragment.of_kind(Kind.CELL)):
        return joins
    return f"{joins}: " + (f"{listed(alive)} kept alive" if alive else "no backup")


def _effect(state: str, effect: Effect) -> str:
    if effect.what in ("cell", "rail"):
        now, was = effect.after or 0.0, effect.before or 0.0
        gives = "takes" if now < 0 else "gives"
        before = f"{'takes' if was < 0 else 'gives'} {digits.amps(abs(was))}"
        return f"{effect.name} {gives} {_current(abs(now))} ({state}), where it {before}"
    if effect.after is None:
        return f"{effect.name} floats ({state}), where it has {digits.volts(effect.before)}"
    lost = effect.what == "load" and abs(effect.after) < 0.1 and (effect.before or 0.0) > 0.5
    gets = "loses its supply" if lost else f"{'gets' if effect.what == 'load' else 'has'} {digits.volts(effect.after)}"
    return f"{effect.name} {gets} ({state}), where it has {digits.volts(effect.before)}"


SECTION = Section("duties", "What each part does", blocks)
