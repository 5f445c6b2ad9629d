"""The families of components by the words that files and library use for them."""

from __future__ import annotations

CAPACITOR_TYPES = ("wet", "wet-low-impedance", "polymer", "hybrid", "tantalum", "polymer-tantalum", "X7R", "X5R",
                   "Y5V", "Z5U", "C0G", "film", "unknown")
BODIES = ("axial glass", "axial plastic", "TO-92", "TO-18", "TO-220", "LED", "SOT-23", "SOT-323", "SOD-123", "SOD-323",
          "SOD-523", "MELF", "DFN")
"""What a diode or transistor looks like: leads, or a package for the board's surface."""
LEADED_BODIES = BODIES[:6]
CHEMISTRIES = ("lithium-primary", "lithium-thionyl", "lithium-carbon-fluoride", "alkaline", "nickel-cadmium",
               "nickel-metal-hydride", "lithium-manganese-rechargeable", "lithium-ion", "supercapacitor")
PRIMARY_CHEMISTRIES = CHEMISTRIES[:4]
DIODE_FAMILIES = ("silicon", "low-leakage", "schottky", "germanium", "zener", "led")
POLARITIES = ("npn", "pnp", "n-channel", "p-channel")

BETWEEN = ("output-adjust", "adjust-ground", "shunt")
"""The pins that a regulator's reference stands between; a shunt holds its own reference pin."""

BACK = ("diode", "blocked")
"""How current flows back through a regulator whose input is dead."""

SIGNS = ("positive", "negative")

PATHS = ("switch", "diode", "charger")
"""What may be on a way for current through a chip."""
