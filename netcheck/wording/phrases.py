"""Phrases beside the findings: what would explain a reading, what a diode or a choice of resistors comes to, cures."""

from __future__ import annotations

from collections.abc import Mapping

from netcheck.wording.sentence import Given, Word, filled

PHRASES: Mapping[str, str] = {
    # what may be wrong at the bench
    "leaky": "{part} leaky (about {leak_ohm})",
    "off-value": "{part} {times} its value, {value_ohm} ({why})",
    "spent": "{part} spent (about {left_V:2})",
    "without-meter": "{free_V:4} without the meter",
    # what a diode comes to
    "load-harmed": "{load} gets {volts_V} while live and stands {limit_V}, whichever diode is fitted",
    "fresh-too-low": "{fresh_V} on a fresh cell is below the {needs_V} needed",
    "leaks-beyond-limit": "leaks {leak_A:2} into the cell, hot, where makers allow {limit_A}",
    "leaks-beyond-share": "leaks into the cell: {share..allowed_share:against}",
    "drains": "drains the cell into the dead rail: {out_A:2} hot, more than the load itself takes",
    "worst-leaks": "the worst specimen leaks into the cell: {share..allowed_share:against}",
    "old-too-low": "an old cell leaves {old_V}, {margin_V:margin}",
    "worst-too-low": "an old cell leaves {lowest_V} at the worst, {margin_V:margin}",
    "thin": "an old cell leaves {margin_V:margin} only at the worst",
    "good": "{old_V} left with an old cell[, and at most {share} of the capacity leaks in]",
    "leaves": "{diodes} leaves {load} {fresh_V} fresh and {old_V} old[, with {leak_A:2} leaking into the cell]",
    "fault-within": "{fault_A} would then flow into {cell}, within the {allowed_A} it may take in a fault: leave in "
                    "what keeps it so.",
    "fault-beyond": "{fault_A} would then flow into {cell}, which may take {allowed_A} in a fault.[ At least "
                    "{lead_ohm} in its lead keeps it within that[, and costs {lead_costs_V} of backup].] A second "
                    "diode in series does it too[, and costs {diode_costs_V} of backup][: with an old cell {load} then "
                    "gets {short_V} and needs {needs_V}].",
    "with-resistor": "with a resistor of {lead_ohm}",
    # why no choice of resistors was found
    "wanted-harms": "{wanted_V} are wanted, and a load survives {limit_V}: nothing safe can give that.",
    "too-few-settings": "{wanted_count} outputs are wanted and there are {settings_count} settings: add links.",
    "misses": "the best misses a wanted output by {error_share}: take a finer series, pairs, more links, or keep fewer "
              "resistors.",
    "no-values": "no values keep every setting below the {limit_V} that a load survives: ask for lower outputs, fewer "
                 "links or other values.",
    "one-value": "{each_ohm}",
    "two-values": "two of {each_ohm} in {how}",
    # what a report begins with
    "pushes": "{source} pushes {most_A} into {cell}[ through {through}][ in state {when}]; {kind} {never}",
    "pushes-usually": "{source} pushes {usual_A} ({most_A} at worst) into {cell}[ through {through}][ in state "
                      "{when}]; {kind} {never}",
    "leaks": "{who} leak{who:s} {share:whole} {cell}'s capacity into it over {service_years} ({share_maximum:alone} at "
             "worst)[; fine up to {fine_h} under power a day, a worst specimen in a hot case up to {fine_worst_h}]",
    "would-go-not-stated": "should {part} {fails}, {fault_A} would go into {cell}; what it may take in a fault is not "
                           "stated",
    "would-go-beyond": "should {part} {fails}, {fault_A} would go into {cell}; {allowed_A} is the most that it may "
                       "take in a fault",
    "would-go-within": "should {part} {fails}, {fault_A} would go into {cell}; within the {allowed_A} that it may take "
                       "in a fault",
    "short-of": "{loads:runs} get{loads:s} {lowest_V} at the worst and need{loads:s} {needs_V}: {margin_V:margin}",
    "never-kept": "{cell}, though not empty, leaves {load} less than {least_V} from the first day",
    "perhaps-never-kept": "{cell} lasts {lasts} with typical figures, with the makers' worst ones not a day",
    "empty": "{cell} is empty",
    "shorted": "{cell} is soon empty, as what it gives at rest flows past the loads",
    "supplied": "{loads:runs} get{loads:s} {lowest_V} at the worst and need{loads:s} {needs_V}",
    # cures, and what they lead to
    "lower-resistor": "fit {value_ohm} as {part}",
    "lead-resistor": "put {value_ohm} in {cell}'s plus lead",
    "lead-diode": "put {diode:an} in {cell}'s {pin} lead",
    "diode-in-place": "fit {diode:an} in place of {part}",
    "both": "{first} and {second}",
    "zener": "fit {zener:an} across {load}'s supply",
    "zener-from": "fit {zener:an} from {net} to ground",
    "pull": "pull {net} to ground with {value_ohm}",
    "by-rail": "feed {load} from {net}",
    "coin-cell": "fit a {coin} as {cell}[ and remove {parts}]",
    "bridged": "take {cell} out and put a wire in its place",
    "with-lead": "{cure}, with {value_ohm} in its plus lead",
    "no-charge": "nothing charges a cell[ and {lowest_V} are left at the worst]",
}


def phrase(case: str, **held: float | Word | None) -> str:
    """A phrase with its holes filled; what is None has nothing to say.

    >>> phrase("leaky", part="R1", leak_ohm=1e5), phrase("no-charge", lowest_V=None)
    ('R1 leaky (about 100 kΩ)', 'nothing charges a cell')
    """
    given = Given(figures={name: value for name, value in held.items() if isinstance(value, (int, float))},
                  words={name: value for name, value in held.items() if isinstance(value, (str, tuple))})
    return filled(PHRASES[case], given)
