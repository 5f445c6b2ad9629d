"""What all tests have in common."""

from __future__ import annotations

from hypothesis import settings

# A loaded machine must not fail a property; tests that are about time measure it themselves.
settings.register_profile("netcheck", deadline=None)
settings.load_profile("netcheck")
