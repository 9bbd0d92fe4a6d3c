"""``oxhue page``: all of it with a mouse, in a page of the browser."""

from __future__ import annotations

from contextlib import suppress
from typing import Annotated

import typer

from .options import option

PANEL = "Where to start", 2


def page(
    port: Annotated[
        int, option("--port", "N", "Port to listen on; any that is free by default.")
    ] = 0,
    host: Annotated[
        str,
        option("--host", "ADDRESS", "Address to listen on; only this machine reaches 127.0.0.1."),
    ] = "127.0.0.1",
    phone: Annotated[
        bool,
        option(
            "--phone",
            None,
            "Let a phone in over this machine's private address: shows a code to scan.",
        ),
    ] = False,
    no_open: Annotated[
        bool, option("--no-open", None, "Do not open the browser; only print the address.")
    ] = False,
) -> None:
    """A local page for all questions: layers to drag, sliders, photos to click on.

    Prints the address with the key of this run. Nothing leaves this machine. Ctrl-C ends it.
    From a phone in the same network: --phone.

    Example: oxhue page
    """
    from ..optics.errors import InputError
    from ..page.phone_door import code_text
    from ..page.questions.verb import Verbs
    from ..page.serve import is_loopback, open_for_phones, open_listener, serve
    from .forms import describe_verbs, run_verb

    if phone and host != "127.0.0.1":
        raise InputError("`phone` picks the address itself; leave `host` out", parameter="phone")
    opened = open_for_phones(port) if phone else open_listener(host, port)

    def say() -> None:
        for address in opened.addresses:
            typer.echo(address)
        if opened.phones is not None:
            link = opened.phones.invitation
            typer.echo(f"{code_text(link)}\n{link}")
            typer.echo(
                "oxhue: scan this with a phone in the same network within two minutes, then allow "
                "it on the page; it travels unencrypted",
                err=True,
            )
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
        serve(opened, say, verbs=Verbs(describe_verbs, run_verb))
    typer.echo("oxhue: page closed", err=True)
