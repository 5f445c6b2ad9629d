"""Every verdict against the independent judge of tests/verdicts: python tests/benchmarks/verdict_judge.py

2,000 random fragments with charge routes, 1,500 dangerous mutants of safe boards, and the shorts to charge of 300
small fragments by brute force, in shares of ten boards, the three kinds in turn, so that a run that is ended early
has tried some of each. With --log FILE every share is a line of JSON there as soon as it is done, and a run that is
started again with the same log goes on where it was. Prints every board that came out wrong and the tally of each
kind with its seeds; exits 1 where one was wrong. Other numbers, another first seed:
nice -n 19 python tests/benchmarks/verdict_judge.py --fragments 200 --mutants 150 --shorts 30 --seed 3 --log judge.log
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parents[1] / "verdicts"))

from judged_boards import Tally, run_fragments, run_mutants, shorts_that_differ

SHARE = 10
KINDS = {"fragments": 2000, "mutants": 1500, "shorts": 300}


def share(kind: str, count: int, seed: int) -> dict[str, object]:
    """The tally of one share as the log has it."""
    started = time.perf_counter()
    if kind == "shorts":
        tally = Tally(boards=count, false_charge=shorts_that_differ(count, seed))
    else:
        tally = (run_fragments if kind == "fragments" else run_mutants)(count, seed)
    found = {name: getattr(tally, name) for name in Tally.__dataclass_fields__}
    return {"kind": kind, "seed": seed, "count": count, "seconds": time.perf_counter() - started, **found}


def shares(counts: dict[str, int], first: int) -> Iterator[tuple[str, int, int]]:
    """Every share as kind, count, seed; the kinds in turn, each as far on as the others."""
    every = [(done / counts[kind], kind, min(SHARE, counts[kind] - done), first * 1000 + done // SHARE)
             for kind in counts for done in range(0, counts[kind], SHARE)]
    return ((kind, count, seed) for _, kind, count, seed in sorted(every))


def told(line: dict[str, object]) -> bool:
    """Print what a share found wrong; whether it did."""
    for name in ("false_safe", "false_charge", "unknown"):
        for board in line[name]:
            print(f"--- {line['kind']} of seed {line['seed']}, {name}: {board}", flush=True)
    return bool(line["false_safe"] or line["false_charge"])


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    for name, value in (*KINDS.items(), ("seed", 1), ("processes", 1)):
        parser.add_argument(f"--{name}", type=int, default=value)
    parser.add_argument("--log", type=Path)
    asked = parser.parse_args()
    before = asked.log.read_text(encoding="utf-8").splitlines() if asked.log and asked.log.exists() else []
    lines = [json.loads(line) for line in before]
    done = {(line["kind"], line["count"], line["seed"]) for line in lines}
    counts = {kind: getattr(asked, kind) for kind in KINDS if getattr(asked, kind)}
    wrong = sum(map(told, lines)) > 0
    with ProcessPoolExecutor(asked.processes) as pool:
        waiting = [pool.submit(share, *one) for one in shares(counts, asked.seed) if one not in done]
        for number, ready in enumerate(as_completed(waiting), start=1):
            lines.append(line := ready.result())
            wrong |= told(line)
            print(f"\r{number} of {len(waiting)} shares", end="", file=sys.stderr, flush=True)
            if asked.log:
                with asked.log.open("a", encoding="utf-8") as log:
                    log.write(json.dumps(line) + "\n")
    for kind in counts:
        whole, these = Tally(), [line for line in lines if line["kind"] == kind]
        for line in these:
            whole += Tally(**{name: Counter(value) if name == "verdicts" else value for name, value in line.items()
                              if name in Tally.__dataclass_fields__})
        seeds = [line["seed"] for line in these]
        print(f"\n{kind}, seeds {min(seeds)} to {max(seeds)}: {whole}; {sum(line['seconds'] for line in these):.0f} s")
    return int(wrong)


if __name__ == "__main__":
    sys.exit(main())
