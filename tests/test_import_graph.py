"""The rooms import in one direction only, nothing in a circle, and one file alone knows the simulator.

The graph is read by grimp, from the source. The order of the rooms is that of DEVELOPERS.md.
"""

from __future__ import annotations

from pathlib import Path

import grimp
import networkx as nx
import pytest

ROOMS = (  # the lowest first; rooms on one line do not know each other
    ("clock", "quantities"), ("wording",), ("parts",), ("fragment",), ("reading", "conduction"), ("simulation",),
    ("solving",), ("findings",), ("checks",), ("bench", "diodes", "supply", "capacitors", "explain"), ("judging",),
    ("api",), ("archive",), ("reports",), ("writeup",), ("live",), ("commands",), ("cli",),
)
ROOT = Path(__file__).resolve().parents[1]
KNOWN = {"netcheck", "netcheck.__main__"}


@pytest.fixture(scope="module")
def graph() -> grimp.ImportGraph:
    return grimp.build_graph("netcheck", include_external_packages=True, cache_dir=None)


def test_every_module_lies_in_a_room_and_no_room_looks_up(graph: grimp.ImportGraph) -> None:
    height = {f"netcheck.{room}": level for level, rooms in enumerate(ROOMS) for room in rooms}
    own = [module for module in graph.modules if module.startswith("netcheck") and module not in KNOWN]
    strange = [module for module in own if ".".join(module.split(".")[:2]) not in height]
    assert strange == [], "not in any room: give it a place in ROOMS and in DEVELOPERS.md"
    upward = []
    for module in own:
        room = ".".join(module.split(".")[:2])
        for other in graph.find_modules_directly_imported_by(module):
            there = ".".join(other.split(".")[:2])
            if there in height and there != room and height[there] >= height[room]:
                upward.append(f"{module} imports {other}")
    assert sorted(upward) == []


def test_no_module_imports_itself_by_a_detour(graph: grimp.ImportGraph) -> None:
    imports: nx.DiGraph[str] = nx.DiGraph(
        (module, other) for module in graph.modules if module.startswith("netcheck")
        for other in graph.find_modules_directly_imported_by(module))
    assert [sorted(circle) for circle in nx.strongly_connected_components(imports) if len(circle) > 1] == []


def test_reports_neither_judge_nor_simulate(graph: grimp.ImportGraph) -> None:
    forbidden = {"netcheck.judging", "netcheck.simulation.process", "netcheck.simulation.operating_point",
                 "netcheck.simulation.engine", "netcheck.simulation.worker", "netcheck.simulation.deck"}
    found = [f"{module} imports {other}" for module in graph.modules if module.startswith("netcheck.reports")
             for other in graph.find_modules_directly_imported_by(module) if other in forbidden]
    assert found == []


def test_one_file_knows_the_simulators_binding_and_one_its_parser() -> None:
    knows = {module: {line.split()[1] for line in file.read_text("utf-8").splitlines()
                      if line.strip().startswith(("from PySpice", "import PySpice"))}
             for file in (ROOT / "netcheck").rglob("*.py") for module in [file.relative_to(ROOT).as_posix()]}
    assert {module: names for module, names in knows.items() if names} == {
        "netcheck/simulation/engine.py": {"PySpice.Spice.NgSpice"},
        "netcheck/reading/deck_reader.py": {"PySpice.Spice.Parser"},
    }
