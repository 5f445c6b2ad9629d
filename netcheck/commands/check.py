"""netcheck check"""

from __future__ import annotations

import sys
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

import click

from netcheck.commands import shared

if TYPE_CHECKING:
    from concurrent.futures import Executor


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="FILE|DIR...")
@shared.mod_option
@click.option("--all", "every", is_flag=True, help="Judge every mod of the file.")
@click.option("--full", is_flag=True, help="Every figure, source and assumption.")
@click.option("--temperature", metavar="RANGE", help='Inside the case, for example "0 to 60 °C".')
@shared.deadline_of(keep=False)
@click.option("--jobs", type=click.IntRange(1), metavar="N", help="Judge many boards in N processes.")
@click.option("--format", "form", type=click.Choice(["text", "json", "csv"]), default="text", show_default=True,
              help="csv: a table of many boards.")
@shared.library_option
def command(
    files: tuple[Path, ...], mod: str | None, every: bool, full: bool, temperature: str | None, deadline: float,
    jobs: int | None, form: str, library: tuple[Path, ...],
) -> None:
    """Judge a fragment: the circuit as found and its mod, in every state.

    The first line is the answer: on the mod asked for, else the last mod of
    the file, else the circuit as found. Several files get a line each, the
    worst last; a folder stands for every fragment below it.

    Exit status: 0 ok or caution, 1 danger, unknown or fails, 2 the file could
    not be used.

    \b
    Examples:
      netcheck check examples/rack-sampler.yaml
      netcheck check examples/rack-sampler.yaml --mod plain-swap --full
      netcheck check examples --jobs 2
    """
    if jobs is not None or form == "csv" or any(file.is_dir() for file in files):
        if every or full or temperature is not None:
            raise shared.Unusable("Many boards get a line each: --all, --full and --temperature are for single files.")
        sys.exit(_many(files, mod, jobs or 1, form, library, deadline))
    shared.warm_up()
    from netcheck.api import check, variants
    from netcheck.clock import limited

    span = shared.temperature_range(temperature)
    done = []
    worst = 0
    for file in files:
        with limited(deadline):
            try:
                fragment = shared.load_fragment(file, library)
                shared.variant_of(fragment, mod)
            except shared.Unusable as error:  # the other files are judged all the same
                error.show()
                worst = shared.UNUSABLE
                continue
            report = check(fragment, mod, every, span, duties=form == "json" or full)
        worst = max(worst, 0 if report.safe else shared.DANGER)
        done.append((report, variants(fragment, mod, every)))
    if form == "json" and done:
        told = [report.to_dict() for report, _ in done]
        shared.print_json(told[0] if len(files) == 1 else told)
    elif done:
        from netcheck.commands.terminal import print_report, width
        from netcheck.reports.text import report_text, reports_text

        print_report(report_text(*done[0], width(), full=full) if len(files) == 1
                     else reports_text(done, len(files) - len(done), width(), full=full))
    sys.exit(worst)


def _many(
    paths: tuple[Path, ...], mod: str | None, jobs: int, form: str, library: tuple[Path, ...],
    deadline: float,
) -> int:
    """Judge many boards, a line each as they come; the exit status is that of the worst."""
    from netcheck.archive.many import archive_dict, check_many, every
    from netcheck.commands.terminal import width
    from netcheck.reports.archive_text import archive_csv, board_line, closing

    files = list(every(paths))
    if not files:
        raise shared.Unusable(f"{', '.join(map(str, paths))}: expected a fragment below it (a YAML file with title: "
                              "and parts:), and there is none.")
    tell = shared.progress("Boards judged")
    results = []
    with _processes(jobs) as executor:
        for result in check_many(files, executor, mod=mod, library=library, deadline_s=deadline):
            results.append(result)
            if form == "text":
                shared.print_text(board_line(result, width()))
            else:
                tell(len(results), len(files))
    if form == "json":
        shared.print_json(archive_dict(results))
    elif form == "csv":
        shared.print_text(archive_csv(results))
    else:
        shared.print_text("\n" + closing(results, width()))
    verdicts = {result.verdict for result in results}
    return shared.UNUSABLE if "unusable" in verdicts else 0 if verdicts <= {"ok", "caution"} else shared.DANGER


def _processes(jobs: int) -> AbstractContextManager[Executor | None]:
    """Processes that judge at the same time; none for a single job. Spawned: a fork would share the simulator."""
    if jobs == 1:
        return nullcontext()
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    return ProcessPoolExecutor(jobs, mp_context=multiprocessing.get_context("spawn"))
