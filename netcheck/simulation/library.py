"""Where the ngspice library is on this computer. Loads it once to try it; knows nothing of PySpice."""

from __future__ import annotations

import ctypes
import ctypes.util
import os
from collections.abc import Callable, Iterator

VARIABLE = "NGSPICE_LIBRARY_PATH"

INSTALL = (
    "install it with: apt-get install libngspice0 (Debian, Ubuntu); dnf install libngspice (Fedora); "
    "brew install libngspice (macOS); on Windows unpack the ngspice DLL package and put the full path of "
    f"ngspice.dll in {VARIABLE}"
)

_USUAL = (
    "libngspice.so.0", "libngspice.so",
    "libngspice.0.dylib", "libngspice.dylib",
    "/opt/homebrew/lib/libngspice.dylib", "/usr/local/lib/libngspice.dylib",
    "ngspice.dll", "libngspice-0.dll", r"C:\Spice64\bin_dll\ngspice.dll",
)


class EngineMissing(RuntimeError):
    """No ngspice library could be loaded. The message names every place tried, and how to install it."""

    def __init__(self, tried: list[str]) -> None:
        places = "; ".join(tried)
        super().__init__(f"the ngspice library was not found (tried {places}); {INSTALL}")
        self.tried = tried


def find_library(load: Callable[[str], object] = ctypes.CDLL) -> str:
    """The name or path under which the ngspice library loads. Raises EngineMissing.

    Tried in order: the variable NGSPICE_LIBRARY_PATH, the system's own search,
    then the usual names on Linux, macOS and Windows.
    """
    tried = []
    for place, origin in _places():
        try:
            load(place)
        except OSError:
            tried.append(f"{place} ({origin})" if origin else place)
        else:
            return place
    raise EngineMissing(tried)


def _places() -> Iterator[tuple[str, str]]:
    if asked := os.environ.get(VARIABLE):
        yield asked, f"from {VARIABLE}"
    if found := ctypes.util.find_library("ngspice"):
        yield found, "from the system's search"
    for usual in _USUAL:
        yield usual, ""
