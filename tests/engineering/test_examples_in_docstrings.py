"""Every example in a docstring of the engineering core runs and prints what it says."""

import doctest
import importlib
import pkgutil

import pytest

import contractor.engineering

MODULES = sorted(module.name for module in pkgutil.iter_modules(contractor.engineering.__path__))


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_in_the_docstrings_of_a_module_are_true(name: str) -> None:
    module = importlib.import_module(f"contractor.engineering.{name}")
    assert doctest.testmod(module).failed == 0


@pytest.mark.parametrize("name", MODULES)
def test_every_public_computation_says_its_source_and_shows_an_example(name: str) -> None:
    """A sentence alone is not enough for a number that someone will act on."""
    module = importlib.import_module(f"contractor.engineering.{name}")
    if name in {"inputs", "outlook", "trends", "errors"}:
        return  # no computation of their own: checks, dates and the shape of results
    functions = [
        member
        for member_name, member in vars(module).items()
        if callable(member)
        and not isinstance(member, type)
        and not member_name.startswith(("_", "unchecked_"))
        and getattr(member, "__module__", None) == module.__name__
        and not member_name.endswith("_cautions")
    ]
    lacking = [f.__name__ for f in functions if "Source" not in (f.__doc__ or "") or ">>>" not in (f.__doc__ or "")]
    assert lacking == []
