"""Fragment files to start from: one for each job, with comments that teach the format."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import resources

JOBS: Mapping[str, str] = {
    "backup": "a battery that keeps a memory or a clock",
    "regulator": "an adjustable regulator set by jumpers and resistors",
    "capacitors": "capacitors to be replaced, of a supply and its regulator",
    "connector": "a connector with its pinout, and the jumper that turns a feature on",
}
"""Every job with what it is about."""


def starter(job: str) -> str:
    """The text of a starter fragment. Raises KeyError for a job that is not in JOBS."""
    if job not in JOBS:
        raise KeyError(job)
    return (resources.files("netcheck.reading") / "starters" / f"{job}.yaml").read_text("utf-8")
