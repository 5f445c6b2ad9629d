"""How a capacitor charges through a resistance after switch-on, by ngspice's transient analysis."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from msgspec import Struct

from netcheck.simulation.process import Job, simulator

_POINTS = 400  # printed steps of one run; ngspice takes more within them where it has to
_DECK = """* netcheck
v1 n1 0 pwl(0 0 {rise!r} {volts!r})
r1 n1 n2 {ohm!r}
r2 n2 n3 {esr!r}
c1 n3 0 {farad!r} ic=0
{leak}
.options reltol=1e-5 abstol=1e-12 vntol=1e-9
.end"""
_LEAST_OHM = 1e-6


class NoTransient(RuntimeError):
    """There is no result; the message says why."""


class Charging(Struct, frozen=True):
    """A capacitor that charges: times [s], volts across it with its series resistance, amps out of the feed."""

    seconds: tuple[float, ...]
    volts: tuple[float, ...]
    amps: tuple[float, ...]

    @property
    def peak_A(self) -> float:
        return max(self.amps)

    def reaches_s(self, volts_V: float) -> float | None:
        """When it first reaches some volts, between two points by a straight line; None where it does not."""
        for (t0, v0), (t1, v1) in pairwise(zip(self.seconds, self.volts, strict=True)):
            if v0 < volts_V <= v1:
                return t0 + (t1 - t0) * (volts_V - v0) / (v1 - v0)
        return None


def deck(
    volts_V: float, rise_s: float, ohm: float, farad: float, esr_ohm: float = 0.0, leak_ohm: float = math.inf
) -> str:
    """The deck of a feed that rises evenly from 0 V, a resistance, and a capacitor with its own."""
    leak = "" if math.isinf(leak_ohm) else f"r3 n3 0 {float(leak_ohm)!r}"
    return _DECK.format(rise=float(rise_s), volts=float(volts_V), ohm=max(float(ohm), _LEAST_OHM),
                        esr=max(float(esr_ohm), _LEAST_OHM), farad=float(farad), leak=leak)


def command(stop_s: float) -> str:
    step = stop_s / _POINTS
    return f"tran {step!r} {float(stop_s)!r} 0 {step!r} uic"


def charging(
    volts_V: float, rise_s: float, ohm: float, farad: float, stop_s: float, esr_ohm: float = 0.0,
    leak_ohm: float = math.inf, deadline_s: float = 10.0,
) -> Charging:
    """Run from switch-on to stop_s. Raises NoTransient."""
    text = deck(volts_V, rise_s, ohm, farad, esr_ohm, leak_ohm)
    (answer,) = simulator().run([Job(text, "time n2 v1#branch", (command(stop_s),))], deadline_s)
    if answer.problem:
        raise NoTransient(answer.problem)
    seconds, volts, amps = _in_three(answer.values)
    return Charging(seconds, volts, tuple(-one for one in amps))


def _in_three(values: Sequence[float]) -> tuple[tuple[float, ...], ...]:
    count = len(values) // 3
    return tuple(tuple(values[start: start + count]) for start in (0, count, 2 * count))
