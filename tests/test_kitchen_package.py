"""The kitchen package says what is in it, and needs nothing but the standard library."""

import ast
import importlib
import pkgutil
import sys
from pathlib import Path

import pytest

import diagnose.kitchen

MODULES = [found.name for found in pkgutil.iter_modules(diagnose.kitchen.__path__)]


@pytest.mark.parametrize("name", MODULES)
def test_every_module_says_what_it_is_for_and_the_package_names_it(name: str) -> None:
    assert importlib.import_module(f"diagnose.kitchen.{name}").__doc__
    assert f"``{name}``" in (diagnose.kitchen.__doc__ or "")


@pytest.mark.parametrize("name", MODULES)
def test_a_module_imports_the_standard_library_and_its_neighbours_only(name: str) -> None:
    path = Path(diagnose.kitchen.__path__[0], f"{name}.py")
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            assert {one.name.split(".")[0] for one in node.names} <= sys.stdlib_module_names
        if isinstance(node, ast.ImportFrom) and node.level == 0:
            assert (node.module or "").split(".")[0] in sys.stdlib_module_names
