"""Many boards: an archive of traced fragments judged again, in one process or in as many as there are.

Results are small and pickle, so that any executor of `concurrent.futures` can carry them: threads, processes, or
a cluster's. They come in the order of the paths whatever the executor, and a board whose worker was lost is
judged again.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import CancelledError, Executor, Future
from pathlib import Path
from typing import Any

from msgspec import Struct
from msgspec.structs import asdict

FORMAT = "netcheck-archive/1"
ORDER = ("ok", "caution", "fails", "unknown", "danger", "unusable")
"""Verdicts from the best to the worst; unusable: the file has a mistake, or could not be judged at all."""

_AHEAD = 64
_TRIES = 3


class BoardResult(Struct, frozen=True):
    """The verdict on one file: that of the variant it was asked for.

    check, subject, message, advice: of the finding that decides it (empty where the board is ok); findings: how
    many there are of each severity. A file that could not be used has the verdict "unusable" and says why in
    `message`.
    """

    file: str
    verdict: str
    title: str = ""
    variant: str = ""
    check: str = ""
    subject: str = ""
    message: str = ""
    advice: str = ""
    findings: tuple[tuple[str, int], ...] = ()

    def to_dict(self) -> dict[str, Any]:
        return {**asdict(self), "findings": dict(self.findings)}


def check_many(
    paths: Iterable[str | Path],
    executor: Executor | None = None,
    *,
    mod: str | None = None,
    library: Sequence[str | Path] = (),
    deadline_s: float | None = None,
) -> Iterator[BoardResult]:
    """Judge many boards and yield each result as soon as those before it are there.

    paths: fragment files, and folders that are searched (`fragments_below`). executor: any executor of
    `concurrent.futures` with Python 3.10's interface, for example that of dask.distributed's
    `Client.get_executor()`; None judges in this process. mod: a mod of each file, or "as found" (default: the last
    mod of a file, or as found where it has none). deadline_s: seconds that each board may take; what is left then is
    unknown. A file that cannot be used gives a result too. Memory does not grow with the number of paths.
    """
    tasks = ((str(path), mod, tuple(map(str, library)), deadline_s) for path in every(paths))
    if executor is None:
        yield from (judge_file(*task) for task in tasks)
        return
    waiting: deque[tuple[_Task, Future[BoardResult] | None]] = deque()
    lost = _Lost(executor)
    for task in tasks:
        waiting.append((task, lost.submit(task)))
        if len(waiting) >= _AHEAD:
            yield lost.result(*waiting.popleft())
    while waiting:
        yield lost.result(*waiting.popleft())


def every(paths: Iterable[str | Path]) -> Iterator[Path]:
    """The files of some paths in order: a file is itself, a folder the fragments below it, by name."""
    for path in map(Path, paths):
        if path.is_dir():
            yield from fragments_below(path)
        else:
            yield path


def fragments_below(folder: Path) -> list[Path]:
    """The fragment files below a folder, ordered by their way from it.

    A YAML file counts as one where a line of it begins with `title:` or `parts:`; what lies in a folder called
    `library`, or in one whose name begins with a dot, does not.
    """
    found = [path for pattern in ("*.yaml", "*.yml") for path in folder.rglob(pattern)
             if not any(part == "library" or part.startswith(".") for part in path.relative_to(folder).parts)
             and path.is_file() and _is_fragment(path)]
    return sorted(found, key=lambda path: path.relative_to(folder).as_posix())


def judge_file(
    file: str, mod: str | None = None, library: Sequence[str] = (), deadline_s: float | None = None
) -> BoardResult:
    """Judge one file. Raises nothing: what goes wrong is the result."""
    from netcheck.api import check, load
    from netcheck.fragment.model import AS_FOUND
    from netcheck.parts.library import LibraryError
    from netcheck.reading.mistakes import FragmentError

    try:
        fragment = load(file, library)
        if mod is not None and mod != AS_FOUND and mod not in fragment.mods:
            known = ", ".join(fragment.mods) or "none"
            return BoardResult(file, "unusable", fragment.title, message=f'no mod "{mod}"; there are: {known}')
        last = check(fragment, mod, deadline_s=deadline_s).variants[-1]
    except FragmentError as error:
        more = f" (and {len(error.faults) - 1} more)" if len(error.faults) > 1 else ""
        return BoardResult(file, "unusable", message=str(error).splitlines()[0] + more)
    except LibraryError as error:
        return BoardResult(file, "unusable", message=str(error))
    except OSError as error:
        return BoardResult(file, "unusable", message=error.strerror or str(error))
    except Exception as error:
        return BoardResult(file, "unusable", message=f"netcheck itself failed: {type(error).__name__}: {error}")
    counts: dict[str, int] = {}
    for finding in last.findings:
        counts[str(finding.severity)] = counts.get(str(finding.severity), 0) + 1
    worst = next((finding for finding in last.findings if str(finding.severity) == last.verdict), None)
    why = (worst.check, worst.subject, worst.message, worst.advice) if worst else ("", "", "", "")
    return BoardResult(file, last.verdict, fragment.title, last.name, *why, tuple(counts.items()))


def archive_dict(results: Sequence[BoardResult]) -> dict[str, Any]:
    """All results as one document."""
    return {"format": FORMAT, "boards": [one.to_dict() for one in results], "count": count(results)}


def count(results: Iterable[BoardResult]) -> dict[str, int]:
    """How many boards have each verdict, the best first; verdicts that none has are left out."""
    verdicts = [one.verdict for one in results]
    return {verdict: verdicts.count(verdict) for verdict in ORDER if verdict in verdicts}


_Task = tuple[str, str | None, tuple[str, ...], float | None]


class _Lost:
    """Submits boards, and those of a lost worker again; judges them here once the executor itself is gone."""

    def __init__(self, executor: Executor) -> None:
        self._executor: Executor | None = executor

    def submit(self, task: _Task) -> Future[BoardResult] | None:
        if self._executor is None:
            return None
        try:
            return self._executor.submit(judge_file, *task)
        except RuntimeError:  # a pool that has lost a process takes no more work
            self._executor = None
            return None

    def result(self, task: _Task, future: Future[BoardResult] | None) -> BoardResult:
        for _ in range(_TRIES):
            if future is None:
                break
            try:
                return future.result()
            except (Exception, CancelledError):  # judge_file raises nothing: the worker was lost
                future = self.submit(task)
        return judge_file(*task)


def _is_fragment(path: Path) -> bool:
    try:
        with open(path, "rb") as file:
            return any(line.startswith((b"title:", b"parts:", b"\xef\xbb\xbftitle:")) for line in file)
    except OSError:
        return True  # told as a file that cannot be read
