"""The tests of the page in a browser are collected only where there is a browser."""

from __future__ import annotations

import shutil

_BROWSERS = ("chromium", "chromium-browser", "google-chrome")

collect_ignore = [] if any(map(shutil.which, _BROWSERS)) else ["test_page_in_browser.py"]


def pytest_report_header() -> str | None:
    return "no Chromium here: tests/reports/test_page_in_browser.py is left out" if collect_ignore else None
