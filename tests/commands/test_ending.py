"""Each way of ending has an exit status of its own, and none shows a traceback."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = str(ROOT / "examples" / "rack-sampler.yaml")


def command(*arguments: str, **how: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", "netcheck", *arguments], cwd=ROOT, text=True, check=False,
                          stderr=subprocess.PIPE, **{"stdout": subprocess.PIPE, **how})  # type: ignore[call-overload]


def test_full_output_is_told_with_a_status_of_its_own() -> None:
    with open("/dev/full", "w") as full:
        done = command("parts", stdout=full)
    assert done.returncode == 74
    assert "the output could not be written: No space left on device." in done.stderr
    assert "Traceback" not in done.stderr


def test_reader_that_has_gone_is_no_error_message() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        done = command("parts", stdout=writing)
    finally:
        os.close(writing)
    assert (done.returncode, done.stderr) == (141, "")


@pytest.mark.parametrize(("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGHUP, 129)])
def test_interruption_has_the_status_that_shells_give_it(number: int, status: int) -> None:
    program = ("import sys; sys.argv = ['netcheck', 'document', sys.argv[1]]; from netcheck.cli import run\n"
               "print('up', file=sys.stderr, flush=True); run()")
    with subprocess.Popen([sys.executable, "-c", program, EXAMPLE], cwd=ROOT, text=True,
                          stdout=subprocess.PIPE, stderr=subprocess.PIPE) as running:
        assert running.stderr is not None
        assert running.stderr.readline() == "up\n"
        time.sleep(0.3)
        running.send_signal(number)
        said, told = running.communicate()
    assert running.returncode == status
    assert "Traceback" not in told
    assert "<html" not in said


def test_fault_of_the_program_is_no_verdict() -> None:
    program = ("import netcheck.api, sys\n"
               "def broken(*_, **__): raise RuntimeError('something impossible')\n"
               "netcheck.api.check = broken\n"
               "sys.argv = ['netcheck', 'check', sys.argv[1]]\n"
               "from netcheck.cli import run; run()")
    done = subprocess.run([sys.executable, "-c", program, EXAMPLE], cwd=ROOT, text=True, capture_output=True,
                          check=False)
    assert done.returncode == 70
    assert "netcheck itself failed" in done.stderr
    assert "Traceback" not in done.stderr


def test_terminal_without_the_signs_of_the_trade_gets_what_it_can_show() -> None:
    for encoding in ("cp1252", "latin-1", "cp437", "ascii"):
        done = subprocess.run([sys.executable, "-m", "netcheck", "check", EXAMPLE, "--mod", "plain-swap"], cwd=ROOT,
                              capture_output=True, check=False, env={**os.environ, "PYTHONIOENCODING": encoding})
        assert done.returncode == 1
        assert "DANGER" in done.stdout.decode(encoding)
        assert done.stderr == b""


def test_what_says_that_it_is_utf_8_is_whatever_the_terminal_has(tmp_path: Path) -> None:
    board = tmp_path / "b.yaml"
    board.write_text((ROOT / EXAMPLE).read_text(encoding="utf-8").replace("title: ", "title: Größe Ω "), "utf-8")
    for command in (["check", "--format", "json"], ["draw"]):
        done = subprocess.run([sys.executable, "-m", "netcheck", command[0], str(board), *command[1:]], cwd=ROOT,
                              capture_output=True, check=False, env={**os.environ, "PYTHONIOENCODING": "cp1252"})
        assert "Größe Ω" in done.stdout.decode("utf-8")


def test_text_of_a_file_never_steers_the_terminal(tmp_path: Path) -> None:
    board = tmp_path / "b\x1b[2J.yaml"
    board.write_text('title: "safe \\e[2J\\e[H"\nparts: {}\n')
    done = command("check", str(board))
    assert done.returncode == 2
    assert "\x1b" not in done.stdout + done.stderr
    assert "U+001B" in done.stderr


@pytest.mark.parametrize(("closed", "status"), [(">&-", 74), ("2>&-", 0), ("<&-", 0)])
def test_a_stream_closed_before_the_program_began(closed: str, status: int) -> None:
    """What nobody can read is never taken for done; what need not be read or written is not missed."""
    line = f'exec "$0" -m netcheck check "$1" --deadline 300 {closed}'
    done = subprocess.run(["sh", "-c", line, sys.executable, EXAMPLE], cwd=ROOT, text=True, check=False,
                          capture_output=True)
    assert done.returncode == status, done.stderr
    assert ("standard output is closed" in done.stderr) == (status == 74)
    assert "Traceback" not in done.stderr
