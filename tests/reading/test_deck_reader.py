"""A SPICE deck becomes a fragment. Outside: the decks' own operating points by `ngspice -b`.

The circuits are those of published examples, written anew: the voltage divider and the resistor bridge of PySpice's
documentation (examples, "spice-examples"), the diode with its resistor of the same ("diode characteristic curve"),
and the RTL inverter of the SPICE3 user's manual, appendix A (from memory).
"""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner

import netcheck
from netcheck.api import at_temperature
from netcheck.cli import main
from netcheck.fragment.states import enumerate_states
from netcheck.parts.catalogue import Catalogue
from netcheck.reading.deck_reader import NoDeck, read_deck, spice_number
from netcheck.simulation.assemble import circuit_of
from netcheck.simulation.operating_point import solve
from netcheck.solving.solved_states import Corners

DECKS = {
    "divider": "Voltage divider\nVin in 0 10\nR1 in out 9k\nR2 out 0 1k\n",
    "bridge": "Resistor bridge\nVin 1 0 DC 10\nR1 1 2 2k\nR2 1 3 1k\nR3 2 0 1k\nR4 3 0 2k\nR5 3 2 2k\n",
    "diode": "Diode and resistor\nVIN IN 0 10V\nR1 IN OUT 1kohm\nD1 OUT 0 1N4148\n"
             ".model 1N4148 D(IS=4.352nA N=1.906\n+ RS=0.6458 BV=110)\n.op\n",
    "two diodes": "A rail and a cell to one net\nV1 +5V 0 5\nVB CELL 0 DC 3.0\nD1 +5V OUT DX\nD2 CELL OUT DX\n"
                  "R1 OUT 0 47K\n.MODEL DX D (IS=2.52n N=1.752 RS=.568)\n",
    "meter": "An ammeter is a source of 0 V\nV1 a 0 12\nR1 a b 1.5k\nVmeas b c 0\nR2 c 0 2.2k\nL1 b d 10u\nR3 d 0 1MEG"
             "\n",
    "RTL inverter": "Simple RTL inverter\nVCC 4 0 5\nVIN 1 0 PULSE 0 5 2NS 2NS 2NS 30NS\nRB 1 2 10K\nQ1 3 2 0 Q1\n"
                    "RC 3 4 1K\n.MODEL Q1 NPN BF=20 TF=.1NS CJC=2PF\n.TRAN 1NS 100NS\n",
    "bipolar on": "A transistor that is on\nVCC c 0 5\nRB c b 100k\nRC c k 1k\nQ1 k b 0 QX\n"
                  ".model QX NPN(IS=1e-14 BF=100)\n",
}


def by_ngspice(deck: str, folder: Path) -> dict[str, float]:
    """Node to volts at 27 °C, where the parameters of the models hold in both programs."""
    file = folder / "deck.cir"
    plain = "\n".join(line for line in deck.splitlines() if not re.match(r"\.(op|tran)\b", line, re.IGNORECASE))
    file.write_text(f"{plain}\n.options temp=27 tnom=27 reltol=1e-6\n"
                    ".control\nset numdgt=10\nop\nprint all\n.endc\n.end\n")
    said = subprocess.run(["ngspice", "-b", str(file)], capture_output=True, text=True, check=False).stdout
    return {re.sub(r"^v\((.*)\)$", r"\1", node, flags=re.IGNORECASE).lower(): float(volts)
            for node, volts in re.findall(r"^(\S+) = (\S+)$", said, re.MULTILINE) if "#" not in node}


def by_fragment(text: str) -> dict[str, float | None]:
    fragment = at_temperature(netcheck.loads(text), (27.0, 27.0))
    state = next(one for one in enumerate_states(fragment).states if all(one.supplies.values()))
    (point,) = solve([circuit_of(fragment, state, Corners.of(fragment).room)])
    assert point.problem is None
    return dict(point.volts)


@pytest.mark.parametrize("name", DECKS)
def test_operating_point_of_the_fragment_is_that_of_the_deck(name: str, tmp_path: Path) -> None:
    expected = by_ngspice(DECKS[name], tmp_path)
    read = read_deck(DECKS[name], f"{name}.cir", Catalogue.standard())
    assert read.left_out == ()
    found = {re.sub(r"^n(?=\d)", "", net.lower()): volts for net, volts in by_fragment(read.text).items()}
    assert expected
    assert {node: found[node] for node in expected} == pytest.approx(expected, rel=2e-4, abs=1e-5)


def test_numbers_are_read_as_spice_reads_them() -> None:
    """ngspice user's manual, section "Some naming conventions": the scale factors and what follows them."""
    for text, value in {"1000": 1e3, "1e3": 1e3, "1kOhm": 1e3, "1M": 1e-3, "1Meg": 1e6, "1MEGOhm": 1e6, "2.2uF": 2.2e-6,
                        "1F": 1e-15, "10mil": 254e-6, "4k7": 4e3, "-5V": -5.0, "1T": 1e12}.items():
        assert spice_number(text) == pytest.approx(value, rel=1e-12)
    for text in ("", "k", "{R}", "a1", "1+2"):
        with pytest.raises(ValueError, match="no number"):
            spice_number(text)


def test_what_cannot_be_taken_over_is_listed_with_its_line(tmp_path: Path) -> None:
    deck = tmp_path / "section.cir"
    deck.write_text("Section\nR1 a 0 1k\nR2 a 0 {x}\nE1 a b c d 2\nX1 a b sub\n.subckt sub a b\nR9 a b 1\n.ends\n"
                    ".include other.lib\nD1 a 0 NOSUCH\nR1 a b 2k\nD2 a 0 D1N4148\n.tran 1m 1\n.end\n")
    result = CliRunner().invoke(main, ["start", "--from", str(deck), str(tmp_path / "new.yaml")])
    assert result.exit_code == 0
    for line in (3, 4, 5, 6, 7, 8, 9, 10, 11):
        assert f"section.cir:{line}: not taken over" in result.output
    text = (tmp_path / "new.yaml").read_text()
    assert "D2: {diode: 1N4148, anode: a, cathode: GND}" in text
    assert set(netcheck.load(tmp_path / "new.yaml").parts) == {"R1", "D2"}


def test_names_that_yaml_would_take_otherwise_are_quoted() -> None:
    read = read_deck('A: "title" # 1\nV1 on 0 5\nR1 on a:b 1k\nR2 a:b 0 1k\n', "x.cir", Catalogue.standard())
    fragment = netcheck.loads(read.text)
    assert fragment.title == 'A: "title" # 1'
    assert set(fragment.nets) == {"GND", "on", "a:b"}


def test_text_that_is_no_deck_is_refused_by_the_command(tmp_path: Path) -> None:
    deck = tmp_path / "x.cir"
    for content in ("", "hello\nthis is a letter\n", "title\n" + "R1 a b 1\n" * 30_000):
        deck.write_text(content)
        result = CliRunner().invoke(main, ["start", "--from", str(deck)])
        assert result.exit_code == 2
        assert "x.cir" in result.output
    with pytest.raises(NoDeck):
        read_deck("", "x", Catalogue.standard())
