"""What may know of what: imports and foreign keys go down only, and the computation knows no Django."""

from __future__ import annotations

import importlib
import pkgutil
import subprocess
import sys
import tomllib
from pathlib import Path
from types import ModuleType

import pytest
from django.apps import apps
from django.urls import resolve, reverse

from accounts.acting import REGISTRY
from accounts.ids import new_id

ROOT = Path(__file__).parent.parent
LOWEST_FIRST = ["accounts", "mapping", "inspections", "repairs"]
CONTRACTS = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
(PURE,) = (contract["source_modules"] for contract in CONTRACTS if contract["type"] == "forbidden")
NO_DJANGO = """
import importlib, sys
for name in sys.argv[1:]:
    importlib.import_module(name)
print(*sorted({name.partition(".")[0] for name in sys.modules} & {"django", "rest_framework"}))
"""


def test_imports_keep_the_contracts() -> None:
    done = subprocess.run(
        [Path(sys.executable).with_name("lint-imports"), "--no-cache"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_the_layers_of_the_contract_are_all_apps_of_the_project_the_highest_first() -> None:
    (layers,) = (contract["layers"] for contract in CONTRACTS if contract["type"] == "layers")
    ours = {config.name for config in apps.get_app_configs() if Path(config.path).parent == ROOT}
    assert layers == ["config", *reversed(LOWEST_FIRST)]
    assert ours == set(LOWEST_FIRST)


def test_foreign_keys_point_down() -> None:
    """Also those named by a string, which no import shows."""
    up = [
        str(field)
        for label in LOWEST_FIRST
        for model in apps.get_app_config(label).get_models()
        for field in model._meta.get_fields(include_hidden=True)
        if field.concrete and field.is_relation and _level(field.related_model) > LOWEST_FIRST.index(label)
    ]
    assert up == []


def _level(model: type) -> int:
    """How high the model's app stands; what is not ours stands below all."""
    label = model._meta.app_label  # type: ignore[attr-defined]
    return LOWEST_FIRST.index(label) if label in LOWEST_FIRST else -1


def test_no_migration_of_an_app_rests_on_one_of_an_app_above_it() -> None:
    for label in LOWEST_FIRST:
        migrations: ModuleType = importlib.import_module(f"{label}.migrations")
        for module in pkgutil.iter_modules(migrations.__path__):
            migration = importlib.import_module(f"{migrations.__name__}.{module.name}").Migration
            for needed, _ in migration.dependencies:
                assert needed not in LOWEST_FIRST[LOWEST_FIRST.index(label) + 1 :], (label, module.name, needed)


def test_the_computation_runs_without_django() -> None:
    """In a process of its own, because here Django is loaded already."""
    done = subprocess.run(
        [sys.executable, "-c", NO_DJANGO, *PURE], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout.strip()) == (0, ""), done.stderr


@pytest.mark.parametrize("name", sorted(REGISTRY))
def test_an_action_says_what_it_is_and_has_a_page(name: str) -> None:
    what = REGISTRY[name]
    assert what.title
    assert what.title[0].isupper()
    assert what.summary.endswith(".")
    assert resolve(reverse("do", args=[name, new_id()])).url_name == "do"
