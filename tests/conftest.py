"""What all tests have in common."""

from __future__ import annotations

import pytest
from hypothesis import settings

from netcheck import judging

# A loaded machine must not fail a property; tests that are about time measure it themselves.
settings.register_profile("netcheck", deadline=None)
settings.load_profile("netcheck")


@pytest.fixture(autouse=True)
def _judged_afresh() -> None:
    """A test that changes how things are judged must not get what another test was told."""
    judging.forget_judged()
