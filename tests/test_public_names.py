"""Every name that a package advertises can be had."""

from __future__ import annotations

import importlib

import pytest

PACKAGES = (
    "spotplate.kb",
    "spotplate.datasets",
    "spotplate.engine",
    "spotplate.engine.bench",
    "spotplate.engine.files",
    "spotplate.engine.reasoning",
)


@pytest.mark.parametrize("package", PACKAGES)
def test_every_advertised_name_exists(package: str) -> None:
    module = importlib.import_module(package)
    assert module.__doc__
    for name in module.__all__:
        assert getattr(module, name) is not None
