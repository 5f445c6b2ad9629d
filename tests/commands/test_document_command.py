"""netcheck document, draw and changes, as a person calls them."""

from __future__ import annotations

import json
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from netcheck.commands import changes, document, draw

EXAMPLE = str(Path(__file__).parents[2] / "examples" / "rack-sampler.yaml")


def run(command: click.Command, *args: str) -> Result:
    return CliRunner().invoke(command, list(args))


def test_document_writes_a_page(tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    result = run(document.command, EXAMPLE, "-o", str(out), "--no-diodes")
    assert result.exit_code == 0
    assert f"Written: {out}" in result.stderr
    assert out.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_document_compares_diodes_unless_told_not_to() -> None:
    assert 'id="diodes"' in run(document.command, EXAMPLE).stdout
    assert 'id="diodes"' not in run(document.command, EXAMPLE, "--no-diodes").stdout


def test_markdown_has_its_drawings_beside_it(tmp_path: Path) -> None:
    result = run(document.command, EXAMPLE, "--format", "markdown", "-o", str(tmp_path / "page.md"))
    assert result.exit_code == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == ["page-1.svg", "page-2.svg", "page-3.svg", "page.md"]
    assert "](page-2.svg)" in (tmp_path / "page.md").read_text(encoding="utf-8")


def test_document_for_another_temperature() -> None:
    result = run(document.command, EXAMPLE, "--format", "markdown", "--temperature", "0 to 60 °C")
    assert "Inside the case 0 to 60 °C" in result.stdout


@pytest.mark.parametrize("command", [document.command, draw.command, changes.command])
def test_a_mod_that_is_not_there_is_told_with_the_nearest(command: click.Command) -> None:
    result = run(command, EXAMPLE, "--mod", "coincell")
    assert result.exit_code == 2
    assert "Did you mean 'coin-cell'?" in result.stderr


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    result = run(draw.command, EXAMPLE, "-o", str(tmp_path / "none" / "x.svg"))
    assert result.exit_code == 2
    assert "No such file or directory" in result.stderr


def test_draw_gives_svg_or_png(tmp_path: Path) -> None:
    assert run(draw.command, EXAMPLE).stdout.startswith("<svg")
    assert run(draw.command, EXAMPLE, "-o", str(tmp_path / "x.png")).exit_code == 0
    assert (tmp_path / "x.png").read_bytes().startswith(b"\x89PNG")
    wrong = run(draw.command, EXAMPLE, "-o", str(tmp_path / "x.gif"))
    assert wrong.exit_code == 2
    assert "ends in .svg or .png" in wrong.stderr


def test_draw_marks_the_charge_route_with_its_current() -> None:
    assert "R1 → D3 → BT1, 381 µA into BT1" in run(
        draw.command, EXAMPLE, "--mod", "as found").stdout
    stored = run(draw.command, EXAMPLE, "--mod", "as found", "--state", "stored").stdout
    assert "Charge route" not in stored


def test_draw_marks_what_a_mod_changes() -> None:
    assert "× removed" in run(draw.command, EXAMPLE).stdout
    assert "× removed" not in run(draw.command, EXAMPLE, "--mod", "as found").stdout


def test_draw_around_a_part_that_is_not_there() -> None:
    result = run(draw.command, EXAMPLE, "--around", "R11")
    assert result.exit_code == 2
    assert "R11" in result.stderr


def test_changes_as_text_and_json() -> None:
    text = run(changes.command, EXAMPLE)
    assert text.exit_code == 0
    assert text.stdout.startswith('From as found to mod "coin-cell": ')
    told = json.loads(run(changes.command, EXAMPLE, "--format", "json", "--against", "plain-swap").stdout)
    assert (told["before"], told["after"]) == ("plain-swap", "coin-cell")


def test_changes_between_two_files(tmp_path: Path) -> None:
    other = tmp_path / "before.yaml"
    other.write_text(Path(EXAMPLE).read_text(encoding="utf-8").replace("1k ±5%", "2k2 ±5%")
                     .replace("brown black red gold", "red red red gold"), encoding="utf-8")
    result = run(changes.command, EXAMPLE, "--against", str(other))
    assert result.exit_code == 0
    assert "R1 replaced: 1 kΩ ±5 % resistor in place of 2.2 kΩ ±5 % resistor" in result.stdout
    unknown = run(changes.command, EXAMPLE, "--against", "plainswap")
    assert unknown.exit_code == 2
    assert "Did you mean 'plain-swap'?" in unknown.stderr
