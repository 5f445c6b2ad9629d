"""A table of capacitors in words: what is there, what it sees, what may stand there, what the mod puts there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from netcheck.capacitors.table import Buy, Capacitors, Line, cautions_for
from netcheck.fragment.model import AS_FOUND
from netcheck.parts.capacitor import cautions, role
from netcheck.parts.specs import CapacitorSpec
from netcheck.quantities.values import engineering
from netcheck.quantities.words import in_ranges
from netcheck.reports.vocabulary import MARKS, counted, variant
from netcheck.wording.effects import effect_words

BAD = ("danger", "unknown", "fails", "caution")


def spec_words(spec: CapacitorSpec | None) -> str:
    """A capacitor in a few words: "47 µF tantalum 10 V 0805"."""
    if spec is None:
        return "nothing"
    kind = "" if spec.type == "unknown" else spec.type
    volts = "" if spec.rated_V is None else engineering(spec.rated_V, "V")
    return " ".join(filter(None, [engineering(spec.capacitance.value, "F"), kind, volts, spec.size or ""]))


def place_words(line: Line) -> str:
    """Where it stands: its supply, or the part that it serves."""
    return str(line.said["rail"] or line.said["of"] or "-")


def sees_words(line: Line) -> str:
    """The most volts that it sees.

    A bound is told as one: "up to 5.25 V".
    """
    volts = line.said["stress_V"]
    if volts is None:
        return "volts not known"
    return f"{'up to' if line.said['bound'] else 'sees'} {engineering(volts, 'V')}"


def lasts_words(line: Line) -> str:
    """How long it lasts, where its family wears out."""
    years = line.said["life_years"]
    if years is None:
        return ""
    assumed = ", its hours assumed" if line.said["life_assumed"] else ""
    if line.said["life_capped"]:
        return f"lasts {engineering(years, 'year', 2)} and more at the hottest (makers promise no more){assumed}"
    return f"lasts about {engineering(years, 'year', 2)} at the hottest{assumed}"


def may_words(may: Mapping[str, Any]) -> str:
    """What may stand there: "80 µF to 500 µF; wet, hybrid 16 V; tantalum 25 V"."""
    least, most = may["least_F"], may["most_F"]
    value = engineering(least, "F") + (", kept" if least == most else f" to {engineering(most, 'F')}")
    by_volts: dict[float | None, list[str]] = {}
    for name in may["families"]:
        by_volts.setdefault(may["volts"].get(name), []).append(name)
    families = "; ".join(", ".join(names) + ("" if volts is None else f" from {engineering(volts, 'V')}")
                         for volts, names in by_volts.items())
    return f"{value}; {families}" if families else f"{value}; the same kind or better"


def now_words(line: Line) -> str:
    """What the mod puts there; empty where it changes nothing."""
    if not line.changed:
        return ""
    return "taken out" if line.now is None else spec_words(line.now)


def watch_words(line: Line) -> list[str]:
    """What to watch, and what the change does."""
    said = list(line.said["watch"]) if line.now is not None else []
    does = effect_words(line.said["effect"]) if line.changed and line.now is not None else ""
    return [*said, *([does] if does else [])]


def measured_words(line: Line) -> str:
    """What a tester said of it, what that means, and the limits by which it does."""
    told = line.said["tester"]
    if not told:
        return ""
    read = [engineering(told[key], unit) for key, unit in (("capacitance_F", "F"), ("esr_ohm", "ohm"))
            if told[key] is not None]
    limits = [f"good from {engineering(told['good_from_F'], 'F')}, out below {engineering(told['out_below_F'], 'F')}"] \
        if told["capacitance_F"] is not None else []
    if told["esr_ohm"] is not None and told["good_to_ohm"] is not None:
        limits.append(f"good to {engineering(told['good_to_ohm'], 'ohm')}, out above "
                      f"{engineering(told['out_above_ohm'], 'ohm')}")
    return f"measured {', '.join(read)}: {told['verdict']}, {told['why']} ({'; '.join(limits)})"


def first_words(found: Capacitors) -> str:
    """Which to change first by the tester, those that are out before those that are only tired."""
    graded = {name: line.said["tester"]["verdict"] for line in found.lines if line.said["tester"]
              for name in line.parts}
    out = [name for name in found.first if graded.get(name, "out") == "out"]
    tired = [name for name in found.first if name not in out]
    return " ".join([*([f"Change first, by the tester: {', '.join(out)}."] if out else []),
                     *([f"Tired, by the tester, and next to change: {', '.join(tired)}."] if tired else [])])


def left_words(found: Capacitors) -> str:
    """Of a mod: those that it leaves in though they are judged harmful, failing or worn out; they are not bought."""
    kept = [name for line in found.lines if not line.changed and (
        line.verdict in ("danger", "fails") or (line.said["tester"] or {}).get("verdict") == "out")
        for name in line.parts]
    if not found.planned or not kept:
        return ""
    return (f"The mod leaves {in_ranges(kept)} in, judged harmful, failing or worn out above: not in this list, to be "
            "bought as well, by what may be there.")


def buy_words(one: Buy) -> str:
    """One line of the shopping list."""
    volts = "rating to be settled" if one.rated_V is None else engineering(one.rated_V, "V")
    kind = "type to be settled" if one.type == "unknown" else one.type
    return " ".join(filter(None, [engineering(one.capacitance_F, "F"), kind, volts, one.size or ""]))


def head(found: Capacitors) -> str:
    """The first line: the verdict, of which variant, and how many need attention."""
    several = sum(len(line.parts) for line in found.lines)
    bad = {word: sum(len(line.parts) for line in found.lines if line.verdict == word) for word in BAD}
    told = ", ".join(f"{number} {MARKS[word]}" for word, number in bad.items() if number)
    worst = next((MARKS[word] for word in BAD if bad[word]), MARKS["ok"])
    return f"{worst}, {variant(found.variant)}: {counted(several, 'capacitor')}, {told or 'all ok'}."


def role_title(name: str) -> str:
    return f"{name.replace('-', ' ').capitalize()}: {role(name).about}"


def buy_title(found: Capacitors) -> str:
    return f"To buy for {variant(found.variant)}" if found.planned else "To buy, like for like"


def cautions_of(lines: Sequence[Line]) -> Iterator[str]:
    """What whoever does the work has to know."""
    for subject in cautions_for(lines):
        yield from (text for text, _ in cautions(subject))


def mod_words(found: Capacitors) -> str:
    return "" if found.variant == AS_FOUND else variant(found.variant)


