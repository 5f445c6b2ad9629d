"""How many small changes of the rooms that decide are noticed by their tests: a seeded sample of every file.

    nice -n 19 .venv/bin/python tests/benchmarks/mutants.py --each 30 --seed 1
    nice -n 19 .venv/bin/python tests/benchmarks/mutants.py netcheck/conduction/graph.py --each 1000

The changes are those that mutmut makes. mutmut itself would try all of them, some ten thousand, against every test that
touches the function. Here each file has its own tests first and those of its room after them, the circuits solved
meanwhile are kept for the next change, and a change is given up as soon as one test fails. What no test of these
notices is counted as survived, also where a slower test elsewhere would notice it.
"""

from __future__ import annotations

import argparse
import difflib
import importlib.abc
import importlib.machinery
import importlib.util
import json
import math
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from types import ModuleType
from typing import Any

ROOT = Path(__file__).parents[2]
ROOMS = ("conduction", "solving", "checks")
SLOW = {"test_graph_against_simulation.py", "test_charging_worst.py", "test_backup_verdicts.py",
        "test_sections_whole.py", "test_beside.py"}
"""Whole boards, properties and copies of a process: seconds for every change, and the ordinary run has them."""

ALSO = {
    "conduction": ("tests/conduction",),
    "solving": ("tests/solving",),
    "checks": (),
}
OF_FILE = {
    "cures": ("test_candidates.py", "test_proposal.py", "test_cures.py"),
    "advising": ("test_proposal.py", "test_cures.py", "test_variant.py"),
    "drains": ("test_candidates.py", "test_cures.py"),
    "proposal": ("test_proposal.py", "test_offers.py"),
    "standing": ("test_proposal.py",),
    "trials": ("test_trials.py", "test_proposal.py"),
    "unjudged": ("test_variant.py",),
    "chips": ("test_chips.py", "test_cell_pins.py"),
    "leakage": ("test_leakage_limits.py", "test_leakage.py"),
    "overloads": ("test_overloads_limits.py",),
    "clamp": ("test_single_checks.py",),
    "reversal": ("test_single_checks.py", "test_reversal.py"),
    "keeps": ("test_single_checks.py",),
    "shorts": ("test_shorts_proposed.py", "test_shorts.py"),
}
"""Files whose tests are not only those of their own name."""


def tests_of(path: Path) -> list[str]:
    """The tests that a file of the program is held to, its own first."""
    room, name = path.parts[-2], path.stem
    own = [ROOT / "tests" / room / test for test in OF_FILE.get(name, (f"test_{name}.py",))]
    found = [str(one) for one in own if one.exists()]
    for folder in ALSO[room]:
        found += [str(one) for one in sorted((ROOT / folder).glob("test_*.py")) if one.name not in SLOW]
    assert found, f"no tests of {path}: say in OF_FILE which they are"  # none named would be all there are
    return list(dict.fromkeys(found))


