"""``python -m oxhue`` is the same as ``oxhue``."""

from .cli.main import run

run()
