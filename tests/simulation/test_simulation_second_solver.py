"""A second opinion: random networks solved by Newton's method in full, written down from the elements' definitions."""

import numpy as np
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from netcheck.simulation.elements import Battery, Circuit, Draw, Junction, Resistance, Source
from netcheck.simulation.operating_point import solve

NETS = ("GND", "A", "B", "C", "D", "E")
DIODES = {
    "silicon": {"saturation_A": 2.5e-9, "emission": 1.75, "series_ohm": 0.57, "leakage_A": 25e-9,
                "leakage_at_V": 20.0},
    "schottky": {"saturation_A": 1e-7, "emission": 1.05, "series_ohm": 2.6, "leakage_A": 2e-6,
                 "leakage_at_V": 25.0, "leakage_power": 0.4},
    "low leakage": {"saturation_A": 1e-14, "emission": 1.1, "series_ohm": 1.0, "leakage_A": 5e-12,
                    "leakage_at_V": 75.0},
    "plain": {"saturation_A": 1e-12, "emission": 1.0, "series_ohm": 0.1},
}


def thermal_V(temperature_C):
    """kT/q with the constants that ngspice has compiled in, so that what is compared is the solving."""
    return 1.38064852e-23 / 1.6021766208e-19 * (temperature_C + 273.15)


def diode_law(diode, volts, slope_V):
    """Forward current of the inner junction and its derivative."""
    grown = np.exp(min(volts / slope_V, 200.0))
    return diode.saturation_A * (grown - 1), diode.saturation_A * grown / slope_V


def leakage_law(diode, volts, slope_V):
    """The extra reverse current, anode to cathode, and its derivative, against the outer volts."""
    if not diode.leakage_A or volts >= 0:
        return 0.0, 0.0
    back = -volts
    p = diode.leakage_power if back > 0.5 else 0.0  # the power law stands still below half a volt
    grown = diode.leakage_A * (max(back, 0.5) / diode.leakage_at_V) ** diode.leakage_power
    rest = np.exp(-back / slope_V)
    slope = (p * grown / back if p else 0.0) * (1 - rest) + (grown - diode.saturation_A) * rest / slope_V
    return -(grown - diode.saturation_A) * (1 - rest), slope


def load_law(load, volts):
    wanted = load.amps + load.siemens * (volts - load.at_V)
    shape = np.tanh(volts / load.knee_V)
    if wanted <= 0:
        return 0.0, 0.0
    return wanted * shape, load.siemens * shape + wanted * (1 - shape**2) / load.knee_V


class Newton:
    """Unknowns: every net but ground, the inner node of each diode and battery, the current of each source."""

    def __init__(self, circuit):
        self.circuit = circuit
        self.rows = {net: row for row, net in enumerate(NETS[1:])}
        for element in circuit.elements:
            if isinstance(element, (Junction, Source, Battery)):
                self.rows[element] = len(self.rows)

    def value(self, x, key):
        return 0.0 if key == "GND" else x[self.rows[key]]

    def equations(self, x, scale, shunt):
        """Currents that leave each net (to become zero), and their derivatives; sources at `scale` of their volts."""
        f, jacobian = np.zeros(len(x)), np.zeros((len(x), len(x)))

        def flow(a, b, amps, slope):
            for here, sign in ((a, 1.0), (b, -1.0)):
                if here != "GND":
                    f[self.rows[here]] += sign * amps
                    for there, way in ((a, 1.0), (b, -1.0)):
                        if there != "GND":
                            jacobian[self.rows[here], self.rows[there]] += sign * way * slope

        for net in NETS[1:]:
            flow(net, "GND", shunt * self.value(x, net), shunt)
        for e in self.circuit.elements:
            if isinstance(e, Resistance):
                flow(e.a, e.b, (self.value(x, e.a) - self.value(x, e.b)) / e.ohm, 1 / e.ohm)
            elif isinstance(e, Draw):
                flow(e.plus, e.minus, *load_law(e, self.value(x, e.plus) - self.value(x, e.minus)))
            elif isinstance(e, Junction):
                slope_V = e.emission * thermal_V(self.circuit.temperature_C)
                inner = self.value(x, e)
                flow(e.anode, e, (self.value(x, e.anode) - inner) / e.series_ohm, 1 / e.series_ohm)
                flow(e, e.cathode, *diode_law(e, inner - self.value(x, e.cathode), slope_V))
                flow(e.anode, e.cathode,
                     *leakage_law(e, self.value(x, e.anode) - self.value(x, e.cathode), slope_V))
            elif isinstance(e, Battery):
                held = scale * e.volts - (self.value(x, e.plus) - self.value(x, e.minus))
                flow(e.minus, e.plus, held / e.ohm, 1 / e.ohm)
                f[self.rows[e]] = x[self.rows[e]] - held / e.ohm
                jacobian[self.rows[e], self.rows[e]] = 1.0
                for net, sign in ((e.plus, 1.0), (e.minus, -1.0)):
                    if net != "GND":
                        jacobian[self.rows[e], self.rows[net]] += sign / e.ohm
            else:
                row = self.rows[e]
                f[row] = self.value(x, e.plus) - self.value(x, e.minus) - scale * e.volts
                for net, sign in ((e.plus, 1.0), (e.minus, -1.0)):
                    if net != "GND":
                        f[self.rows[net]] -= sign * x[row]
                        jacobian[self.rows[net], row] -= sign
                        jacobian[row, self.rows[net]] += sign
        return f, jacobian

    def solve(self):
        x = np.zeros(len(self.rows))
        for scale, shunt in [(0.25, 1e-3), (0.5, 1e-4), (1.0, 1e-4), (1.0, 1e-6), (1.0, 1e-9), (1.0, 0.0)]:
            x = self.descend(x, scale, shunt)
        return x

    def descend(self, x, scale, shunt):
        for _ in range(2000):
            f, jacobian = self.equations(x, scale, shunt)
            step = np.linalg.solve(jacobian, -f)
            volts = step[: len(NETS) - 1]
            inner = [step[self.rows[e]] for e in self.circuit.elements if isinstance(e, Junction)]
            farthest = max(np.abs(volts).max(), np.abs(inner).max() if inner else 0.0)
            x = x + step * min(1.0, 0.1 / farthest if farthest else 1.0)
            if np.abs(step).max() < 1e-13:
                break
        return x


