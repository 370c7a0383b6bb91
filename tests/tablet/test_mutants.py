"""The deliberate faults of the door (``mutants.py``) still have a place to stand in and a test to catch them."""

import pytest

from tests.tablet.mutants import MUTANTS, ROOT, Mutant


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.name)
def test_a_fault_stands_in_one_place_and_names_its_test(mutant: Mutant) -> None:
    assert (ROOT / mutant.file).read_text().count(mutant.old) == 1
    file, _, name = mutant.test.partition("::")
    assert f"def {name}(" in (ROOT / "tests" / "tablet" / file).read_text()
