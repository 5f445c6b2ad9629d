"""Impedance and transients against closed forms, and against `ngspice -b` where it is installed."""

import math
import subprocess

import pytest
from click.testing import CliRunner

import netcheck
from netcheck.capacitors.impedance import Branch, NoNet, curves, made_by
from netcheck.capacitors.stability import together, zero_Hz
from netcheck.capacitors.stress import surge
from netcheck.cli import main
from netcheck.parts.specs import CapacitorSpec
from netcheck.quantities.values import quantity
from netcheck.reports.impedance_text import impedance_svg, impedance_text
from netcheck.simulation.elements import Capacitance, Circuit
from netcheck.simulation.impedance import NoImpedance, close_up, sweep
from netcheck.simulation.transient import charging, command, deck


def board(*lines):
    return netcheck.loads("title: x\nscope: list\nrails: {+5V: 5 V}\nparts:\n" + "".join(f"  {one}\n" for one in lines))


def one(*lines, net="+5V", low=1e3, high=1e8):
    return curves([board(*lines)], net, low, high)[0]


def test_the_series_model_and_its_resonance():
    """|Z| = √(ESR² + (2πfL - 1/(2πfC))²), least and equal to ESR at 1/(2π√(LC)) (a maker's slides on impedance)."""
    found = one("C1: {capacitor: 220u, type: wet, rated: 10 V, esr: 0.16, esl: 15n, plus: +5V, minus: GND}")
    for hertz, ohms in zip(found.hertz, found.ohms, strict=True):
        wanted = math.hypot(0.16, 2 * math.pi * hertz * 15e-9 - 1 / (2 * math.pi * hertz * 220e-6))
        assert ohms == pytest.approx(wanted, rel=1e-4)
    (least,) = found.resonances
    assert (least.kind, least.parts) == ("series", ("C1",))
    assert least.hertz == pytest.approx(87.6e3, rel=5e-3)  # worked: 220 µF with 15 nH (L from memory)
    assert least.ohms == pytest.approx(0.16, rel=1e-3)
    # worked values at 1 kHz, 100 kHz, 1 MHz and 10 MHz (L from memory)
    for hertz, wanted in ((1e3, 0.741), (1e5, 0.160), (1e6, 0.185), (1e7, 0.956)):
        assert found.at(hertz) == pytest.approx(wanted, rel=5e-3)


def test_two_in_parallel_make_a_parallel_resonance_between_their_own():
    """Of low loss, at ω = √((1/C1 + 1/C2)/(L1 + L2)): the loop of both has no reactance."""
    found = one("C1: {capacitor: 10u, type: X7R, rated: 50 V, size: '1210', esr: 2m, esl: 5n, between: [+5V, GND]}",
                "C2: {capacitor: 100n, type: C0G, rated: 50 V, esr: 5m, esl: 1n, between: [+5V, GND]}")
    assert [each.kind for each in found.resonances] == ["series", "parallel", "series"]
    c1 = found.branches[0].farad
    middle = found.resonances[1]
    wanted = math.sqrt((1 / c1 + 1 / 100e-9) / 6e-9) / (2 * math.pi)
    assert middle.hertz == pytest.approx(wanted, rel=5e-3)
    assert middle.parts == ("C1", "C2")
    z1, z2 = (branch.ohms(middle.hertz) for branch in found.branches)
    assert middle.ohms == pytest.approx(abs(z1 * z2 / (z1 + z2)), rel=1e-3)
    for resonance, name, (farad, henry) in zip(found.resonances[::2], ("C1", "C2"), ((c1, 5e-9), (1e-7, 1e-9)),
                                               strict=True):
        assert resonance.parts == (name,)
        assert resonance.hertz == pytest.approx(1 / (2 * math.pi * math.sqrt(farad * henry)), rel=0.03)


