"""Warnings about the tracing: each on a board that has just that flaw, none on a sound one."""

from __future__ import annotations

import pytest
from made_points import sound

import netcheck
from netcheck.checks.tracing import _SHOWN, warnings
from netcheck.findings import Severity
from netcheck.fragment.mods import apply
from netcheck.reading.reader import loads
from netcheck.reports.answer import answer

SOUND = """\
title: t
rails: {+5V: 5 V}
parts:
  R1: {resistor: 4k7, between: [+5V, A], marked: 472}
  D1: {diode: {zener: 3.3 V}, anode: GND, cathode: A}
  U1: {load: 2 uA, plus: A, minus: GND}
"""
CELL = "{cell: {chemistry: alkaline, volts: 3, capacity: 1 Ah, resistance: 1}"


def test_sound_board_is_silent() -> None:
    assert warnings(loads(SOUND)) == ()


@pytest.mark.parametrize(("part", "subject", "said"), [
    ("R2: {resistor: 1k, between: [A, B]}", "R2", "the net B has a single pin, R2.2"),
    ("R2: {resistor: 1k, between: [RAMPIN24, RAMPN24]}\n  R3: {resistor: 1k, between: [A, RAMPIN24]}", "R2",
     "the net RAMPN24 has a single pin, R2.2; did you mean RAMPIN24?"),
    ("R2: {resistor: 1k, between: [X, Y]}", "R2", "R2 floats"),
    ("R2: {resistor: 1k, between: [A, A]}", "R2", "both pins of R2 are on the net A"),
    ("BT1: " + CELL + ", plus: GND, minus: A}", "BT1", "BT1 looks backwards"),
    ("Q7: {resistor: 1k, between: [A, GND]}", "Q7", "unusual designator for a resistor"),
    ("R2: {resistor: 470m, between: [A, GND]}", "R2", '"470m" was read as 470 mΩ'),
    ("C2: {capacitor: 100, between: [A, GND]}", "C2", '"100" was read as 100 F'),
    ("U2: {load: 50 A, plus: A, minus: GND}", "U2", "improbable for a load"),
    ("D2: {diode: {zener: 500 V}, anode: A, cathode: GND}", "D2", "improbable for a zener"),
    ("R2: {resistor: 10k, between: [A, GND], marked: 472}", "R2", "but the file says 10 kΩ"),
    ("L2: {inductor: 10 uH, between: [A, GND], marked: 101}", "L2", "but the file says 10 µH"),
    ("C2: {capacitor: 10 nF, between: [A, GND], marked: 104}", "C2", "but the file says 10 nF"),
    ("RV2: {trimmer: 500m, ends: [A, GND], wiper: A}", "RV2", "was read as 500 mΩ, improbable for a trimmer"),
    ("F2: {fuse: 5000, between: [A, GND]}", "F2", "was read as 5 kA, improbable for a fuse"),
    ("R2: {resistor: 10k, between: [A, GND], marked: smudge}", "R2", "no code that is known"),
    ("R2: {resistor: 10k, between: [a, GND]}\n  R3: {resistor: 10k, between: [A, a]}", "R2",
     "the nets A and a differ only in capitals"),
    ("R2: {resistor: 10k, between: [A, NC]}\n  R3: {resistor: 10k, between: [A, NC]}", "R2",
     "the net NC joins"),
    ("J1: {connector: unknown, pins: {1: A, 2: B, 3: C}}", "J1", "nothing else is on the nets B, C of J1"),
    ("U2: {load: 1 mA, plus: B, minus: GND}\n  C2: {capacitor: 1u, between: [B, A]}", "U2",
     "U2 has no source"),
])
def test_flaw_is_told_with_its_line(part: str, subject: str, said: str) -> None:
    fragment = loads(SOUND + "  " + part + "\n")
    (found,) = [finding for finding in sound(warnings(fragment), fragment) if said in finding.message]
    assert (found.check, found.subject) == ("tracing", subject)
    assert found.severity in (Severity.CAUTION, Severity.NOTE)
    assert found.line is not None
    assert found.line >= 7
    assert found.advice


