"""Many boards: the same answers in the same order whatever carries them."""

from __future__ import annotations

import multiprocessing
import os
import pickle
import signal
import threading
import time
import warnings
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import distributed
import pytest

import netcheck
from netcheck.archive.many import archive_dict, check_many, count, fragments_below, judge_file

SAFE = """\
title: safe {n}
parts:
  BT1: {{cell: CR2032, plus: VRAM, minus: GND}}
  U1: {{load: {amps} uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}}
"""
CHARGED = """\
title: charged {n}
rails: {{+5V: 5 V}}
parts:
  BT1: {{cell: CR2032, plus: VRAM, minus: GND}}
  R1: {{resistor: {amps}k, between: [+5V, VRAM]}}
  U1: {{load: 2 uA, plus: VRAM, minus: GND, works: 2.0 V to 5.5 V}}
"""


def lay(folder: Path, boards: int) -> Path:
    for n in range(boards):
        below = folder / f"shelf {n % 3}"
        below.mkdir(parents=True, exist_ok=True)
        text = (CHARGED if n % 4 == 1 else SAFE).format(n=n, amps=n % 5 + 1)
        (below / f"board-{n:03}.yaml").write_text(text)
    return folder


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = lay(tmp_path_factory.mktemp("archive"), 24)
    (folder / "shelf 1" / "broken.yaml").write_text("title: broken\nparts:\n  R1: {resistr: 1k, between: [A, B]}\n")
    (folder / "shelf 1" / "readings.yaml").write_text("- {at: VRAM, volts: 2.7}\n")
    (folder / "library").mkdir()
    (folder / "library" / "loads.yaml").write_text("sources: {}\nloads: {}\n")
    return folder


@pytest.fixture(scope="module")
def expected(archive: Path) -> list[Any]:
    return list(check_many([archive]))


def test_every_board_has_a_result_in_order_and_a_bad_file_stops_nothing(archive: Path, expected: list[Any]) -> None:
    assert [Path(one.file) for one in expected] == fragments_below(archive)
    assert len(expected) == 25
    assert count(expected)["danger"] == 6
    (broken,) = [one for one in expected if one.verdict == "unusable"]
    assert "broken.yaml:3" in broken.message
    assert "resistor" in broken.message
    danger = next(one for one in expected if one.verdict == "danger")
    assert (danger.subject, danger.variant) == ("BT1", "as found")
    assert archive_dict(expected)["count"] == count(expected)


def test_results_are_those_of_a_single_check(expected: list[Any]) -> None:
    for one in expected[:6]:
        if one.verdict != "unusable":
            assert netcheck.check(netcheck.load(one.file)).verdict == one.verdict


def test_results_are_small_and_pickle(expected: list[Any]) -> None:
    assert pickle.loads(pickle.dumps(expected)) == expected
    assert max(len(pickle.dumps(one)) for one in expected) < 3000


def test_threads_and_processes_give_the_same_in_the_same_order(archive: Path, expected: list[Any]) -> None:
    with ThreadPoolExecutor(3) as threads:
        assert list(check_many([archive], threads)) == expected
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as processes:
        assert list(check_many([archive], processes)) == expected


def test_boards_of_a_lost_process_are_judged_again(archive: Path, expected: list[Any]) -> None:
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
        results = check_many([archive], pool)
        first = next(results)
        os.kill(next(iter(pool._processes)), signal.SIGKILL)
        assert [first, *results] == expected


def test_result_that_never_comes_is_judged_here(archive: Path, expected: list[Any]) -> None:
    class Losing(Executor):
        def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
            lost: Future[Any] = Future()
            lost.set_exception(RuntimeError("the worker is gone"))
            return lost

    assert list(check_many(fragments_below(archive)[:3], Losing())) == expected[:3]


def test_cluster_that_loses_a_process_gives_the_same(archive: Path, expected: list[Any]) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with distributed.LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None,
                                      silence_logs=50) as cluster, distributed.Client(cluster) as client:
            killed = threading.Thread(target=_kill_one, args=(client,))
            killed.start()
            found = list(check_many([archive], client.get_executor(pure=False)))
            killed.join()
    assert found == expected


def _kill_one(client: Any) -> None:
    time.sleep(0.3)
    pid = next(iter(client.run(os.getpid).values()))
    os.kill(pid, signal.SIGKILL)


def test_mod_asked_for_is_judged_and_one_that_is_not_there_is_told(tmp_path: Path) -> None:
    board = tmp_path / "b.yaml"
    board.write_text(CHARGED.format(n=1, amps=1) + "mods: {out: {steps: [{remove: [R1]}]}}\n")
    assert judge_file(str(board), "as found").verdict == "danger"
    assert judge_file(str(board)).variant == "out"
    assert 'no mod "in"; there are: out' in judge_file(str(board), "in").message
