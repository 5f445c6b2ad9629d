"""netcheck schema"""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner

from netcheck.commands.schema import command
from netcheck.reading.schema.document import ATTACH, schema


def test_it_prints_the_schema() -> None:
    result = CliRunner().invoke(command)
    assert result.exit_code == 0
    assert json.loads(result.stdout) == schema()


def test_its_help_says_how_to_attach_it() -> None:
    assert ATTACH in " ".join(CliRunner().invoke(command, ["--help"]).stdout.split())


def test_a_library_with_a_mistake_is_told(tmp_path: Path) -> None:
    (tmp_path / "diodes.yaml").write_text("diodes: {drawer-7: {colour: red}}\n", "utf-8")
    result = CliRunner().invoke(command, ["--library", str(tmp_path)])
    assert result.exit_code == 2
    assert "diodes.yaml:1" in result.stderr
