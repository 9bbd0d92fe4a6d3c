"""Write the files that let a set-up come out the same next year: every version, with its hashes.

Run as ``python -m tools.write_lock`` after a change of the dependencies in ``pyproject.toml``, or
to take in newer versions. ``requirements.lock`` holds what the program needs, with the reader of
HEIC pictures; ``requirements-dev.lock`` what the tests, the guide and the release need too. Both
are for every system and for Python 3.11 and later.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
LOCKS = {"requirements.lock": "heif", "requirements-dev.lock": "dev"}
"""The file, and the extra of the project that it serves."""


def main() -> None:
    """Ask the registry for the newest versions that go together and pin them."""
    for name, extra in LOCKS.items():
        (ROOT / name).unlink(missing_ok=True)
        subprocess.run(command(name, extra), check=True, cwd=ROOT)


def command(name: str, extra: str) -> list[str]:
    """The resolver's command line for one file."""
    return [
        *(sys.executable, "-m", "uv", "pip", "compile", "pyproject.toml"),
        *("--quiet", "--universal", "--python-version", "3.11", "--generate-hashes"),
        *("--no-emit-index-url", "--custom-compile-command", "python -m tools.write_lock"),
        *("--extra", extra, "--output-file", name),
    ]


if __name__ == "__main__":
    main()
