"""Faults from outside, by hand: python tests/benchmarks/faults.py [kills interrupts memory disk places crowd points]

Each command must give the right answer or a clear refusal, and leave no process and no file behind. `--times` says how
often a worker is killed and a command interrupted at a random moment. points: memory over 100,000 operating points.
Prints a line a fault; exits 1 where one was not borne.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from random import Random
from typing import Any

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "examples" / "rack-sampler.yaml"
CHECK = ("check", str(EXAMPLE), "--mod", "plain-swap", "--format", "json")
REFUSED = (70, 74, 130)


def started(
    *words: str, folder: Path, before: Callable[[], None] | None = None, **more: Any
) -> subprocess.Popen[bytes]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "TMPDIR": str(folder), "PYTHONDONTWRITEBYTECODE": "1",
                   **more.pop("env", {})}
    return subprocess.Popen([sys.executable, "-m", "netcheck", *words], preexec_fn=before, env=environment,
                            **{"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **more})


def ended(process: subprocess.Popen[bytes], folder: Path, seconds: float = 600.0) -> tuple[str, str]:
    """How a command ended, in a word (right, refused, or what is wrong), and what it said."""
    family = set(_below(process.pid))
    try:
        out, err = process.communicate(timeout=seconds)
    except subprocess.TimeoutExpired:
        process.kill()
        return "hangs", ""
    said = err.decode(errors="replace")
    for _ in range(100):
        left = [pid for pid in family if Path(f"/proc/{pid}").exists() and _is_worker(pid)]
        if not left:
            break
        time.sleep(0.05)
    else:
        return f"leaves {len(left)} processes", said
    if files := os.listdir(folder):
        return f"leaves {files}", said
    if "Traceback" in said:
        return "shows a traceback", said
    if process.returncode == 1 and right(out):
        return "right", said
    if process.returncode == 1 and out and verdicts(out) == ["unknown", "unknown"]:
        return "unknown", said
    if process.returncode in REFUSED and said.strip():
        return f"refused with {process.returncode}", said
    return f"wrong: exit {process.returncode}", said


def verdicts(out: bytes) -> list[str]:
    return [one["verdict"] for one in json.loads(out)["variants"]]


def right(out: bytes) -> bool:
    """Whether the JSON holds the verdicts of the example and the current into its cell."""
    try:
        variants = json.loads(out)["variants"]
    except ValueError:
        return False
    charge = variants[-1]["cells"]["BT1"]["charge_current_A"]
    return [one["verdict"] for one in variants] == ["ok", "danger"] and 2.6e-3 < charge < 2.7e-3


def _below(pid: int) -> list[int]:
    """The processes below one, as far as they are there now."""
    try:
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except OSError:
        return []
    return [one for child in map(int, children) for one in (child, *_below(child))]


def _is_worker(pid: int) -> bool:
    try:
        return b"netcheck" in Path(f"/proc/{pid}/cmdline").read_bytes()
    except OSError:
        return False


def kills(times: int, folder: Path) -> Counter[str]:
    """The simulator's process killed at a random moment, now and then twice."""
    rng, counts = Random(1), Counter[str]()
    usual = _seconds(folder)
    for _ in range(times):
        process = started(*CHECK, folder=folder)
        for _ in range(rng.choice((1, 1, 2))):
            time.sleep(rng.uniform(0.0, usual / 2))
            for child in _below(process.pid):
                os.kill(child, signal.SIGKILL)
        counts[ended(process, folder)[0]] += 1
    return counts


def interrupts(times: int, folder: Path) -> Counter[str]:
    """Ctrl-C at a random moment: told with 130, or too late to matter."""
    rng, counts = Random(2), Counter[str]()
    usual = _seconds(folder)
    for _ in range(times):
        process = started(*CHECK, folder=folder)
        time.sleep(rng.uniform(0.1, usual))
        process.send_signal(signal.SIGINT)
        counts[_excused(process, *ended(process, folder))] += 1
    return counts


def _excused(process: subprocess.Popen[bytes], word: str, said: str) -> str:
    """Python itself, interrupted before the program has its handler or after its end, dies of the signal."""
    early = process.returncode in (-signal.SIGINT, 130, 1) and "netcheck/commands" not in said
    return "before the program began" if word in ("shows a traceback", "wrong: exit -2") and early else word


