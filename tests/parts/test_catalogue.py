"""The library: every entry loads with its origin, extra folders add to it, mistakes are told with their line."""

import subprocess
import sys
from pathlib import Path

import pytest
from every import every

from netcheck.parts import tables
from netcheck.parts.catalogue import KINDS, Catalogue, UnknownEntry, cautions, family
from netcheck.parts.families import CHEMISTRIES, DIODE_FAMILIES
from netcheck.parts.library import FILES, SURE, LibraryError, book, standard_folder

CATALOGUE = Catalogue.standard()
ENTRIES = [(kind, name) for kind in KINDS for name in CATALOGUE.names(kind)]


def figures_of(spec):
    own = list(spec.figures)
    for table in ("forward", "leakage", "draws"):
        own += [point.figure for point in getattr(spec, table, ())]
    return own


@every(kind__name=ENTRIES)
def test_every_figure_names_its_source_and_how_sure_it_is(kind, name):
    figures = figures_of(CATALOGUE.spec(kind, name))
    assert figures
    for figure in figures:
        assert figure.sure in SURE
        assert len(figure.source) > 3
        assert (figure.sure == "practice") == figure.source.startswith("common practice, no source")


@pytest.mark.parametrize("kind", KINDS)
def test_every_source_of_a_file_is_used(kind):
    text = (standard_folder() / FILES[kind]).read_text(encoding="utf-8")
    body = text[text.index("\n\n", text.index("sources:")):]
    unused = [key for key in book(standard_folder() / FILES[kind]).top["sources"] if key not in body]
    assert unused == []


@every(name=DIODE_FAMILIES)
def test_every_family_is_complete(name):
    found = family(name)
    assert found.emission_low <= found.emission <= found.emission_high
    assert 0 < found.leakage_share < 1
    assert 0 < found.typical_share < 1
    assert all(figure.sure in SURE for figure in found.figures)


def test_names_are_found_whatever_their_case_and_by_their_other_names():
    assert CATALOGUE.diode("bat54s") is CATALOGUE.diode("BAT54")
    assert CATALOGUE.load("HM62256").name == "SRAM-62256"
    assert CATALOGUE.regulator("7805").output.value == 5
    assert "BAT54S" in CATALOGUE.aliases("diode", "BAT54")


@every(name=[
    "1N4148", "1N914", "1N4448", "1N4001", "1N4002", "1N4003", "1N4004", "1N4005", "1N4006", "1N4007", "BAT85",
    "BAT54", "BAT42", "BAT43", "BAT46", "BAT41", "BAS70", "BAS85", "BAV99", "BAS116", "BAV199", "1N5817",
    "1N5818", "1N5819", "SB140", "MBR0520", "SD103A", "SD101A", "1N6263", "RB751", "RB520S30", "PMEG2005AEA",
    "1N60", "1N34A", "1N270", "OA81",
])
def test_the_usual_diodes_are_there(name):
    assert CATALOGUE.diode(name).name == name


def test_unknown_name_offers_the_nearest():
    with pytest.raises(UnknownEntry, match=r'no diode "1N4184" in the library; did you mean "1N4148"\?') as caught:
        CATALOGUE.diode("1N4184")
    assert (caught.value.name, caught.value.kind, caught.value.nearest) == ("1N4184", "diode", "1N4148")
    with pytest.raises(UnknownEntry) as caught:
        CATALOGUE.cell("potato")
    assert caught.value.nearest is None


def test_no_alias_belongs_to_two_entries():
    for kind in KINDS:
        spellings = [spelling.casefold() for name in CATALOGUE.names(kind)
                     for spelling in (name, *CATALOGUE.aliases(kind, name))]
        assert len(spellings) == len(set(spellings))


def test_only_the_file_of_the_kind_asked_for_is_read(tmp_path):
    for name in FILES.values():
        (tmp_path / name).write_text((standard_folder() / name).read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / FILES["cell"]).write_text("not: [a library", encoding="utf-8")
    catalogue = Catalogue((tmp_path,))
    assert catalogue.diode("1N4148").family == "silicon"
    with pytest.raises(LibraryError, match=r"cells\.yaml:\d+"):
        catalogue.cell("CR2032")


