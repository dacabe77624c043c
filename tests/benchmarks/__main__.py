"""Runs the benchmarks named as arguments, or all, and prints one line for each comparison."""

from __future__ import annotations

import argparse
import os
import platform
import shutil
import sqlite3
import subprocess
from collections.abc import Iterator
from importlib import import_module

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
django.setup()

import psycopg  # noqa: E402
import shapely  # noqa: E402

from tests.benchmarks.databases import postgresql_url  # noqa: E402
from tests.benchmarks.measuring import Line, Skipped  # noqa: E402

NAMES = ("action", "coverage", "growth", "intake", "proof", "frame", "asset_pdf", "trace", "full_size")
WIDTH = 64


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"{', '.join(NAMES)}; all when none is named")
    parser.add_argument("--zones", type=int, metavar="N", help="how many zones full_size fills; 10000 when left out")
    given = parser.parse_args()
    names = given.names or NAMES
    unknown = sorted(set(names) - set(NAMES))
    if unknown:
        parser.error(f"{', '.join(unknown)}: there is no such benchmark; choose from {', '.join(NAMES)}")
    print(", ".join(_machine()))
    print("Medians, taken in turns. Ratio = ours / floor: of times less is better, of rates more.\n")
    print(f"{'what':{WIDTH}} {'units':>6} {'ours':>10} {'floor':>10} {'ratio':>8}", flush=True)
    for name in names:
        sizes = {"zones": given.zones} if name == "full_size" and given.zones else {}
        for line in import_module(f"tests.benchmarks.{name}").measure(**sizes):
            print(_text(line), flush=True)


def _text(line: Line | Skipped) -> str:
    if isinstance(line, Skipped):
        return f"{line.what:{WIDTH}} skipped: {line.why}"
    return f"{line.what:{WIDTH}} {line.units:>6} {line.ours:>10.4g} {line.floor:>10.4g} {line.ratio:>8.3g}"


def _machine() -> Iterator[str]:
    yield f"{os.cpu_count()} cores"
    yield f"Python {platform.python_version()}"
    yield f"Django {django.__version__}"
    yield f"GEOS {shapely.geos_version_string}"
    yield f"SQLite {sqlite3.sqlite_version}"
    if postgresql_url():
        # The named database need not exist, as for the tests: each benchmark makes its own.
        with psycopg.connect(postgresql_url(), dbname="postgres") as asked:
            yield f"PostgreSQL {asked.info.server_version // 10000}.{asked.info.server_version % 10000}"
    if chromium := shutil.which("chromium"):
        yield subprocess.run([chromium, "--version"], capture_output=True, text=True, check=True).stdout.strip()


if __name__ == "__main__":
    main()
