"""Every verdict against the independent judge of tests/verdicts: python tests/benchmarks/verdict_judge.py

2,000 random fragments with charge routes, 1,500 dangerous mutants of safe boards, and the shorts to charge of 300
small fragments by brute force, by two processes. Prints the tally of each, and every board that came out wrong;
exits 1 where one did. Takes a seed and other numbers:
python tests/benchmarks/verdict_judge.py --fragments 200 --mutants 150 --shorts 30 --seed 3 --processes 4
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).parents[1] / "verdicts"))

from judged_boards import Tally, run_fragments, run_mutants, shorts_that_differ

SHARE = 10


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    for name, value in (("fragments", 2000), ("mutants", 1500), ("shorts", 300), ("seed", 1), ("processes", 2)):
        parser.add_argument(f"--{name}", type=int, default=value)
    asked = parser.parse_args()
    wrong = False
    with ProcessPoolExecutor(asked.processes) as pool:
        for run, count in ((run_fragments, asked.fragments), (run_mutants, asked.mutants)):
            started, whole = time.perf_counter(), Tally()
            shares = [min(SHARE, count - done) for done in range(0, count, SHARE)]
            for tally in pool.map(run, shares, range(asked.seed * 1000, asked.seed * 1000 + len(shares))):
                whole += tally
                print(f"\r{whole.boards} of {count}", end="", file=sys.stderr, flush=True)
            print(f"\n{run.__name__}: {whole}; {time.perf_counter() - started:.0f} s")
            for kind in ("false_safe", "false_charge", "unknown"):
                for told in getattr(whole, kind):
                    print(f"--- {kind}: {told}")
            wrong |= bool(whole.false_safe or whole.false_charge)
        started, differ = time.perf_counter(), []
        shares = [min(SHARE, asked.shorts - done) for done in range(0, asked.shorts, SHARE)]
        for told in pool.map(shorts_that_differ, shares, range(asked.seed * 1000, asked.seed * 1000 + len(shares))):
            differ += told
        print(f"shorts to charge: {len(differ)} of {asked.shorts} differ; {time.perf_counter() - started:.0f} s")
        print("".join(f"--- {told}" for told in differ))
        wrong |= bool(differ)
    return int(wrong)


if __name__ == "__main__":
    sys.exit(main())