nets = st.sampled_from(NETS)
pairs = st.tuples(nets, nets).filter(lambda pair: pair[0] != pair[1])
ohms = st.sampled_from([33.0, 470.0, 1e3, 4.7e3, 22e3, 100e3, 1e6])


@st.composite
def circuits(draw):
    """Every net hangs on a resistor to one before it; then diodes, loads, cells and one or two rails."""
    elements = [
        Resistance(f"R{place}", NETS[place], NETS[draw(st.integers(0, place - 1))], draw(ohms))
        for place in range(1, len(NETS))
    ]
    rails = draw(st.lists(st.sampled_from(NETS[1:]), min_size=1, max_size=2, unique=True))
    elements += [Source(f"V{net}", net, "GND", draw(st.sampled_from([0.0, 3.3, 5.0, 12.0, -12.0]))) for net in rails]
    for place in range(draw(st.integers(1, 5))):
        law = DIODES[draw(st.sampled_from(sorted(DIODES)))]
        elements.append(Junction(f"D{place}", *draw(pairs), **law))
    for place in range(draw(st.integers(0, 2))):
        a, b = draw(pairs)
        elements.append(Battery(f"BT{place}", a, b, draw(st.sampled_from([1.2, 3.0, 3.6])), 15.0))
    for place in range(draw(st.integers(0, 2))):
        a, b = draw(pairs)
        elements.append(Draw(f"U{place}", a, b, draw(st.sampled_from([2e-6, 1e-3])), 3.0,
                             draw(st.sampled_from([0.0, 1e-7]))))
    return Circuit(tuple(elements), "GND", draw(st.sampled_from([0.0, 25.0, 60.0])))


@settings(max_examples=80, deadline=None, derandomize=True, phases=[Phase.generate])
@given(circuits())
def test_both_solvers_agree(circuit):
    newton = Newton(circuit)
    x = newton.solve()
    residual = np.abs(newton.equations(x, 1.0, 0.0)[0]).max()
    assert residual < 1e-10, "the second solver has not converged"
    (point,) = solve([circuit])
    assert point.problem is None
    for net in NETS[1:]:
        assert abs(point.volts[net] - newton.value(x, net)) < 1e-4
    for element in circuit.elements:
        if isinstance(element, (Source, Battery)):
            wanted = x[newton.rows[element]]
        elif isinstance(element, Junction):
            inner, anode = newton.value(x, element), newton.value(x, element.anode)
            slope_V = element.emission * thermal_V(circuit.temperature_C)
            outer = anode - newton.value(x, element.cathode)
            wanted = (diode_law(element, inner - newton.value(x, element.cathode), slope_V)[0]
                      + leakage_law(element, outer, slope_V)[0])
        elif isinstance(element, Draw):
            wanted = load_law(element, newton.value(x, element.plus) - newton.value(x, element.minus))[0]
        else:
            wanted = (newton.value(x, element.a) - newton.value(x, element.b)) / element.ohm
        assert abs(point.amps[element.name] - wanted) < 1e-9 + 1e-7 * abs(wanted), element.name


@settings(max_examples=80, deadline=None, derandomize=True, phases=[Phase.generate])
@given(circuits())
def test_currents_add_up_at_every_net(circuit):
    """Kirchhoff's law over the currents reported, which come from several places."""
    (point,) = solve([circuit])
    sums = dict.fromkeys(NETS, 0.0)
    for element in circuit.elements:
        amps = point.amps[element.name]
        if isinstance(element, Resistance):
            ends = element.a, element.b
        elif isinstance(element, Junction):
            ends = element.anode, element.cathode
        elif isinstance(element, Draw):
            ends = element.plus, element.minus
        else:
            ends = element.minus, element.plus
        sums[ends[0]] -= amps
        sums[ends[1]] += amps
    largest = max(abs(amps) for amps in point.amps.values())
    assert all(abs(total) < 1e-11 + 2e-6 * largest for total in sums.values())
