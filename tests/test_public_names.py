"""Every name that a package advertises can be had."""

from __future__ import annotations

import importlib
import pkgutil

import pytest

ROOMS = ("spotplate.kb", "spotplate.datasets", "spotplate.engine")


def packages() -> list[str]:
    """The rooms and every package inside them."""
    found = list(ROOMS)
    for room in ROOMS:
        path = importlib.import_module(room).__path__
        found += [module.name for module in pkgutil.walk_packages(path, f"{room}.") if module.ispkg]
    return found


@pytest.mark.parametrize("package", packages())
def test_every_advertised_name_exists(package: str) -> None:
    module = importlib.import_module(package)
    assert module.__doc__
    assert module.__all__
    for name in module.__all__:
        assert getattr(module, name) is not None


@pytest.mark.parametrize("package", packages())
def test_a_name_is_advertised_once_and_never_private(package: str) -> None:
    names = importlib.import_module(package).__all__
    assert len(names) == len(set(names))
    assert not any(name.startswith("_") for name in names)


def test_subpackages_are_walked() -> None:
    assert {"spotplate.engine.bench", "spotplate.engine.files", "spotplate.engine.reasoning"} <= set(packages())
