"""When a way through a chip is open in a state of the board."""

from __future__ import annotations

from netcheck.fragment.model import ChipPath, Fragment, Part
from netcheck.fragment.states import State
from netcheck.parts.specs import ChipSpec


def is_open(path: ChipPath, fragment: Fragment, state: State) -> bool:
    """Whether a path through a chip may carry current in a state.

    What hangs on volts that the state does not fix counts as open: that is the worse case. What a program alone
    switches on counts as off; checks/chips.py asks for it switched on.
    """
    if path.software:
        return False
    stands = {
        **{name: "on" if on else "off" for name, on in state.supplies.items()}, **state.positions,
        **{name: "plugged" if there else "unplugged" for name, there in state.plugged.items()},
    }
    if any(stands.get(name, position) != position for name, position in path.when.items()):
        return False
    for net, span in path.when_volts.items():
        volts = _fixed_V(fragment, net, state)
        if volts is not None and not span.low <= volts <= span.high:
            return False
    return True


def may_fail(part: Part, path: ChipPath) -> bool:
    """Whether a way that is not open may fail short: not one that a program switches, nor in a chip that was tested."""
    return not path.software and not (isinstance(part.spec, ChipSpec) and part.spec.recognised)


def _fixed_V(fragment: Fragment, net: str, state: State) -> float | None:
    """The nominal volts of a net that is held in this state; None of one that is not."""
    if net == fragment.ground:
        return 0.0
    rail = fragment.rails.get(net)
    if rail is None:
        return None
    if state.supplies.get(rail.supply, False):
        return rail.volts.value
    return 0.0 if rail.when_off == "low" else None
