"""What a change of a capacitor does, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from netcheck.quantities.values import engineering


def effect_words(found: Mapping[str, Any] | None) -> str:
    """An effect as a report holds it, without its full stop; empty where nothing changes or is known."""
    if found is None:
        return ""
    more = found
    if (frequency := more.get("frequency_times")) is not None and (damping := more.get("damping_times")) is not None:
        if abs(frequency - 1) < 0.005:
            return "the loop stays as it is"
        return (f"the loop's natural frequency becomes {frequency:.2g} times, its damping {damping:.2g} times what it "
                "was")
    if (times := more.get("time_times")) is not None:
        return f"the {found['what']} becomes {times:.2g} times what it was"
    for name, unit in (("s", "s"), ("Hz", "Hz"), ("A", "A"), ("F", "F"), ("ohm", "ohm")):
        if f"after_{name}" in found:
            before, after = _amount(found.get(f"before_{name}"), unit), _amount(found[f"after_{name}"], unit)
            return "" if before == after else f"{found['what']}: {before} before, {after} after"
    return ""


def _amount(value: float | None, unit: str) -> str:
    if value is None:
        return "never" if unit == "s" else "not known"
    if unit == "s" and value < 1:
        return f"{engineering(value * 1e3, '')} ms" if value >= 1e-3 else f"{engineering(value * 1e6, '')} µs"
    return engineering(value, unit)