def test_a_folder_adds_and_overrides(tmp_path):
    (tmp_path / "diodes.yaml").write_text("""
sources:
  BENCH: {title: measured on the bench}
diodes:
  BAT85:
    family: schottky
    forward: [{typical: {1 mA: 0.31 V}, source: BENCH, sure: seen}]
  MY-DIODE:
    like: BAT85
    about: from the drawer
""", encoding="utf-8")
    catalogue = Catalogue.standard([tmp_path])
    assert catalogue.diode("BAT85").forward[0].volts_V == 0.31
    assert catalogue.diode("my-diode").forward[0].figure.source == "measured on the bench"
    assert catalogue.diode("BAT54").forward
    assert CATALOGUE.diode("BAT85").forward[0].volts_V != 0.31
    assert catalogue.names("diode").count("BAT85") == 1


def test_shipped_files_use_the_names_of_the_field_table():
    for kind, table in tables.SPECS.items():
        former = {old for known in table.values() for old in known.old}
        for name, raw in book(standard_folder() / FILES[kind]).raw.items() if kind in FILES else ():
            assert not former & set(raw), name


def test_what_an_entry_says_itself_stands_before_what_it_takes_over_in_another_spelling(tmp_path):
    (tmp_path / "cells.yaml").write_text("""sources:
  S: {title: a sheet}
cells:
  OLD:
    chemistry: alkaline
    nominal: [3 V, S, seen]
    capacity: [1 Ah, S, seen]
    open_circuit: [{used: 0, volts: 3 V, source: S, sure: seen}, {used: 1, volts: 2 V, source: S, sure: seen}]
    resistance: [{used: 0, ohm: 1, source: S, sure: seen}, {used: 1, ohm: 1, source: S, sure: seen}]
  NEW: {like: OLD, volts: [2.9 V, S, seen]}
  BACK: {like: NEW, nominal: [2.8 V, S, seen]}
  BOTH: {like: OLD, volts: [2.9 V, S, seen], nominal: [2.8 V, S, seen]}
  BARE: {like: OLD, trickle: [1 mA, S, seen]}
""", encoding="utf-8")
    catalogue = Catalogue.standard([tmp_path])
    assert [catalogue.cell(name).nominal_V for name in ("OLD", "NEW", "BACK")] == [3.0, 2.9, 2.8]
    with pytest.raises(LibraryError, match="only one of volts and nominal"):
        catalogue.cell("BOTH")
    with pytest.raises(LibraryError, match="trickle_least, trickle_most, trickle_harmful"):
        catalogue.cell("BARE")


HEAD = "sources:\n  S: {title: a sheet}\ndiodes:\n  D1:\n    family: silicon\n"


