"""The steps of a mod in bench order, pin by pin, in the words of somebody with an iron in hand."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from msgspec import Struct, field
from msgspec.structs import replace

from netcheck.fragment.model import Fragment, Kind, Mod, Part, Step
from netcheck.fragment.mods import apply_steps
from netcheck.fragment.states import ABSENT
from netcheck.parts.capacitor import family, usual
from netcheck.parts.specs import CapacitorSpec
from netcheck.reports.bench_order import in_bench_order
from netcheck.reports.words import either_way_round, is_coin, leads, look_for, pin_words, position_words, what
from netcheck.wording.lists import listed

_SHOWN_PINS = 2


class LeadText(Struct, frozen=True):
    """Where one lead goes: how to tell it on the part, the net, and the pad or pin to find that net at."""

    part: str
    lead: str
    net: str
    where: str


class StepText(Struct, frozen=True):
    """One step: what to do, what to look for, where each lead goes, what to mind, and why.

    mod: the mod that the step belongs to.
    """

    mod: str
    action: str
    title: str
    look: tuple[str, ...] = ()
    leads: tuple[LeadText, ...] = ()
    notes: tuple[str, ...] = ()
    because: str = ""


class _Bench(Struct):
    """The board as it stands between two steps: the circuit, and the pads whose part is gone."""

    fragment: Fragment
    free: dict[str, list[str]] = field(default_factory=dict)
    gone: dict[str, Part] = field(default_factory=dict)

    def spot(self, net: str, without: str = "") -> str:
        """Where on the board a net can be reached, in words."""
        if self.free.get(net):
            return f"the pad that {self.free[net][0]} left free"
        pins = [pin_words(part, pin) for part in self.fragment.fitted if part.name != without
                for pin, on in part.pins.items() if on == net]
        if pins:
            others = len(pins) - _SHOWN_PINS
            return f"with {listed([*pins[:_SHOWN_PINS], *([f'{others} more'] if others > 0 else [])])}"
        if net in self.fragment.rails or net == self.fragment.ground:
            return "anywhere on that rail" if net in self.fragment.rails else "anywhere on ground"
        return "a new point on no pad of the board: join the leads there and sleeve them"

    def leave(self, part: Part) -> None:
        self.gone[part.name] = part
        for pin, net in part.pins.items():
            self.free.setdefault(net, []).append(pin_words(part, pin))

    def own_pads(self, name: str) -> set[str]:
        """The nets on which a part that is gone has left a pad that is still free."""
        old = self.gone.get(name)
        return set() if old is None else {
            net for pin, net in old.pins.items() if pin_words(old, pin) in self.free.get(net, ())}

    def take(self, part: Part) -> None:
        """A part goes in: one free pad of each of its nets is used up."""
        for net in part.pins.values():
            if self.free.get(net):
                self.free[net].pop(0)

    def merge(self, names: tuple[str, ...], kept: str) -> None:
        for name in names:
            if name != kept:
                self.free.setdefault(kept, []).extend(self.free.pop(name, []))


def steps_text(fragment: Fragment, name: str) -> list[StepText]:
    """Every step of the mod `name` and of those that it comes after, in an order that can be soldered.

    fragment: the circuit as found. Raises KeyError where there is no such mod.
    """
    bench = _Bench(fragment)
    for part in fragment.parts.values():
        if not part.fitted:
            bench.leave(part)
    return [_told(mod, step, bench) for mod, step in in_bench_order(fragment, name)]


def _told(mod: Mod, step: Step, bench: _Bench) -> StepText:
    told = _TELL[step.action](step, bench)
    bench.fragment = apply_steps(bench.fragment, [step])
    if step.action == "join":
        left = set(bench.fragment.nets)
        bench.merge(step.names, next((net for net in step.names if net in left), step.names[0]))
    return replace(told, mod=mod.name, because=step.because or "")


def _remove(step: Step, bench: _Bench) -> StepText:
    parts = [bench.fragment.parts[name] for name in step.names]
    look = [f"{_look(part, part.at) or f'{part.name}:'} It stands between {listed(list(dict.fromkeys(part.nets)))}."
            for part in parts]
    for part in parts:
        bench.leave(part)
    return StepText("", step.action, f"Take out {listed([f'{part.name} ({what(part)})' for part in parts])}.",
                    tuple(line.replace(": It", ": it") for line in look))


def _replace(step: Step, bench: _Bench) -> StepText:
    titles = [f"{part.name}: take out the {what(bench.fragment.parts[part.name])}, put in the {what(part)}"
              for part in step.parts]
    return _put_in(step, bench, f"Replace {'; '.join(titles)}.")


def _fit(step: Step, bench: _Bench) -> StepText:
    told = _put_in(step, bench, f"Fit {listed([f'{part.name} ({what(part)})' for part in step.parts])}.")
    for part in step.parts:
        bench.take(part)
    return told


def _put_in(step: Step, bench: _Bench, title: str) -> StepText:
    old = bench.fragment.parts
    look = [_look(part, part.at or (old[part.name].at if part.name in old else None)) for part in step.parts]
    ends = [lead for part in step.parts for lead in _leads(part, bench)]
    notes = [note for part in step.parts for note in _notes(part)]
    notes += _capacitor_notes(step.parts, old)
    return StepText("", step.action, title, tuple(filter(None, look)), tuple(ends), tuple(notes))


def _leads(part: Part, bench: _Bench) -> Iterator[LeadText]:
    """Each lead of a part that goes in; a replaced part's pads are where they were."""
    old = bench.fragment.parts.get(part.name)
    kept = set(old.nets) if old is not None and old.fitted else bench.own_pads(part.name)
    for lead, net in leads(part):
        where = f"the pad of the old {part.name}" if net in kept else bench.spot(net, part.name)
        yield LeadText(part.name, lead, net, where)


