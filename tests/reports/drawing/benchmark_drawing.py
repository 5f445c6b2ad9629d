"""How long a drawing takes: python tests/reports/drawing/benchmark_drawing.py"""

from __future__ import annotations

from collections.abc import Callable
from statistics import median
from time import perf_counter

import drawing_boards as boards

from netcheck.reports.drawing import draw, picture_of, png

REPEATS = 20


def milliseconds(work: Callable[[], object]) -> float:
    times = []
    for _ in range(REPEATS):
        start = perf_counter()
        work()
        times.append(1e3 * (perf_counter() - start))
    return median(times)


def main() -> None:
    start = perf_counter()
    board, point = boards.backup()
    picture = picture_of(board, boards.RUNNING, point, routes=[boards.BACKUP_ROUTE])
    svg = draw(picture)
    print(f"first drawing, symbols loaded: {1e3 * (perf_counter() - start):.0f} ms")
    usual = milliseconds(lambda: draw(picture))
    print(f"{len(picture.columns)} parts: {usual:.1f} ms, {len(svg)} characters")
    print(f"its bitmap: {milliseconds(lambda: png(svg)):.1f} ms")
    long = picture_of(boards.ladder(29), boards.RUNNING)
    print(f"{len(long.columns)} parts: {milliseconds(lambda: draw(long)):.1f} ms")


if __name__ == "__main__":
    main()