@pytest.mark.parametrize(("text", "line", "said"), [
    (HEAD + "    forward:\n      - {typical: {1 mA: 0.6 V}, sure: seen}\n", 7, "a key of this file's sources"),
    (HEAD + "    forward:\n      - {typical: {1 mA: 0.6 V}, source: S}\n", 7, "how sure it is"),
    (HEAD + "    forward:\n      - {typical: {1 mA: 0.6 A}, source: S, sure: seen}\n", 7, "a voltage"),
    (HEAD + "    forward:\n      - {typical: {1 mA: 0.6 V}, source: T, sure: seen}\n", 7,
     "a key of this file's sources"),
    (HEAD + "    forward:\n      - {typicle: {1 mA: 0.6 V}, source: S, sure: seen}\n", 7, 'did you mean "typical"'),
    (HEAD + "    forward:\n      - {source: S, sure: seen}\n", 7, "typical, maximum or minimum"),
    (HEAD + "    reverse: 75 V\n", 6, r"a figure with its origin: \[value, source, sure\]"),
    (HEAD + "    reverse: [75 V, S]\n", 6, "a figure with its origin"),
    (HEAD + "    revers: [75 V, S, seen]\n", 6, 'did you mean "reverse"'),
    (HEAD + "    reverse: [75 V, S, quite]\n", 6, "how sure it is"),
    (HEAD + "    like: D2\n", 6, "the name of another entry"),
    (HEAD + "    like: D1\n", 6, "the name of another entry"),
    (HEAD.replace("silicon", "silicone"), 5, 'did you mean "silicon"'),
    (HEAD + "  D1:\n    family: silicon\n", 6, "a name given once"),
    (HEAD + "dioeds: {}\n", 6, 'did you mean "diodes"'),
    (HEAD + "families: {}\n", 6, "come with the program alone"),
    (HEAD.replace("{title: a sheet}", "{}") + "    reverse: [75 V, S, seen]\n", 2, "title"),
    (HEAD + "    forward: {typical: 0.6 V}\n", 6, "a list"),
    ("diodes:\n  D1: 3\n", 2, "a mapping"),
    ("diodes: [\n", 2, "YAML"),
    ("", 1, "a mapping"),
])
def test_a_faulty_file_is_told_with_its_line(tmp_path, text, line, said):
    (tmp_path / "diodes.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(LibraryError, match=said) as caught:
        Catalogue.standard([tmp_path]).diode("D1")
    assert caught.value.line == line
    assert str(caught.value).startswith(f"{tmp_path / 'diodes.yaml'}:{line}: ")


CELL = """sources:
  S: {title: a sheet}
cells:
  B1:
    chemistry: lithium-primary
    nominal: [3 V, S, seen]
    capacity: [220 mAh, S, seen]
"""


@pytest.mark.parametrize(("text", "line", "said"), [
    (CELL, 4, "curve from used: 0"),
    (CELL + "    open_circuit:\n      - {used: 0, volts: 3 V, source: S, sure: seen}\n", 8, "to used: 1"),
    (CELL + "    open_circuit:\n      - {used: 0, volts: 3 V, source: S, sure: seen}\n"
     "      - {used: 0, volts: 2 V, source: S, sure: seen}\n", 10, "each above the one before"),
    (CELL + "    open_circuit:\n      - {used: 0, volts: 3 V}\n", 9, "a key of this file's sources"),
    (CELL.replace("    nominal: [3 V, S, seen]\n", ""), 4, 'a figure "volts"'),
])
def test_a_faulty_cell_is_told_with_its_line(tmp_path, text, line, said):
    (tmp_path / "cells.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(LibraryError, match=said) as caught:
        Catalogue.standard([tmp_path]).cell("B1")
    assert caught.value.line == line


@pytest.mark.parametrize(("kind", "entry", "said"), [
    ("load", "about: x", "draws, the supply current"),
    ("regulator", "dropout: [1 V, S, seen]", "either a reference and between, or an output"),
    ("transistor", "polarity: npn", 'a figure "gain"'),
    ("transistor", "polarity: p-channel", 'a figure "threshold"'),
    ("connector", "source: S", "a pinout, such as"),
])
def test_an_entry_that_says_too_little_is_refused(tmp_path, kind, entry, said):
    (tmp_path / FILES[kind]).write_text(
        f"sources:\n  S: {{title: a sheet}}\n{kind}s:\n  X1:\n    {entry}\n", encoding="utf-8")
    with pytest.raises(LibraryError, match=said) as caught:
        Catalogue.standard([tmp_path]).spec(kind, "X1")
    assert caught.value.line == 4


def test_a_folder_without_library_files_is_refused(tmp_path):
    with pytest.raises(LibraryError, match="a folder that exists"):
        Catalogue.standard([tmp_path / "nowhere"])
    with pytest.raises(LibraryError, match="a folder with one of"):
        Catalogue.standard([tmp_path])
    (tmp_path / "diode.yaml").write_text("diodes: {}\n", encoding="utf-8")
    with pytest.raises(LibraryError, match=r'did you mean "diodes\.yaml"'):
        Catalogue.standard([tmp_path])


def test_no_entry_names_a_path_or_an_address():
    for name in FILES.values():
        text = (standard_folder() / name).read_text(encoding="utf-8")
        assert "://" not in text
        assert "/home" not in text


@every(chemistry=CHEMISTRIES)
def test_lithium_and_leaking_cells_come_with_cautions(chemistry):
    told = cautions(chemistry)
    assert (chemistry == "supercapacitor") == (not told)
    if chemistry in ("lithium-primary", "lithium-thionyl", "lithium-carbon-fluoride"):
        assert any("Never charge" in text for text, _ in told)
    assert all(figure.sure in SURE for _, figure in told)


def test_looking_a_part_up_loads_no_heavy_library():
    program = ("import sys; from netcheck.parts.catalogue import Catalogue; from netcheck.parts import diode; "
               "diode.at(Catalogue.standard().diode('1N4148'), 25); "
               "print(sorted({'numpy', 'scipy', 'networkx', 'PySpice', 'click'} & set(sys.modules)))")
    root = Path(__file__).resolve().parents[2]
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, cwd=root)
    assert run.stdout.strip() == "[]"