def test_a_net_that_a_mod_cut_is_not_one_left_untraced() -> None:
    mod = "mods: {out: {steps: [{remove: R3}]}}\n"
    text = SOUND + "  R2: {resistor: 1k, between: [A, B]}\n  R3: {resistor: 1k, between: [B, GND]}\n"
    assert warnings(apply(loads(text + mod), "out")) == ()
    loose = SOUND + "  R2: {resistor: 1k, between: [A, B]}\n  R3: {resistor: 1k, between: [A, GND]}\n"
    assert [one.case for one in warnings(apply(loads(loose + mod), "out"))] == ["single-pin"]


def test_of_many_loose_pins_the_first_are_named() -> None:
    for count in (_SHOWN, _SHOWN + 1):
        pins = ", ".join(f"{pin}: N{pin}X" for pin in range(1, count + 1))
        fragment = loads(SOUND + f"  J1: {{connector: unknown, pins: {{90: A, {pins}}}}}\n")
        (found,) = sound(warnings(fragment), fragment)
        assert ("…" in found.message) is (count > _SHOWN)
        assert f"N{_SHOWN}X" in found.message
        assert f"N{_SHOWN + 1}X" not in found.message


def test_what_a_list_of_parts_names_need_not_be_joined() -> None:
    text = SOUND.replace("title: t", "title: t\nscope: list") + "  R2: {resistor: 1k, between: [A, B]}\n"
    assert warnings(loads(text)) == ()


def test_improbable_rail() -> None:
    (found,) = warnings(loads(SOUND.replace("5 V}", "5 kV}")))
    assert (found.subject, found.line) == ("+5V", 2)


def test_load_behind_a_jumper_and_a_cell_has_a_source() -> None:
    text = (SOUND + "  JP1: {jumper: [B, C]}\n  U2: {load: 1 mA, plus: C, minus: GND}\n"
            f"  BT1: {CELL}, plus: B, minus: GND}}\n")
    assert warnings(loads(text)) == ()


def test_ground_that_nobody_is_on_and_empty_net() -> None:
    found = warnings(loads("title: t\nrails: {+5V: 5 V}\nparts: {R1: {resistor: 1k, between: [+5V, A]}, "
                           "R2: {resistor: 1k, between: [+5V, A]}}\nnets: {B: []}\n"))
    assert [finding.subject for finding in found] == ["GND", "B"]


def test_unfitted_part_is_not_judged() -> None:
    assert warnings(loads(SOUND + "  R2: {resistor: 470m, between: [X, Y], fitted: no}\n")) == ()


def test_warnings_come_in_file_order() -> None:
    text = SOUND + "  R2: {resistor: 1k, between: [A, B]}\n  R3: {resistor: 1k, between: [A, C]}\n"
    assert [finding.line for finding in warnings(loads(text))] == [7, 8]


def test_a_net_that_differs_in_capitals_alone_is_asked_about() -> None:
    text = SOUND + "  R2: {resistor: 1k, between: [A, CELL]}\n  R3: {resistor: 1k, between: [CELL, GND]}\n"
    found = warnings(loads(text + "  R4: {resistor: 1k, between: [A, cell]}\n"))
    assert [one.words["meant"] for one in found if one.case == "single-pin"] == ["CELL"]


@pytest.mark.parametrize(("written", "meant"), [("GMD", "GND"), ("GDN", "GND"), ("VBAK", None), ("GNX", None)])
def test_a_short_net_one_letter_off_another_is_asked_about(written, meant):
    found = loads(f"""
title: slip
rails: {{+5V: 5 V}}
parts:
  R1: {{resistor: 1k, between: [+5V, OUT]}}
  R2: {{resistor: 1k, between: [OUT, GND]}}
  U1: {{load: 2 uA, plus: OUT, minus: {written}, works: 2 V to 5.5 V}}
""")
    single = next(one for one in warnings(found) if one.case == "single-pin")
    assert single.words.get("meant") == meant