def memory(times: int, folder: Path) -> Counter[str]:
    """Less and less address space."""
    counts = Counter[str]()
    for megabytes in range(60, 700, max(10, 640 // times)):
        limit = megabytes * 1_000_000
        process = started(*CHECK, folder=folder, before=partial(resource.setrlimit, resource.RLIMIT_AS, (limit, limit)))
        word, said = ended(process, folder)
        early = "netcheck/simulation" not in said and ("MemoryError" in said or process.returncode < 0)
        counts["before the program began" if word.startswith(("wrong", "shows")) and early else word] += 1
        if word.startswith(("wrong", "shows", "leaves", "hangs")) and not early:
            print(f"{megabytes} MB: {word}\n{said[-600:]}")
    return counts


def disk(times: int, folder: Path) -> Counter[str]:
    """No room for a page at all, or for a part of it: the older page stays."""
    counts = Counter[str]()
    with tempfile.TemporaryDirectory() as name:
        page = Path(name, "page.html")
        old = '<!doctype html><html data-made-by="netcheck">older</html>'
        for room in (0, 1, 100, 4096, 20_000)[:times]:
            page.write_text(old)
            process = started("document", str(EXAMPLE), "--no-diodes", "-o", str(page), "--force", folder=folder,
                              before=partial(resource.setrlimit, resource.RLIMIT_FSIZE, (room, room)))
            _, err = process.communicate()
            good = process.returncode == 74 and page.read_text() == old and os.listdir(name) == ["page.html"] and err
            counts["refused with 74, the older page kept" if good else f"wrong: exit {process.returncode}"] += 1
    return counts


def places(times: int, folder: Path) -> Counter[str]:
    """No temporary folder, no home, standard output closed or full."""
    counts = Counter[str]()
    for env in ({"TMPDIR": "/nonexistent"}, {"HOME": "/nonexistent"}, {"TMPDIR": "/proc", "HOME": "/proc"}):
        counts[ended(started(*CHECK, folder=folder, env=env), folder)[0]] += 1
    for shell in (">&-", ">/dev/full", "2>&-", "<&-"):
        line = f'exec "$0" -m netcheck "$@" {shell}'
        process = subprocess.Popen(["sh", "-c", line, sys.executable, *CHECK], stdout=subprocess.PIPE,
                                   stderr=subprocess.PIPE, env={**os.environ, "PYTHONPATH": str(ROOT),
                                                                "TMPDIR": str(folder)})
        counts[f"{shell} {ended(process, folder)[0]}"] += 1
    return counts


def crowd(times: int, folder: Path) -> Counter[str]:
    """So many at the same time."""
    counts = Counter[str]()
    with ExitStack() as stack:
        outs = [stack.enter_context(tempfile.TemporaryFile()) for _ in range(times)]
        processes = [started(*CHECK, folder=folder, stdout=out, stderr=subprocess.DEVNULL) for out in outs]
        for process, out in zip(processes, outs, strict=True):
            process.wait()
            out.seek(0)
            counts["right" if process.returncode == 1 and right(out.read()) else f"wrong: {process.returncode}"] += 1
    return counts


def points(times: int, folder: Path) -> Counter[str]:
    """Memory of both processes over 100,000 operating points, all different."""
    sys.path.insert(0, str(ROOT))
    from netcheck.simulation.elements import Circuit, Resistance, Source
    from netcheck.simulation.operating_point import forget, solve
    from netcheck.simulation.process import simulator

    def some(start: int) -> None:
        found = solve([Circuit((Source("V", "a", "GND", 1.0 + n * 1e-5), Resistance("R", "a", "b", 1e3),
                                Resistance("Q", "b", "GND", 2e3)), "GND") for n in range(start, start + 5000)])
        assert all(abs((one.volts["b"] or 0) - (1.0 + n * 1e-5) / 1.5) < 1e-6 for n, one in enumerate(found, start))

    sizes = []
    for start in range(0, 100_000, 5000):
        some(start)
        if start == 5000:
            forget()
        sizes.append([_resident_MB(os.getpid()), *(_resident_MB(pid) for pid in simulator().pids)])
        print(f"\r{start + 5000}: {sizes[-1]} MB", end="", file=sys.stderr, flush=True)
    grown = [round(last - first, 1) for first, last in zip(sizes[4], sizes[-1], strict=False)]
    print(f"\nMB of parent and workers after 25,000: {sizes[4]}, after 100,000: {sizes[-1]}, grown by {grown}")
    return Counter({"flat" if max(grown[1:]) < 5 else "wrong: the worker grows": 1})


def _resident_MB(pid: int) -> float:
    return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6


def _seconds(folder: Path) -> float:
    begun = time.monotonic()
    word, said = ended(started(*CHECK, folder=folder), folder)
    assert word == "right", (word, said)
    return time.monotonic() - begun


FAULTS = {one.__name__: one for one in (kills, interrupts, memory, disk, places, crowd, points)}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("faults", nargs="*", metavar="FAULT", help=", ".join(FAULTS))
    parser.add_argument("--times", type=int, default=20)
    asked = parser.parse_args()
    bad = 0
    with tempfile.TemporaryDirectory(prefix="netcheck-faults-") as name:
        for fault in asked.faults or FAULTS:
            begun = time.monotonic()
            counts = FAULTS[fault](asked.times, Path(name))
            bad += sum(count for word, count in counts.items()
                       if word.startswith(("wrong", "leaves", "shows", "hangs")))
            print(f"{fault}: {dict(counts)} ({time.monotonic() - begun:.0f} s)", flush=True)
    return int(bad > 0)


if __name__ == "__main__":
    sys.exit(main())
