"""netcheck start"""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from netcheck.api import load
from netcheck.commands.start import command
from netcheck.reading.starters import JOBS, starter


@pytest.mark.parametrize("job", JOBS)
def test_without_a_file_it_prints_the_starter(job: str) -> None:
    result = CliRunner().invoke(command, ["--job", job])
    assert result.exit_code == 0
    assert result.stdout == starter(job)


def test_without_a_job_it_is_a_backup() -> None:
    assert CliRunner().invoke(command).stdout == starter("backup")


def test_it_writes_a_file_that_loads(tmp_path: Path) -> None:
    file = tmp_path / "board.yaml"
    result = CliRunner().invoke(command, [str(file), "--job", "connector"])
    assert result.exit_code == 0
    assert file.read_text("utf-8") == starter("connector")
    assert load(file).title in starter("connector")
    assert f"netcheck check {file}" in result.stdout


def test_it_never_overwrites(tmp_path: Path) -> None:
    file = tmp_path / "board.yaml"
    file.write_text("mine", "utf-8")
    result = CliRunner().invoke(command, [str(file)])
    assert result.exit_code == 2
    assert f"{file} exists already" in result.stderr
    assert file.read_text("utf-8") == "mine"


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    file = tmp_path / "nowhere" / "board.yaml"
    result = CliRunner().invoke(command, [str(file)])
    assert result.exit_code == 2
    assert f"{file}: No such file or directory" in result.stderr


def test_a_job_that_there_is_not() -> None:
    result = CliRunner().invoke(command, ["--job", "radio"])
    assert result.exit_code == 2
    assert "radio" in result.stderr
