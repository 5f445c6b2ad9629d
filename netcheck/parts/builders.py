"""Which kinds of entries the library holds, and what reads each."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from netcheck.parts import entries
from netcheck.parts.capacitor import Family, family_of
from netcheck.parts.chip_entry import chip
from netcheck.parts.library import Entry
from netcheck.parts.specs import (
    CellSpec,
    ChipSpec,
    ConnectorSpec,
    DiodeSpec,
    LoadSpec,
    RegulatorSpec,
    TransistorSpec,
)

Known = DiodeSpec | CellSpec | LoadSpec | TransistorSpec | RegulatorSpec | ConnectorSpec | Family | ChipSpec
"""What the library can hold."""

BUILDERS: Mapping[str, Callable[[str, Entry], Known]] = {
    "diode": entries.diode, "cell": entries.cell, "load": entries.load, "transistor": entries.transistor,
    "regulator": entries.regulator, "connector": entries.connector, "capacitor": family_of, "chip": chip,
}
