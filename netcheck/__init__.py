"""netcheck checks a traced circuit fragment: where current can go, what the volts will be, what is dangerous.

The same thing as the command line, for programs:

    import netcheck
    fragment = netcheck.load("examples/rack-sampler.yaml")
    report = netcheck.check(fragment)
    report.verdict, report.to_dict()
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from netcheck.api import UnknownMod as UnknownMod
    from netcheck.api import (
        check as check,
    )
    from netcheck.api import explain as explain
    from netcheck.api import (
        load as load,
    )
    from netcheck.api import (
        loads as loads,
    )
    from netcheck.archive.many import BoardResult as BoardResult
    from netcheck.archive.many import check_many as check_many
    from netcheck.checks.results import Report as Report
    from netcheck.checks.results import VariantResult as VariantResult
    from netcheck.findings import Finding as Finding
    from netcheck.findings import Severity as Severity
    from netcheck.fragment.model import Fragment as Fragment
    from netcheck.reading.mistakes import FragmentError as FragmentError
    from netcheck.writeup import draw as draw

_HOMES = {
    "draw": "netcheck.writeup", "explain": "netcheck.api", "UnknownMod": "netcheck.api",
    "check_many": "netcheck.archive.many", "BoardResult": "netcheck.archive.many",
    "load": "netcheck.api", "loads": "netcheck.api", "check": "netcheck.api",
    "Report": "netcheck.checks.results", "VariantResult": "netcheck.checks.results",
    "Finding": "netcheck.findings", "Severity": "netcheck.findings",
    "FragmentError": "netcheck.reading.mistakes", "Fragment": "netcheck.fragment.model",
}

__all__ = [
    "BoardResult", "Finding", "Fragment", "FragmentError", "Report", "Severity", "UnknownMod",
    "VariantResult", "check", "check_many", "draw", "explain", "load", "loads",
]


def __dir__() -> list[str]:
    return sorted(__all__)


def __getattr__(name: str) -> Any:
    """Import what is asked for only then, so that a small script starts fast."""
    if name not in _HOMES:
        raise AttributeError(f"module 'netcheck' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)
