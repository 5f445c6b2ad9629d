"""The table of capacitors: equal ones on one line, what to buy, and its forms."""

import csv
import io
import json
from pathlib import Path

from click.testing import CliRunner

from netcheck.cli import main
from netcheck.quantities.words import in_ranges, natural

SOUND_CARD = str(Path(__file__).parents[2] / "examples" / "sound-card.yaml")


def run(*arguments):
    result = CliRunner().invoke(main, ["caps", *arguments])
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result


def test_names_in_order_and_in_runs():
    assert natural(["C10", "C2", "C1", "CE3"]) == ["C1", "C2", "C10", "CE3"]
    assert in_ranges(["C1", "C2"]) == "C1, C2"
    assert in_ranges(["C1", "C3", "C4", "C5"]) == "C1, C3-C5"
    assert in_ranges([]) == ""


def test_the_example_as_text():
    result = run(SOUND_CARD, "--mod", "with-care")
    assert result.exit_code == 0
    assert result.stdout.startswith('OK, mod "with-care": 19 capacitors, all ok.')
    assert max(map(len, result.stdout.splitlines())) <= 80
    for said in ("C10-C17", "1 µF, kept", "To buy for", "8 x 10 µF X7R 16 V 1206", "Change first, by the tester: C1.",
                 "caustic", "fitted backwards", "mains side", "Discharge reservoirs"):
        assert said in result.stdout


def test_the_wrong_mod_is_not_let_through():
    result = run(SOUND_CARD, "--mod", "polymer-everywhere")
    assert result.exit_code == 1
    assert "the wrong way round" in result.stdout
    assert "value must stay" in result.stdout
    assert "series resistance too low for U3" in result.stdout


def test_as_json():
    data = json.loads(run(SOUND_CARD, "--mod", "with-care", "--format", "json").stdout)
    assert data["format"] == "netcheck-caps/1"
    lines = {tuple(line["parts"]): line for group in data["groups"] for line in group["lines"]}
    assert tuple(f"C{number}" for number in range(10, 18)) in lines
    assert sum(one["quantity"] for one in data["buy"]) == 15
    assert data["capacitors"]["C22"]["role"] == "loop-filter"
    assert data["buy_for"] == "mod"


def test_as_csv_and_markdown():
    rows = list(csv.reader(io.StringIO(run(SOUND_CARD, "--format", "csv").stdout)))
    head = rows[0]
    first = dict(zip(head, next(row for row in rows if row and row[0] == "C1"), strict=True))
    assert first["role"] == "rail"
    assert float(first["sees_V"]) == 12.6
    assert not any(cell[:1] in "=+@" for row in rows for cell in row if cell)
    text = run(SOUND_CARD, "--format", "md").stdout
    assert text.startswith("# Capacitors: Every capacitor of a sound card")
    assert "| quantity | part | for |" in text


def test_as_found_like_for_like_is_bought():
    data = json.loads(run(SOUND_CARD, "--mod", "as found", "--format", "json").stdout)
    assert data["buy_for"] == "like for like"
    loop = next(one for one in data["buy"] if one["parts"] == ["C22"])
    assert (loop["capacitance_F"], loop["type"]) == (1e-6, "tantalum")


def test_a_list_of_sixty_is_judged_grouped_and_bought_in_one_command(tmp_path):
    rails = {"+5V": 5, "+12V": 12, "-12V": -12, "-5V": -5, "+3.3V": 3.3}
    lines = ["title: sixty", "scope: list",
             "rails: {" + ", ".join(f"'{name}': {volts} V" for name, volts in rails.items()) + "}", "parts:"]
    for place, (name, volts) in enumerate(rails.items()):
        plus, minus = (name, "GND") if volts > 0 else ("GND", name)
        lines.append(f"  C{place * 12 + 1}-C{place * 12 + 12}: {{capacitor: 100u, type: wet, rated: 25 V, "
                     f"plus: '{plus}', minus: '{minus}'}}")
    file = tmp_path / "sixty.yaml"
    file.write_text("\n".join(lines) + "\n")
    result = run(str(file))
    assert result.exit_code == 0
    assert "60 capacitors, all ok" in result.stdout
    assert "60 x 100 µF wet 25 V" in result.stdout
    assert result.stdout.count("may be:") == 5


def test_a_file_without_a_capacitor(tmp_path):
    file = tmp_path / "x.yaml"
    file.write_text("title: x\nrails: {+5V: 5 V}\nparts:\n  R1: {resistor: 1k, between: [+5V, GND]}\n")
    result = run(str(file))
    assert result.exit_code == 2
    assert "there is no capacitor in it" in result.stderr


def test_changes_say_what_the_capacitors_do():
    result = CliRunner().invoke(main, ["changes", SOUND_CARD, "--mod", "polymer-everywhere"])
    assert "What that does" in result.stdout
    assert "the loop's natural frequency becomes" in result.stdout