def test_ceramics_count_with_what_is_left_of_them():
    """ADP1650, Analog Devices, page 27: 10 µF X5R 6.3 V is 3 µF at 5.0 V; with 0.7 nH it resonates at 3.47 MHz."""
    found = one("C1: {capacitor: 10u, type: X5R, rated: 6.3 V, size: '0603', esr: 5m, esl: 0.7n, between: [+5V, GND]}")
    assert found.branches[0].farad == pytest.approx(3e-6)
    assert found.resonances[0].hertz == pytest.approx(3.47e6, rel=5e-3)


def test_equal_parts_share_evenly_and_are_named_together():
    found = one("C1-C4: {capacitor: 100n, type: X7R, rated: 50 V, between: [+5V, GND]}")
    assert found.resonances[0].parts == ("C1", "C2", "C3", "C4")
    assert found.shares(1e6) == pytest.approx(dict.fromkeys(("C1", "C2", "C3", "C4"), 0.25))


def test_a_resistor_to_ground_counts_and_a_signal_net_does_not():
    found = curves([board("C1: {capacitor: 1u, type: film, rated: 63 V, between: [N, GND]}",
                          "R1: {resistor: 100, between: [N, +5V]}",
                          "C2: {capacitor: 1u, type: film, rated: 63 V, between: [N, M]}")], "N", 10, 1e3)[0]
    assert [branch.part for branch in found.branches] == ["C1"]
    assert found.at(10) == pytest.approx(abs(1 / (1 / 100 + 2j * math.pi * 10 * 1e-6)), rel=1e-3)


def test_where_a_target_is_missed():
    found = one("C1: {capacitor: 1u, type: film, rated: 63 V, esr: 1m, esl: 0.1n, between: [+5V, GND]}", high=1e6)
    (low, high), = found.above(1.0)
    assert low == pytest.approx(1e3)
    assert high == pytest.approx(1 / (2 * math.pi * 1e-6), rel=0.02)
    assert found.above(1e6) == []


def test_a_net_that_has_none_is_answered_with_those_that_do():
    with pytest.raises(NoNet, match=r"no capacitor on 5V; did you mean \+5V"):
        one("C1: {capacitor: 1u, type: film, between: [+5V, GND]}", net="5V")


def test_the_makers_of_a_resonance():
    big, small = Branch("C1", 1e-4, 0.1, 1e-8), Branch("C2", 1e-7, 0.01, 1e-9)
    assert made_by([big, small], 5e6, "parallel") == ("C1", "C2")
    assert made_by([big, small], 1 / (2 * math.pi * math.sqrt(1e-16)), "series") == ("C2",)


def test_a_range_that_does_not_run_upwards():
    circuit = Circuit((Capacitance("C1", "A", "GND", 1e-6),), "GND")
    with pytest.raises(ValueError, match="upwards"):
        sweep(circuit, "A", 1e6, 1e3, 10)
    with pytest.raises(NoImpedance, match="no net B"):
        sweep(circuit, "B", 1e3, 1e6, 10)
    assert close_up(circuit, "A", [], 5) == []


def test_zeros_of_output_capacitors():
    # LP2950/LP2951, National Semiconductor, page 7: 2.2 µF and 5 Ω at 14.5 kHz
    assert zero_Hz(2.2e-6, 5.0) == pytest.approx(14.5e3, rel=3e-3)
    # LM1117: 10 µF and 0.3 Ω; LM2941: 22 µF and 0.1 or 1 Ω (by the same formula)
    assert [round(zero_Hz(*pair) / 1e3, 1) for pair in ((10e-6, 0.3), (22e-6, 0.1), (22e-6, 1.0))] == [53.1, 72.3, 7.2]


def test_output_capacitors_together():
    """Two equal ones in parallel halve the resistance; a ceramic of 1 % beside them changes next to nothing."""
    bulk = CapacitorSpec(quantity("22u", "F"), type="tantalum", rated_V=10.0, esr_ohm=1.0)
    small = CapacitorSpec(quantity("100n", "F"), type="X7R", rated_V=50.0)
    assert together([bulk, bulk]).ohm == pytest.approx(0.5)
    assert together([bulk, small]).ohm == pytest.approx(1.0, rel=0.02)
    assert together([]) is None


