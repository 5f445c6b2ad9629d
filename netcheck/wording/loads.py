"""What is said of the volts of a load."""

from __future__ import annotations

from netcheck.wording.sentence import Sentence, Sentences

_CLAMP_ADVICE = "Never power it with {cell} out; give {subject} a supply of its own, or a zener that clamps it."
_CLAMP = "{subject} gets {volts_V} in state {state} and stands {limit_V} at most."

SENTENCES: Sentences = {
    ("clamp", "primary"): Sentence(
        f"{{cell}} holds down the supply of {{subject}}: with it out of its holder {_CLAMP}", _CLAMP_ADVICE),
    ("clamp", "rechargeable"): Sentence(
        f"{{cell}} holds down the supply of {{subject}}: with it out of its holder, or with it dried out, {_CLAMP}",
        _CLAMP_ADVICE),
}
