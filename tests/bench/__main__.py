"""Run every bench, one after the other, each in a process of its own.

    .venv/bin/python tests/bench              # all of them
    .venv/bin/python tests/bench taps         # only some, by the name of their file
    .venv/bin/python tests/bench/taps.py      # the same, with options of its own

Nothing here is a test: the figures are printed and never asserted.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

HERE = Path(__file__).resolve().parent


def benches() -> dict[str, Path]:
    """Every bench, by name."""
    return {file.stem: file for file in sorted(HERE.glob("*.py")) if not file.stem.startswith("_")}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the benches named, or all; 1 if one of them broke, 2 for a name that is none."""
    wanted = list(sys.argv[1:] if arguments is None else arguments)
    found = benches()
    unknown = [name for name in wanted if name not in found]
    if unknown:
        print(
            f"There is no bench called {', '.join(unknown)}; there are {', '.join(found)}.",
            file=sys.stderr,
        )
        return 2
    broken = []
    for name in wanted or found:
        print(f"== {name}", flush=True)
        if subprocess.run([sys.executable, str(found[name])], check=False).returncode:
            broken.append(name)
        print(flush=True)
    if broken:
        print(f"Did not finish: {', '.join(broken)}.", file=sys.stderr)
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