def batch(text, analysis):
    """The last line that `ngspice -b` prints for a measurement."""
    run = subprocess.run(["ngspice", "-b"], input=text, capture_output=True, text=True, check=False, timeout=30)
    return next(float(line.split("=")[1].split()[0]) for line in run.stdout.splitlines()
                if line.strip().startswith(analysis))


def test_charging_against_closed_forms():
    """To half the supply a capacitor takes R·C·ln 2; on a ramp its current rises to C·V/t·(1 - exp(-t/RC))."""
    reset = charging(5.0, 1e-7, 10e3, 10e-6, 0.5)
    assert reset.reaches_s(2.5) == pytest.approx(0.1 * math.log(2), rel=1e-3)
    assert reset.reaches_s(6.0) is None
    spec = CapacitorSpec(quantity("47u", "F"), type="tantalum", rated_V=10.0, esr_ohm=0.5)
    found = surge(spec, 5.0, 10.0, 1e-3)
    run = charging(5.0, 1e-3, 10.0, 47e-6, 2e-3, 0.5)
    assert found.amps == pytest.approx(run.peak_A, rel=2e-3)


def test_charging_against_a_run_of_its_own():
    """The same deck through `ngspice -b`."""
    text = deck(5.0, 1e-3, 22e3, 4.7e-6, 1.6)
    run = text.replace("\n.end", f"\n.{command(0.5).removesuffix(' uic')} uic\n"
                                 ".meas tran t_reach when v(n2)=2.5 rise=1\n.end")
    found = charging(5.0, 1e-3, 22e3, 4.7e-6, 0.5, 1.6).reaches_s(2.5)
    assert found == pytest.approx(batch(run, "t_reach"), rel=2e-3)


def test_as_text_and_picture():
    found = curves([board("C1: {capacitor: 220u, type: wet, rated: 10 V, plus: +5V, minus: GND}",
                          "C2, C3: {capacitor: 100n, type: X7R, rated: 50 V, between: [+5V, GND]}")], "+5V", 1e3, 1e8)
    text = impedance_text("+5V", found, 0.05)
    assert max(map(len, text.splitlines())) <= 80
    assert "C2, C3" in text
    assert "Above 50 mΩ from" in text
    svg = impedance_svg("+5V", found, 0.05)
    assert svg.count("<polyline") == 1
    assert ">C2, C3<" in svg


def test_the_command(tmp_path):
    file = tmp_path / "x.yaml"
    file.write_text("title: x\nscope: list\nrails: {+5V: 5 V}\nparts:\n  C1: {capacitor: 1u, type: film, rated: 63 V, "
                    "between: [+5V, GND]}\nmods:\n  more: {steps: [{replace: {C1: {capacitor: 2.2u, type: film}}}]}\n")
    run = CliRunner()
    import json

    data = json.loads(run.invoke(main, ["impedance", str(file), "--at", "+5V", "--format", "json"]).stdout)
    assert data["format"] == "netcheck-impedance/1"
    assert data["at"] == "+5V"
    assert [curve["variant"] for curve in data["curves"]] == ["as found", "more"]
    first = data["curves"][0]
    assert len(first["hz"]) == len(first["ohms"]) >= 400
    assert {"hz", "ohms", "kind", "parts"} == set(first["resonances"][0])
    picture = tmp_path / "rail.svg"
    assert run.invoke(main, ["impedance", str(file), "--at", "+5V", "-o", str(picture)]).exit_code == 0
    assert picture.read_text(encoding="utf-8").startswith("<svg")
    for wrong in (["--at", "GND2"], ["--at", "+5V", "--from", "1 MHz", "--to", "1 kHz"],
                  ["--at", "+5V", "--target", "5 V"], ["--at", "+5V", "-o", str(tmp_path / "x.gif")]):
        assert run.invoke(main, ["impedance", str(file), *wrong]).exit_code == 2
