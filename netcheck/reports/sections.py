"""Every section of a report, in the order in which it is told: on the screen (--full), on the page, in Markdown.

A new section is a file of its own beside this one, with a `SECTION`, and its line in the list.
"""

from __future__ import annotations

from netcheck.reports import (
    capacitors_section,
    cells_section,
    duties_section,
    features_section,
    loads_section,
    regulators_section,
    states_section,
    wishes_section,
)
from netcheck.reports.blocks import Section

SECTIONS: tuple[Section, ...] = (
    wishes_section.SECTION, cells_section.SECTION, loads_section.SECTION, regulators_section.SECTION,
    capacitors_section.SECTION, states_section.SECTION,
    duties_section.SECTION,
    features_section.SECTION,
)
