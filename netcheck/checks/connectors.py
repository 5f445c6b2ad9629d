"""A connector against its published pinout: supplies, grounds and signals where they belong, and how it was counted.

A header on a board is no standard; what is judged is whether what was traced is what the plug expects. Where the
mismatches vanish with the pins counted otherwise (from the solder side, the rows or two pins swapped), that is
said: it is the likelier mistake.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations

from msgspec import Struct, field

from netcheck.findings import Finding, Severity
from netcheck.fragment.kinds import OHMIC
from netcheck.fragment.model import Fragment, Kind, Part
from netcheck.parts.specs import ConnectorSpec
from netcheck.solving.solved_states import Survey
from netcheck.wording.sentence import Word

WITHIN = 0.05
WITHIN_NEGATIVE = 0.10
"""Tolerance of a supply pin: ATX Specification 2.01, section 4.2.1, "DC output voltage regulation": +3.3, +5 and
+12 V and the standby supply 5 %, negative outputs 10 %."""

_SUPPLY = re.compile(r"([+-]?)(\d+(?:\.\d+)?)\s*V(SB)?", re.IGNORECASE)
_FREE = ("n/c", "nc", "key", "")
_PULLED = re.compile(r"\b(data|clock)\b", re.IGNORECASE)
"""Lines that only ever pull down, as those of a keyboard or a pointing device do: each needs a resistor up."""


class Mismatch(Struct, frozen=True):
    """A pin that is not what the pinout says.

    found: what it is, ground or a net; what: and what that is (a supply, not ground, not reached); volts_V: where that
    is what is wrong. harm: a danger to what is plugged in, or to the supply.
    """

    pin: str
    net: str
    signal: str
    found: str
    what: str = ""
    volts_V: float | None = None
    harm: bool = False


def connector_findings(survey: Survey) -> list[Finding]:
    """What is wrong with the connectors of a variant whose pinout is known."""
    return [finding for part in survey.fragment.of_kind(Kind.CONNECTOR) for finding in _judged(survey, part)]


def _judged(survey: Survey, part: Part) -> Iterator[Finding]:
    assert isinstance(part.spec, ConnectorSpec)
    pinout = dict(part.spec.pinout)
    if not pinout:
        return
    fragment = survey.fragment
    nets = {pin: net for pin, net in part.pins.items() if pin in pinout}
    potentials = _potentials(survey)
    wrong = list(_mismatches(fragment, nets, pinout, potentials))
    if wrong:
        counted = _counted_otherwise(fragment, nets, pinout, potentials)
        worst = Severity.DANGER if any(one.harm for one in wrong) else Severity.FAILS
        yield Finding(
            "connector", worst, part.name, case=f"counted-{counted.how}" if counted else "wrong", parts=(part.name,),
            nets=tuple(dict.fromkeys(one.net for one in wrong)), line=part.mark.line, sources=_sources(part.spec),
            words={"type": part.spec.name, **_wrong(wrong), **(counted.words if counted else {})},
            figures={**{f"wrong_{place}_V": one.volts_V for place, one in enumerate(wrong) if one.volts_V is not None},
                     **(counted.figures if counted else {})})
    for pin, net in nets.items():
        if _PULLED.search(pinout[pin]) and not wrong and not _pulled(fragment, net):
            yield Finding(
                "connector", Severity.CAUTION, part.name, case="unpulled", parts=(part.name,), nets=(net,),
                line=part.mark.line, sources=_sources(part.spec), words={"signal": pinout[pin], "pin": pin})


def _wrong(found: Sequence[Mismatch]) -> dict[str, Word]:
    """The pins that are wrong, and of each what it ought to be and what it is."""
    words: dict[str, Word] = {"wrong": tuple(one.pin for one in found)}
    for place, one in enumerate(found):
        words |= {f"wrong_{place}_signal": one.signal, f"wrong_{place}_net": one.found, f"wrong_{place}_what": one.what}
    return words


def _sources(spec: ConnectorSpec) -> tuple[str, ...]:
    return tuple(dict.fromkeys(figure.source for figure in spec.figures))


def _potentials(survey: Survey) -> dict[str, float | None]:
    """Volts of every net with all supplies on and everything as set; empty where they are not known."""
    state = survey.resting(True)
    point = None if state is None else survey.at(state, survey.corners.room)
    return dict(point.volts) if point is not None and point.known else {}


def _mismatches(
    fragment: Fragment, nets: Mapping[str, str], pinout: Mapping[str, str], potentials: Mapping[str, float | None]
) -> Iterator[Mismatch]:
    for pin, net in nets.items():
        wrong = _mismatch(fragment, pin, net, pinout[pin], potentials)
        if wrong is not None:
            yield wrong


def _mismatch(
    fragment: Fragment, pin: str, net: str, signal: str, potentials: Mapping[str, float | None]
) -> Mismatch | None:
    """What a net is that a signal of the pinout must not be, and whether that does harm; None where it fits."""
    def is_found(what: str = "", harm: bool = False, found: str = net, volts_V: float | None = None) -> Mismatch:
        return Mismatch(pin, net, signal, found, what, volts_V, harm)

    wanted_V = supply_V(signal)
    here_V = potentials.get(net)
    rail = fragment.rails.get(net)
    if signal.lower() in _FREE:
        return is_found("supply") if rail is not None else None
    if signal.upper() == "GND":
        if net == fragment.ground:
            return None
        if rail is not None:
            return is_found("supply", harm=True)
        return None if here_V is not None and abs(here_V) < 0.05 else is_found("not ground")
    if wanted_V is not None:
        if net == fragment.ground:
            return is_found(found="ground", harm=True)
        if here_V is None:
            return is_found("not reached") if potentials else None
        within = (WITHIN if wanted_V > 0 else WITHIN_NEGATIVE) * abs(wanted_V)
        if abs(here_V - wanted_V) <= within:
            return None
        return is_found(harm=abs(here_V) > abs(wanted_V) + within or here_V * wanted_V < 0, volts_V=here_V)
    if net == fragment.ground:
        return is_found(found="ground")
    return is_found("supply", harm=True) if rail is not None else None


def supply_V(signal: str) -> float | None:
    """The volts of a supply pin from its signal; None for any other.

    >>> supply_V("+5V"), supply_V("-12V"), supply_V("5VSB"), supply_V("data")
    (5.0, -12.0, 5.0, None)
    """
    found = _SUPPLY.fullmatch(signal.strip())
    return None if found is None else float(f"{found[1]}{found[2]}")


def _counted_otherwise(
    fragment: Fragment, nets: Mapping[str, str], pinout: Mapping[str, str], potentials: Mapping[str, float | None]
) -> Counted | None:
    """The other way of counting that makes every pin fit; None where there is none."""
    for counted, order in ways_to_count(sorted(pinout, key=_number)):
        moved = {order[pin]: net for pin, net in nets.items() if pin in order}
        free = any(pinout.get(order[pin], "").lower() in _FREE and pinout[pin].lower() not in _FREE
                   for pin in nets if pin in order)  # what fits a pin that carries nothing proves nothing
        if len(moved) == len(nets) and set(moved) <= set(pinout) and not free and \
                not any(True for _ in _mismatches(fragment, moved, pinout, potentials)):
            return counted
    return None


class Counted(Struct, frozen=True):
    """How the pins were perhaps counted."""

    how: str
    words: Mapping[str, Word] = field(default_factory=dict)
    figures: Mapping[str, float] = field(default_factory=dict)


def ways_to_count(pins: list[str]) -> Iterator[tuple[Counted, dict[str, str]]]:
    """Other orders in which a person may have counted: each with its name, and the pin that each one then is."""
    last = len(pins)
    yield Counted("mirrored"), dict(zip(pins, reversed(pins), strict=True))
    if last % 2 == 0:
        pairs = {pins[i]: pins[i + 1 if i % 2 == 0 else i - 1] for i in range(last)}
        yield Counted("rows"), pairs
        half = last // 2
        across = {pins[i]: pins[2 * i if i < half else 2 * (i - half) + 1] for i in range(last)}
        yield Counted("across"), across
        yield Counted("along"), {there: here for here, there in across.items()}
        yield Counted("halves"), {pins[i]: pins[(i + half) % last] for i in range(last)}
    if last == 5:  # a five-pin round socket is numbered 1, 4, 2, 5, 3 along its arc (IEC 60130-9)
        yield Counted("behind"), dict(zip(pins, (pins[i] for i in (2, 1, 0, 4, 3)), strict=True))
    for turn in range(1, last):
        yield Counted("later", {"later": "one"} if turn == 1 else {}, {"later_count": turn}), {
            pins[i]: pins[(i + turn) % last] for i in range(last)}
    for one, other in combinations(pins, 2):
        yield Counted("exchanged", {"exchanged": (one, other)}), {
            pin: other if pin == one else one if pin == other else pin for pin in pins}


def _number(pin: str) -> tuple[int, str]:
    return (int(pin), "") if pin.isdigit() else (10**6, pin)


def _pulled(fragment: Fragment, net: str) -> bool:
    """Whether something of the section may hold a line up: a resistance on it, or a chip whose insides nobody gave."""
    return any(net in part.nets for part in fragment.of_kind(*OHMIC))
