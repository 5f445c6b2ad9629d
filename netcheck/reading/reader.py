"""A fragment file to a Fragment: everything read, or every mistake told, in one go."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from msgspec.structs import replace

from netcheck.fragment.kinds import PIN_ROLES, SCOPES, SECTIONS
from netcheck.fragment.model import AS_FOUND, Fragment, Mark, Part
from netcheck.parts.catalogue import Catalogue
from netcheck.reading import sections_reader, wanted_reader, wishes_reader
from netcheck.reading.fields import Fields, describe
from netcheck.reading.look_alikes import refuse_look_alikes
from netcheck.reading.mistakes import Faults
from netcheck.reading.mods_reader import ModsReader
from netcheck.reading.names import names_of
from netcheck.reading.parts_reader import PartsReader
from netcheck.reading.recovery import parse_all
from netcheck.reading.sections_reader import DeclaredPins
from netcheck.reading.specs_reader import SpecsReader
from netcheck.reading.yaml_nodes import Mapped, decode, read_regular

GROUND = "GND"


def load(path: str | Path, library: Sequence[Path] = ()) -> Fragment:
    """Read a fragment file.

    library: folders whose entries add to or override the shipped ones, after
    those of a folder `library` beside the file. Raises FragmentError with all
    the mistakes of the file, and OSError where it cannot be opened.
    """
    return loads(decode(read_regular(path), str(path)), str(path), library_folders(path, library))


def loads(text: str, file: str = "<text>", library: Sequence[Path] = ()) -> Fragment:
    """Read a fragment from text; `file` is the name used in messages. Raises FragmentError."""
    node, faults = parse_all(text, file)
    if not isinstance(node, Mapped):
        faults.add(node.mark, describe(node), "a fragment: a mapping that begins with title: …")
        faults.raise_if_any()
    assert isinstance(node, Mapped)
    catalogue = Catalogue.standard(library)
    fragment = _read(Fields(node, faults), faults, catalogue)
    faults.raise_if_any()
    return replace(fragment, overrides=tuple(catalogue.overrides.values()))


def library_folders(path: str | Path, given: Iterable[Path] = ()) -> tuple[Path, ...]:
    """The folders of library entries that go with a fragment file: the one beside it, then those given.

    A folder beside it that holds no YAML at all is somebody's other `library`.
    """
    beside = Path(path).parent / "library"
    ours = beside.is_dir() and any(one.suffix in (".yaml", ".yml") for one in beside.iterdir())
    return (*([beside] if ours else []), *given)


def _read(root: Fields, faults: Faults, catalogue: Catalogue) -> Fragment:
    root.refuse_others(SECTIONS, "a fragment")
    root.require("title", "a line that says what was traced")
    ground = root.text("ground", "the name of a net") or GROUND
    declared_nets, declared_pins = sections_reader.read_declared(root)
    reader = PartsReader(SpecsReader(catalogue, faults), faults)
    parts, unreadable = _parts(root, reader, declared_pins)
    found = Fragment(
        file=faults.file,
        title=root.text("title") or "",
        parts=parts,
        rails=sections_reader.read_rails(root, ground),
        conditions=sections_reader.read_conditions(root),
        ground=ground,
        board=root.text("board"),
        about=root.text("about"),
        photos=sections_reader.read_photos(root),
        scope=root.word("scope", SCOPES) or SCOPES[0],
        declared_nets=declared_nets,
    )
    _refuse_shared_names(found, faults)
    refuse_look_alikes(found.parts, "a designator", root.place, faults)
    mods_reader = ModsReader(reader, found, unreadable)
    section = root.fields("mods", "a mapping of name to {steps: […]}")
    mods = mods_reader.read(section) if section else {}
    circuits = wishes_reader.Circuits(
        {AS_FOUND: found, **mods_reader.variants}, mods_reader.joined, unreadable, faults)
    states = wishes_reader.read_states(root, circuits)
    circuits = replace(circuits, variants={
        name: replace(variant, states=states, variant=name) for name, variant in circuits.variants.items()})
    nets = dict.fromkeys((*found.nets, *(net for one in circuits.variants.values() for net in one.nets)))
    refuse_look_alikes(nets, "a net", root.place, faults)
    for net, mark in reader.nets_named:
        if net not in circuits.nets and not unreadable:
            faults.add(mark, net, "a net of a part or a rail", near=circuits.nets)
    for rail, mark in reader.pulled:
        if rail not in found.rails:
            faults.add(mark, rail, "a rail, whose supply pulls the relay", near=found.rails)
    for when in reader.whens:
        wishes_reader.check_positions(when, circuits)
    _refuse_roles_as_nets(circuits.parts.values(), faults)
    readings, tested = wishes_reader.read_readings(root, circuits)
    return replace(
        found, mods=mods, states=states,
        settings=wanted_reader.read_settings(root, circuits),
        features=wanted_reader.read_features(root, circuits),
        expectations=wishes_reader.read_expectations(root, circuits),
        readings=readings, tester_readings=tested,
    )


def _parts(root: Fields, reader: PartsReader, declared: DeclaredPins) -> tuple[dict[str, Part], set[str]]:
    """The parts, and the names of those with a mistake. One line may stand for several parts ("C1, C4-C9")."""
    section = root.fields("parts", "a mapping of designator to part, such as {R1: {resistor: 470, …}}")
    parts: dict[str, Part] = {}
    names: dict[str, Mark] = {}
    for key, node in section.node.entries.items() if section is not None else ():
        assert section is not None
        for one in names_of(section.node.keys[key], root.faults):
            if one.text in names:
                root.faults.add(one.mark, one.text, "each part once",
                                hint=f"{one.text} is given already in line {names[one.text].line}")
                continue
            names[one.text] = one.mark
            part = reader.read(one, node, declared.get(one.text, {}))
            if part is not None:
                parts[one.text] = part
    for name, pins in declared.items():
        if name not in names:
            for pin, (_, mark) in pins.items():
                root.faults.add(mark, f"{name}.{pin}", "a pin of a part of this file",
                                near=[f"{known}.{pin}" for known in names])
    return parts, set(names) - set(parts)


def _refuse_roles_as_nets(versions: Iterable[Sequence[Part]], faults: Faults) -> None:
    """A net of another part that is named like a role, where a chip's pin says that word: which is meant?"""
    parts = [part for each in versions for part in each]
    said = {role: part for part in parts for role in part.pin_roles.values()}
    for part in parts:
        for net in part.nets:
            if net in said and net in PIN_ROLES:
                faults.add(said[net].mark, net, "either a role or a net",
                           hint=f"line {part.mark.line} has a net {net}: write {{net: {net}}} for the pin on it, or "
                                f"{{net: NET, role: {net}}}")
                del said[net]


def _refuse_shared_names(fragment: Fragment, faults: Faults) -> None:
    """A supply named like a part: a state could not tell which of them it puts where."""
    for rail in fragment.rails.values():
        if rail.supply in fragment.parts:
            faults.add(rail.mark, rail.supply, "a supply that is not named like a part")
