"""Files that commands write: whole or not at all, and never over what a person made."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from netcheck.cli import main
from netcheck.commands import output
from netcheck.commands.shared import Unusable

BOARD = """\
title: a cell and its memory
parts:
  BT1: {cell: CR2032, plus: VRAM, minus: GND}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}
"""


@pytest.fixture
def board(tmp_path: Path) -> Path:
    file = tmp_path / "board.yaml"
    file.write_text(BOARD)
    return file


def run(*arguments: str | Path) -> tuple[int, str]:
    result = CliRunner().invoke(main, [str(one) for one in arguments])
    return result.exit_code, result.output


def test_no_output_is_written_over_what_the_command_reads(board: Path) -> None:
    for command in (["draw", board, "-o", board.with_suffix(".svg")], ["document", board, "-o", board]):
        link = board.with_suffix(".svg")
        link.unlink(missing_ok=True)
        link.hardlink_to(board)
        status, said = run(*command, "--force")
        assert status == 2
        assert "never written over" in said
        assert board.read_text() == BOARD


def test_a_persons_own_file_is_left_unless_forced(board: Path) -> None:
    target = board.with_name("mine.svg")
    target.write_text("<svg>my own drawing</svg>")
    status, said = run("draw", board, "-o", target)
    assert (status, target.read_text()) == (2, "<svg>my own drawing</svg>")
    assert "--force" in said
    assert run("draw", board, "-o", target, "--force")[0] == 0
    assert 'data-made-by="netcheck"' in target.read_text()


@pytest.mark.parametrize("name", ["drawn.svg", "drawn.png"])
def test_what_netcheck_wrote_it_writes_again(board: Path, name: str) -> None:
    target = board.with_name(name)
    for _ in range(2):
        assert run("draw", board, "-o", target)[0] == 0


def test_write_up_is_written_again_in_either_form(board: Path) -> None:
    for form, name in (("html", "page.html"), ("markdown", "page.md")):
        for _ in range(2):
            assert run("document", board, "-o", board.with_name(name), "--format", form, "--no-diodes")[0] == 0


def test_full_disk_leaves_the_older_file_and_nothing_beside_it(tmp_path: Path) -> None:
    """A limit on file size fails the write half-way, as a full disk does."""
    target = tmp_path / "page.html"
    target.write_bytes(b'<meta name="generator" content="netcheck">old')
    program = (
        "import signal, sys, pathlib; from netcheck.commands.ending import guarded; "
        "from netcheck.commands.output import write\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "sys.exit(guarded(lambda: write(pathlib.Path(sys.argv[1]), b'x' * 100_000)))")
    done = subprocess.run([sys.executable, "-c", program, str(target)], capture_output=True, text=True, check=False,
                          preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, 50_000)))
    assert done.returncode == 74
    assert done.stderr == f"Error: {target} could not be written: File too large.\n"
    assert target.read_bytes().endswith(b"old")
    assert [one.name for one in tmp_path.iterdir()] == ["page.html"]


def test_interrupted_write_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        output.write(tmp_path / "page.html", b"new")
    assert not list(tmp_path.iterdir())


def test_link_keeps_pointing_and_mode_is_kept(tmp_path: Path) -> None:
    real, link = tmp_path / "real.html", tmp_path / "link.html"
    real.write_bytes(b"")
    real.chmod(0o640)
    link.symlink_to(real)
    output.write(link, b"new")
    assert link.is_symlink()
    assert (real.read_bytes(), real.stat().st_mode & 0o777) == (b"new", 0o640)


def test_name_that_would_steer_the_terminal_is_shown_harmless(tmp_path: Path) -> None:
    with pytest.raises(Unusable) as caught:
        output.write(tmp_path / "none" / "a\x1b[2Jb.svg", b"x")
    assert "\x1b" not in str(caught.value)
    assert "a?[2Jb.svg" in str(caught.value)


def test_start_leaves_no_empty_file_where_it_cannot_write(tmp_path: Path) -> None:
    assert run("start", tmp_path / "none" / "new.yaml")[0] == 2
    assert run("start", tmp_path / "new.yaml")[0] == 0
    before = (tmp_path / "new.yaml").read_text()
    assert run("start", tmp_path / "new.yaml", "--job", "regulator")[0] == 2
    assert (tmp_path / "new.yaml").read_text() == before
