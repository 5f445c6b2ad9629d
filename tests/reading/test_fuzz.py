"""Whatever a file holds, it is read or refused with its place: never another exception, never another exit status.

What is tried here in seconds, `tests/benchmarks/fuzz.py` tries for as long as wanted.
"""

from random import Random

import fuzzed
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import netcheck
from netcheck.reading.mistakes import FragmentError

randoms = st.randoms(use_true_random=False)
seeded = {"derandomize": True, "database": None, "suppress_health_check": list(HealthCheck)}


@settings(max_examples=40, **seeded)
@given(text=randoms.map(fuzzed.fragment))
def test_whole_fragments(text, tmp_path):
    fuzzed.read(fuzzed.Case("fragment", "chance.yaml", text.encode()), tmp_path)


@settings(max_examples=60, **seeded)
@given(rng=randoms, example=st.sampled_from(fuzzed.texts()))
def test_mutated_text_of_the_examples(rng, example, tmp_path):
    fuzzed.read(fuzzed.Case("fragment", "mutant.yaml", fuzzed.mutated(rng, example).encode()), tmp_path)


@settings(max_examples=12, **seeded)
@given(one=randoms.map(fuzzed.entry_of_library))
def test_entries_of_a_persons_own_library(one, tmp_path):
    fuzzed.read(one, tmp_path)


@settings(max_examples=40, **seeded)
@given(one=randoms.map(fuzzed.sheet))
def test_sheets_of_readings(one, tmp_path):
    fuzzed.read(one, tmp_path)


@settings(max_examples=150, **seeded)
@given(data=st.binary(max_size=80) | st.text(max_size=60).map(lambda text: text.encode("utf-8", "surrogatepass")))
def test_noise(data, tmp_path):
    fuzzed.read(fuzzed.Case("noise", "noise.yaml", data), tmp_path)


def test_cases_by_number(tmp_path):
    """Many more than hypothesis makes in the time, as the cases by hand are: `fuzz.py --seed 0 --only NUMBER`."""
    for number in range(900):
        one = fuzzed.case(Random(f"0/{number}"))
        try:
            fuzzed.read(one, tmp_path)
        except Exception as error:
            pytest.fail(f"case {number}: {type(error).__name__}: {error}\n{one}")


def test_a_good_share_of_whole_fragments_can_be_read():
    """Only what is read reaches the judge: a strategy that made nothing but mistakes would test the reader alone."""
    read = 0
    for number in range(60):
        try:
            netcheck.loads(fuzzed.fragment(Random(number)))
        except FragmentError:
            continue
        read += 1
    assert read >= 12


def test_what_is_read_is_judged_and_reported():
    judged = set()
    for number in range(40):
        try:
            found = netcheck.loads(fuzzed.fragment(Random(number), most_parts=5))
        except FragmentError:
            continue
        judged.add(fuzzed.check(found))
        if number >= 12:
            break
    assert len(judged) > 1


@pytest.mark.parametrize("command", fuzzed.COMMANDS)
def test_exit_status_is_one_of_three(command, tmp_path):
    for number in range(2):
        rng = Random(f"{command} {number}")
        for text in (fuzzed.fragment(rng, most_parts=5), fuzzed.mutated(rng, rng.choice(fuzzed.texts()[:1]))):
            fuzzed.by_command(fuzzed.Case("fragment", "chance.yaml", text.encode()), tmp_path, command)
    assert fuzzed.by_command(fuzzed.Case("noise", "noise.yaml", b"\xff\0\xfe"), tmp_path, command) == 2
