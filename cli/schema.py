"""``oxhue schema``: what is in the JSON of an answer?"""

from __future__ import annotations

import json
import sys
from typing import Annotated

import typer

PANEL = "Data, and your own kiln", 3


def schema(
    kind: Annotated[str, typer.Argument(metavar="KIND", help="The verb that gives the answer.")],
) -> None:
    """The JSON Schema of a verb's answer, for programs that read it.

    Example: oxhue schema look
    """
    from ..optics.report.schema import kind_schema

    json.dump(kind_schema(kind), sys.stdout, indent=1)
    sys.stdout.write("\n")