def test_rails_against_a_ground_that_no_part_is_on_are_not_judged():
    """The charger through R1 has no way back, as the file's ground is its net 0 and not GND."""
    board = """
title: ground by another name
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CELL, minus: '0'}
  R1: {resistor: 1k, between: [+5V, CELL]}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: '0'}
"""
    found = netcheck.check(netcheck.loads(board)).variants[-1]
    assert found.verdict == "unknown"
    assert [str(one.severity) for one in found.findings if one.case == "no-ground"] == ["unknown"]
    assert netcheck.check(netcheck.loads(board + "ground: '0'\n")).verdict == "danger"


CELL_SLIP = """
title: t
rails: {+5V: 5 V}
parts:
  BT1: {cell: CR2032, plus: CE1L, minus: GND}
  R1: {resistor: 1k, between: [+5V, CELL]}
  D1: {diode: 1N4148, anode: CELL, cathode: VRAM}
  U1: {load: 2 uA, plus: VRAM, minus: GND, works: 2 V to 5.5 V, kept: no}
"""


def test_a_cell_that_hangs_on_a_misspelt_net_is_not_judged_and_the_answer_says_so_first():
    fragment = netcheck.loads(CELL_SLIP)
    (variant,) = netcheck.check(fragment).variants
    assert variant.verdict == "unknown"
    said = answer(variant, fragment).sentence
    assert "did you mean CELL?" in said
    assert said.endswith("What follows holds for the net as it is written.")


@pytest.mark.parametrize("net", ["CE1L", "HOLD"])
def test_a_resistor_on_a_net_of_one_pin_stays_a_caution(net):
    text = CELL_SLIP.replace("CE1L", "CELL").replace("[+5V, CELL]", f"[+5V, {net}]")
    (found,) = (one for one in warnings(netcheck.loads(text)) if one.case == "single-pin")
    assert str(found.severity) == "caution"
    assert found.words.get("meant") == ("CELL" if net == "CE1L" else None)


def test_of_two_nets_of_one_pin_that_resemble_each_other_one_is_asked_about():
    text = CELL_SLIP
    for old, new in (("CE1L", "CELL"), ("[+5V, CELL]", "[+5V, HLD]"), ("cathode: VRAM", "cathode: HOLD")):
        text = text.replace(old, new)
    found = [one for one in warnings(netcheck.loads(text)) if one.case == "single-pin"]
    assert sorted((one.nets[0], one.words.get("meant")) for one in found if one.nets != ("VRAM",)) == [
        ("HLD", None), ("HOLD", "HLD")]


def looks_backwards(*further: str, rails: str = "+5V: 5 V") -> bool:
    text = "\n  ".join((f"title: t\nrails: {{{rails}}}\nparts:", "BT1: " + CELL + ", plus: PLUS, minus: NEG}",
                        "R1: {resistor: 1k, between: [NEG, OUT]}", *further))
    return any(finding.case == "backwards" for finding in warnings(loads(text + "\n")))


def test_a_cell_looks_backwards_through_what_stands_in_its_lead_and_not_on_a_negative_board() -> None:
    lead = "D1: {diode: 1N4148, anode: PLUS, cathode: GND}"
    plus_rail = "D2: {diode: 1N4148, anode: +5V, cathode: OUT}"
    assert looks_backwards(lead, plus_rail)
    assert not looks_backwards(lead, "D2: {diode: 1N4148, anode: OUT, cathode: -5V}", rails="-5V: -5 V")
    assert looks_backwards(lead, plus_rail, "R2: {resistor: 1k, between: [-5V, GND]}", rails="+5V: 5 V, -5V: -5 V")
    assert not looks_backwards(lead, "U1: {load: 2 uA, plus: GND, minus: OUT}")
    assert not looks_backwards(lead, plus_rail, "R3: {resistor: 1k, between: [PLUS, OUT]}")
