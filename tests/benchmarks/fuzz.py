"""Files by chance against the reader, the judge and the command line: python tests/benchmarks/fuzz.py

So many cases are made and read; one in fifty of those that could be read is judged and reported, and one in fifty
goes through a command (of those that could not be read one in 500). Prints the count of each, the slowest and the peak
memory, and each case that failed with its number, which `--only` repeats. Exits 1 where one did. Example:
python tests/benchmarks/fuzz.py --cases 100000 --seed 7 --minutes 30
"""

from __future__ import annotations

import argparse
import resource
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parents[1] / "reading"))

import fuzzed

MOST_SHOWN = 20


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    for name, value in (("cases", 10_000), ("seed", 1), ("judged", 50), ("commands", 50), ("minutes", 600)):
        parser.add_argument(f"--{name}", type=int, default=value)
    parser.add_argument("--only", type=int, help="repeat the case of this number and show it")
    asked = parser.parse_args()
    counts: Counter[str] = Counter()
    failed: dict[str, list[int]] = {}
    slowest, started = (0.0, ""), time.monotonic()
    numbers = range(asked.cases) if asked.only is None else [asked.only]
    for number in numbers:
        if time.monotonic() > started + 60 * asked.minutes:
            break
        rng = Random(f"{asked.seed}/{number}")
        case = fuzzed.case(rng)
        if asked.only is not None:
            print(case)
        begun = time.monotonic()
        with tempfile.TemporaryDirectory(prefix="netcheck-fuzz-") as name:
            try:
                counts["cases"] += 1
                found = fuzzed.read(case, Path(name))
                counts[f"{case.what} {'refused' if found is None else 'read'}"] += 1
                if found is not None and number % asked.judged == 0:
                    counts[f"judged {fuzzed.check(found)}"] += 1
                if (found is not None and case.what == "fragment" and number % asked.commands == 1) or (
                        case.what in ("fragment", "noise") and number % (10 * asked.commands) == 1):
                    command = rng.choice(fuzzed.COMMANDS)
                    counts[f"exit {fuzzed.by_command(case, Path(name), command)}"] += 1
            except Exception as error:  # whatever it is: it is what is looked for
                last = traceback.extract_tb(error.__traceback__)[-1]
                where = f"{type(error).__name__} at {Path(last.filename).name}:{last.lineno}: {str(error)[-200:]}"
                if where not in failed and len(failed) < MOST_SHOWN:
                    print(f"\n--- seed {asked.seed}, case {number}, {case.what}: {where}", flush=True)
                    if asked.only is not None:
                        traceback.print_exc()
                failed.setdefault(where, []).append(number)
        slowest = max(slowest, (time.monotonic() - begun, f"case {number}"))
        if number % 500 == 0:
            print(f"\r{number} of {asked.cases}", end="", file=sys.stderr, flush=True)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    for where, cases in failed.items():
        print(f"\ncases {', '.join(map(str, cases[:MOST_SHOWN]))}: {where}")
    print(f"\n{dict(sorted(counts.items()))}\n{sum(map(len, failed.values()))} failed, {len(failed)} ways; "
          f"{time.monotonic() - started:.0f} s; slowest {slowest[0]:.1f} s ({slowest[1]}); peak memory {memory:.0f} MB")
    return int(bool(failed))


if __name__ == "__main__":
    sys.exit(main())
