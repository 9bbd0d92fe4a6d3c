"""``python -m oxhue.cli`` is the same as ``oxhue``."""

from .main import run

run()
