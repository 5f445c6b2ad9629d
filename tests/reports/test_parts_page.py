"""What `netcheck parts` prints, and the drawing of a diode's fit."""

from xml.etree import ElementTree

import pytest
from every import every

from netcheck.parts.catalogue import KINDS, Catalogue, UnknownEntry
from netcheck.parts.specs import DiodeParameters, DiodeSpec
from netcheck.reports.diode_plot import fit_plot_svg
from netcheck.reports.parts_page import explain, listing

CATALOGUE = Catalogue.standard()
ENTRIES = [(kind, name) for kind in KINDS for name in CATALOGUE.names(kind)]
SVG = "{http://www.w3.org/2000/svg}"


@every(kind__name=ENTRIES)
def test_every_entry_is_explained_in_80_columns_with_its_sources(kind, name):
    text = explain(CATALOGUE, name)
    assert max(map(len, text.splitlines())) <= 80
    assert "\nSources\n  [1]" in text
    assert "None" not in text


def test_listing_names_every_entry_in_80_columns():
    text = listing(CATALOGUE)
    assert all(f"  {name}" in text for _, name in ENTRIES)
    assert max(map(len, text.splitlines())) <= 80


def test_listing_by_a_word():
    text = listing(CATALOGUE, "germanium")
    assert "OA81" in text
    assert "BAT54" not in text
    assert "BAT54" in listing(CATALOGUE, "bat54s")
    assert listing(CATALOGUE, "xyzzy") == ""


def test_a_diode_is_shown_with_its_points_and_where_the_law_runs_on():
    text = explain(CATALOGUE, "bat54")
    assert "100 µA   25 °C   typical    0.219 V" in text
    assert "Below 1 µA nothing is published" in text
    assert "At 5 V and 50 °C: typical" in text
    assert "BAT54 series, Comchip (seen)" in text


def test_derived_and_remembered_figures_say_so():
    assert "No typical figure is published" in explain(CATALOGUE, "BAT46")
    assert "(from memory)" in explain(CATALOGUE, "2N2907")
    assert "the maximum one stands in for it" in explain(CATALOGUE, "DS1285").replace("\n  ", " ")


def test_a_primary_lithium_cell_comes_with_its_cautions():
    text = explain(CATALOGUE, "CR2032")
    assert "must never be charged" in text
    assert "Never charge it" in text
    assert "charge in a fault, most  10 mA" in text


def test_unknown_entry():
    with pytest.raises(UnknownEntry, match="xyzzy"):
        explain(CATALOGUE, "xyzzy")


def curves(root):
    """The lines that cross the plot, without the strokes of the key."""
    return [[tuple(map(float, place.split(","))) for place in line.get("points").split()]
            for line in root.iter(f"{SVG}polyline")]


@pytest.mark.parametrize("name", ["BAT54", "1N4148", "OA81", "LED-blue", "1N5817"])
def test_drawing_of_a_fit_has_a_title_and_marks_every_point_it_shows(name):
    root = ElementTree.fromstring(fit_plot_svg(CATALOGUE.diode(name)))
    assert name in root.find(f"{SVG}title").text
    assert "points" in root.find(f"{SVG}desc").text
    marks = [*root.iter(f"{SVG}rect"), *root.iter(f"{SVG}circle"), *root.findall(f"{SVG}path")]
    assert len(marks) > len([p for p in CATALOGUE.diode(name).forward if p.temperature_C == 25])
    assert "beyond" in "".join(root.itertext())
    for places in curves(root):
        assert all(0 <= x <= 720 and 0 <= y <= 400 for x, y in places)
        assert places == sorted(places, key=lambda place: (place[0], -place[1]))


def test_drawing_of_a_given_law_runs_beyond_no_points_and_a_name_is_escaped():
    text = fit_plot_svg(DiodeSpec("<D&1>", "silicon", parameters=DiodeParameters(2.5e-9, 1.75, 0.57)))
    root = ElementTree.fromstring(text)
    assert "<D&1>" in root.find(f"{SVG}title").text
    assert "beyond" not in "".join(root.itertext())


def test_every_figure_of_an_entry_is_shown():
    from netcheck.reports.parts_page import _FIELDS, _LABELS

    for kind, name in ENTRIES:
        spec = CATALOGUE.spec(kind, name)
        named = {figure.of for figure in spec.figures if figure.of and " at " not in figure.of}
        if kind == "capacitor":
            continue
        text = explain(CATALOGUE, name)
        for of in named:
            if not of.startswith("trickle"):
                assert of in _FIELDS, (name, of)
                assert f"  {_LABELS.get(of, of)}  " in text, (name, of)
