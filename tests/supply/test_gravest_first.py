"""What may destroy something is said before what only keeps it from working; a choice that is not ok says why."""

import netcheck
from netcheck.findings import Severity
from netcheck.reports.choose_text import choices_text
from netcheck.reports.text import report_text
from netcheck.supply.choose import choose, question
from netcheck.supply.drawer import of_series

BOARD = """
title: hot
rails: {+5V: 5 V ±5%}
parts:
  U5: {regulator: LM1084, input: +5V, output: VC, adjust: ADJ, heatsink: 12 K/W}
  R1: {resistor: 100 ±1%, between: [VC, ADJ]}
  R2: {resistor: 160 ±1%, between: [ADJ, GND]}
  U1: {load: {draws: 2 A at 3.3 V, most: 3 A}, plus: VC, minus: GND, works: 3.1 V to 3.6 V, survives: 4.0 V}
"""


def test_heat_and_its_cure_stand_in_the_short_form_before_a_little_dropout():
    fragment = netcheck.loads(BOARD)
    report = netcheck.check(fragment)
    (found,) = [one for one in report.variants[-1].findings if one.check == "setting"
                and one.severity is Severity.CAUTION]
    assert found.words["reasons"] == ("too-hot", "may-drop-out")
    told = " ".join(report_text(report, [fragment]).split())
    assert 0 < told.index("Too hot by 6 K") < told.index("K/W or less holds it") < told.index("It may drop out")


def test_a_choice_that_fails_says_why_and_is_not_offered_without_a_word():
    fragment = netcheck.loads(BOARD)
    asked = question(fragment, fragment.parts["U5"], [2.9], keep=["R1"])
    told = " ".join(choices_text(choose(asked, of_series(24))).split())
    assert "FAILS: U1 gets 2." in told or "FAILS: Too hot" in told
    assert "needs 3.1 V" in told
    assert "FAILS, for what is said above. To paste all the same below mods:" in told