def _notes(part: Part) -> Iterator[str]:
    if either_way_round(part):
        yield f"{part.name} has no polarity: it goes in either way round."
    if part.kind in (Kind.TRANSISTOR, Kind.REGULATOR, Kind.RELAY):
        yield (f"The order of {part.name}'s pins differs between makers: look in the data sheet of the one "
               "you hold.")
    if is_coin(part.spec):
        yield (f"{part.name} goes into a holder, never with leads soldered to the cell. Leave the holder "
               "empty until the tests at the empty holder have passed.")


def _capacitor_notes(parts: Sequence[Part], old: Mapping[str, Part]) -> Iterator[str]:
    """What is done before a capacitor is changed: run down what was there, and prove the polarity of its pads."""
    big = [part.name for part in parts if part.name in old and _reservoir(old[part.name])]
    if big:
        yield f"Discharge {listed(big)} first through about 1 kΩ, and measure again before you touch."
    polarised = [part.name for part in parts if part.kind is Kind.CAPACITOR and _polarised(part)]
    if polarised:
        yield (f"Before {listed(polarised)} {'goes' if len(polarised) == 1 else 'go'} in: measure the polarity on the "
               "empty pads; a capacitor the wrong way round bursts or burns.")


def _polarised(part: Part) -> bool:
    spec = part.spec
    known = family(spec.type) if isinstance(spec, CapacitorSpec) else None
    return "plus" in part.pins and (known is None or known.polarised)


def _reservoir(part: Part) -> bool:
    spec = part.spec
    return isinstance(spec, CapacitorSpec) and spec.capacitance.value >= usual().reservoir_F


def _move(step: Step, bench: _Bench) -> StepText:
    titles, look, ends = [], [], []
    for (name, pin), net in step.moves.items():
        part = bench.fragment.parts[name]
        lead = dict(zip(part.pins, leads(part), strict=True))[pin][0]
        titles.append(f"{pin_words(part, pin)} from {part.pins[pin]} to {net}")
        look.append(_look(part, part.at))
        ends.append(LeadText(name, lead, net, bench.spot(net, name)))
        bench.free.setdefault(part.pins[pin], []).append(pin_words(part, pin))
        if bench.free.get(net):
            bench.free[net].pop(0)
    return StepText("", step.action, f"Move {listed(titles)}.", tuple(filter(None, look)), tuple(ends))


def _join(step: Step, bench: _Bench) -> StepText:
    ends = [LeadText("wire", f"end {n}", net, bench.spot(net)) for n, net in enumerate(step.names, 1)]
    return StepText("", step.action, f"Run a wire link between {listed(step.names)}.", leads=tuple(ends))


def _set(step: Step, bench: _Bench) -> StepText:
    titles, notes, look = [], [], []
    for name, position in step.settings.items():
        part = bench.fragment.parts[name]
        stands = position if position in part.positions else ABSENT
        titles.append(f"{name} to {position}")
        joined = [f"{part.pins[a]} to {part.pins[b]}" for a, b in part.positions.get(stands, ())]
        notes.append(f"{name}: {position_words(part, stands)}; it joins {listed(joined) or 'nothing'}.")
        look.append(_look(part, part.at))
    return StepText("", step.action, f"Set {listed(titles)}.", tuple(filter(None, look)), notes=tuple(notes))


def _look(part: Part, at: str | None) -> str:
    """Where a part is and what is printed on it; empty where neither is known."""
    look = look_for(part)
    words = [at or "", f"look for {look}" if look and not part.marked else look]
    return f"{part.name}: {', '.join(filter(None, words))}." if any(words) else ""


_TELL: Mapping[str, Callable[[Step, _Bench], StepText]] = {
    "remove": _remove, "replace": _replace, "fit": _fit, "move": _move, "join": _join, "set": _set,
}
