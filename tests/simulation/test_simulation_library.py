import ctypes.util

import pytest

from netcheck.simulation.library import EngineMissing, find_library


def loader(*present):
    def load(name):
        if name not in present:
            raise OSError(name)
    return load


@pytest.fixture(autouse=True)
def _nothing_said(monkeypatch):
    monkeypatch.delenv("NGSPICE_LIBRARY_PATH", raising=False)
    monkeypatch.setattr(ctypes.util, "find_library", lambda name: None)


def test_the_variable_comes_first(monkeypatch):
    monkeypatch.setenv("NGSPICE_LIBRARY_PATH", "/opt/mine.so")
    assert find_library(loader("/opt/mine.so", "libngspice.so.0")) == "/opt/mine.so"


def test_then_the_systems_search(monkeypatch):
    monkeypatch.setattr(ctypes.util, "find_library", lambda name: f"lib{name}.so.7")
    assert find_library(loader("libngspice.so.7", "libngspice.so.0")) == "libngspice.so.7"


@pytest.mark.parametrize("usual", ["libngspice.so.0", "/opt/homebrew/lib/libngspice.dylib", "ngspice.dll"])
def test_then_the_usual_names(usual, monkeypatch):
    monkeypatch.setenv("NGSPICE_LIBRARY_PATH", "/nowhere.so")
    assert find_library(loader(usual)) == usual


def test_a_missing_library_names_every_place_and_the_install_lines(monkeypatch):
    monkeypatch.setenv("NGSPICE_LIBRARY_PATH", "/nowhere/libngspice.so")
    with pytest.raises(EngineMissing) as caught:
        find_library(loader())
    text = str(caught.value)
    for word in ("/nowhere/libngspice.so (from NGSPICE_LIBRARY_PATH)", "libngspice.so.0", "libngspice.0.dylib",
                 "ngspice.dll", "apt-get install libngspice0", "dnf install", "brew install", "Windows"):
        assert word in text
    assert all(place in text for place in caught.value.tried)
