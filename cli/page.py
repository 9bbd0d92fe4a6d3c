"""``oxhue page``: all of it with a mouse, in a page of the browser."""

from __future__ import annotations

from contextlib import suppress
from typing import Annotated

import typer

from .options import option


def page(
    port: Annotated[
        int, option("--port", "N", "Port to listen on; any that is free by default.")
    ] = 0,
    host: Annotated[
        str,
        option("--host", "ADDRESS", "Address to listen on; only this machine reaches 127.0.0.1."),
    ] = "127.0.0.1",
    no_open: Annotated[
        bool, option("--no-open", None, "Do not open the browser; only print the address.")
    ] = False,
) -> None:
    """A local page for all questions: layers to drag, sliders, photos to click on.

    Prints the address with the key of this run. Nothing leaves this machine. Ctrl-C ends it.
    From a phone in the same network: --host 0.0.0.0

    Example: oxhue page
    """
    from ..page.serve import is_loopback, open_listener, serve

    opened = open_listener(host, port)

    def say() -> None:
        for address in opened.addresses:
            typer.echo(address)
        if not is_loopback(opened.door):
            typer.echo(
                "oxhue: others in this network can reach the page; the key in the address is all "
                "that keeps them out, and it travels unencrypted",
                err=True,
            )
        typer.echo("oxhue: Ctrl-C ends the page", err=True)
        if not no_open:
            typer.launch(opened.first_address)

    with suppress(KeyboardInterrupt):  # the way to end it, so no interruption
        serve(opened, say)
    typer.echo("oxhue: page closed", err=True)