class _Mutated(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives the source with all its changes, of which the environment names the one in force, for one module."""

    def __init__(self, name: str, path: Path, code: str) -> None:
        self._name, self._path, self._code = name, path, code

    def find_spec(
        self, fullname: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        if fullname != self._name:
            return None
        return importlib.util.spec_from_file_location(fullname, self._path, loader=self)

    def get_filename(self, fullname: str) -> str:
        return str(self._path)

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self._code, str(self._path), "exec"), module.__dict__)


class _Session:
    """Runs the collected tests once as they are, then with each change in force in a child that knows all circuits."""

    def __init__(self, module: str, chosen: Sequence[str]) -> None:
        self._module, self._chosen = module, chosen
        self.passed = False

    def pytest_runtestloop(self, session: Any) -> bool:
        began = time.monotonic()
        _each(session)
        self.passed = session.testsfailed == 0
        if self.passed:
            patience_s = 120.0 + 20 * (time.monotonic() - began)
            self.passed = _tried("none", session, patience_s) == "survived"  # also where all circuits are known
        if self.passed:
            for name in self._chosen:
                began = time.monotonic()
                what = _tried(f"{self._module}.{name}", session, patience_s)
                _say({"mutant": f"{self._module}.{name}", "what": what, "s": round(time.monotonic() - began, 2)})
        return True


def _each(session: Any) -> None:
    """Every collected test in turn, until one fails."""
    items = session.items
    for place, item in enumerate(items):
        following = items[place + 1] if place + 1 < len(items) else None
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
        if session.testsfailed:
            return


def _tried(name: str, session: Any, patience_s: float) -> str:
    """What becomes of the tests with one change in force: killed, survived, or endless where it comes to no end."""
    child = os.fork()
    if child == 0:
        os.setpgid(0, 0)
        nothing = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nothing, 1)
        os.dup2(nothing, 2)
        os.environ["MUTANT_UNDER_TEST"] = name
        code = 1
        try:
            _each(session)
            code = 1 if session.testsfailed else 0
        finally:
            os._exit(code)
    began = time.monotonic()
    while True:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return "survived" if os.waitstatus_to_exitcode(status) == 0 else "killed"
        if time.monotonic() - began > patience_s:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return "endless"
        time.sleep(0.01)


def _say(line: dict[str, Any]) -> None:
    os.write(_TOLD, (json.dumps(line) + "\n").encode())


_TOLD = 1


def one_file(path: Path, each: int, seed: int, only: str) -> None:
    """Try a sample of one file's changes in this process, a line of JSON for each."""
    global _TOLD
    import pytest
    from mutmut.mutation.file_mutation import mutate_file_contents

    relative = path.resolve().relative_to(ROOT)
    module = ".".join(relative.with_suffix("").parts)
    made = mutate_file_contents(str(relative), path.read_text(encoding="utf-8"))
    names = sorted(name for name in made.mutant_names if only in name)
    chosen = sorted(random.Random(f"{seed} {module}").sample(names, min(each, len(names))))
    sys.path.insert(0, str(ROOT))
    sys.meta_path.insert(0, _Mutated(module, path.resolve(), made.code))
    os.environ["MUTANT_UNDER_TEST"] = "none"
    import netcheck
    from netcheck.simulation import child, operating_point

    assert Path(netcheck.__file__).parents[1] == ROOT, f"not this checkout: {netcheck.__file__}"
    child.START_S = 3600.0  # on a machine that is busy, a slow start must not pass for a change that was noticed
    operating_point.solve.__kwdefaults__["deadline_s"] = 600.0
    tests = tests_of(relative)
    _TOLD = os.dup(1)
    os.dup2(2, 1)
    _say({"file": str(relative), "made": len(made.mutant_names), "tests": tests})
    session = _Session(module, chosen)
    pytest.main(["-q", "-p", "no:cacheprovider", "-p", "no:faulthandler", "--capture=no", "--rootdir", str(ROOT),
                 *tests], plugins=[session])
    if not session.passed:
        raise SystemExit(f"the tests of {relative} fail without any change")


def interval(killed: int, tried: int) -> tuple[float, float]:
    """95 % confidence interval of a share: Wilson, Probable Inference, J. Am. Stat. Assoc. 22 (1927), 209.

    >>> [round(end, 3) for end in interval(27, 30)]
    [0.744, 0.965]
    """
    z, share = 1.959964, killed / tried
    middle = share + z * z / (2 * tried)
    half = z * math.sqrt(share * (1 - share) / tried + z * z / (4 * tried * tried))
    return (middle - half) / (1 + z * z / tried), (middle + half) / (1 + z * z / tried)


def diffs(path: Path, mutants: Sequence[str]) -> dict[str, str]:
    """Each of these changes of a file as the lines that it takes away and puts in their place."""
    import libcst as cst
    from mutmut.mutation.file_mutation import mutate_file_contents

    text = mutate_file_contents(str(path), path.read_text(encoding="utf-8")).code
    names = {mutant.rpartition(".")[2] for mutant in mutants}
    wanted = names | {f"{name.rpartition('__mutmut_')[0]}__mutmut_orig" for name in names}
    found: dict[str, str] = {}

    class Finder(cst.CSTVisitor):
        def visit_FunctionDef(self, node: cst.FunctionDef) -> None:
            if node.name.value in wanted:
                found[node.name.value] = cst.Module([node]).code

    cst.parse_module(text).visit(Finder())
    told = {}
    for mutant in mutants:
        name = mutant.rpartition(".")[2]
        before, after = found[f"{name.rpartition('__mutmut_')[0]}__mutmut_orig"], found[name]
        told[mutant] = "\n".join(
            line for line in difflib.unified_diff(before.splitlines(), after.splitlines(), lineterm="", n=0)
            if line[:3] not in ("---", "+++", "@@ ") and "__mutmut_" not in line)
    return told


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("files", nargs="*", type=Path)
    parser.add_argument("--each", type=int, default=30, help="changes of a file that are tried, all where it has fewer")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="only changes with this in their name")
    parser.add_argument("--here", action="store_true", help=argparse.SUPPRESS)
    parser.add_argument("--diffs", action="store_true", help="show what survived")
    options = parser.parse_args()
    files = options.files or [path for room in ROOMS for path in sorted((ROOT / "netcheck" / room).glob("*.py"))
                              if path.stem != "__init__"]
    if options.here:
        one_file(files[0], options.each, options.seed, options.only)
        return
    print(f"{'file':40} {'made':>5} {'tried':>5} {'killed':>6}   95 %")
    total, failing = [0, 0], []
    for path in files:
        lines = subprocess.run(
            [sys.executable, __file__, str(path), "--here", "--each", str(options.each), "--seed", str(options.seed),
             "--only", options.only], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, check=False,
            text=True, cwd=ROOT).stdout.splitlines()
        told = [json.loads(line) for line in lines if line.startswith("{")]
        tried = [one for one in told if "mutant" in one]
        survived = [one["mutant"] for one in tried if one["what"] == "survived"]
        killed = len(tried) - len(survived)
        total[0], total[1] = total[0] + killed, total[1] + len(tried)
        if not tried and not options.only:
            failing.append(path)
        low, high = interval(killed, len(tried)) if tried else (0.0, 1.0)
        print(f"{path!s:40} {told[0]['made'] if told else '?':>5} {len(tried):>5} {killed:>6}   "
              f"{low:.0%} to {high:.0%}", flush=True)
        if endless := sum(one["what"] == "endless" for one in tried):
            print(f"    {endless} of those killed came to no end", flush=True)
        told_of = diffs(path, survived) if options.diffs and survived else {}
        for mutant in survived:
            print(f"    {mutant}", flush=True)
            if mutant in told_of:
                print("        " + told_of[mutant].replace("\n", "\n        "), flush=True)
    if total[1]:
        low, high = interval(*total)
        print(f"{'all':40} {'':>5} {total[1]:>5} {total[0]:>6}   {low:.0%} to {high:.0%}")
    if failing:
        raise SystemExit(f"the tests fail without any change, so that none was tried: {', '.join(map(str, failing))}")


if __name__ == "__main__":
    main()
