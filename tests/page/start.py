"""The page as a process that Ctrl-C ends whatever started it; slowed down where that is asked for.

With ``OXHUE_SLOW_PAGE=SEED`` each answer is held back for a while drawn from that seed: answers
then come late and in another order, so that a test, or the page itself, that takes an earlier one
for its own is found out. With ``OXHUE_SLOW_BROWSER=4`` pages run as on a processor so much slower.
"""

import asyncio
import os
import random
import signal
import sys

SLOW, THROTTLED = "OXHUE_SLOW_PAGE", "OXHUE_SLOW_BROWSER"
LONGEST_S = 1.5  # that an answer is held back


def hold_back(app, seed):
    """The application with each question, photo and map kept waiting before it is answered."""
    drawn = random.Random(seed)

    async def slowed(scope, receive, send):
        if scope["type"] == "http" and scope["path"].startswith("/api/"):
            await asyncio.sleep(drawn.uniform(0.0, LONGEST_S))
        await app(scope, receive, send)

    return slowed


def throttle(page):
    """Slow a page of Chromium down where that is asked for."""
    if THROTTLED in os.environ:
        session = page.context.new_cdp_session(page)
        session.send("Emulation.setCPUThrottlingRate", {"rate": float(os.environ[THROTTLED])})


def main():
    """What a shell's background job was made to ignore is heard again."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    if hasattr(signal, "SIGHUP"):
        signal.signal(signal.SIGHUP, signal.SIG_DFL)
    if SLOW in os.environ:
        from oxhue.page import app

        created = app.create_app
        app.create_app = lambda *given, **more: hold_back(created(*given, **more), os.environ[SLOW])
    from oxhue.cli.main import run

    run(sys.argv[1:])


if __name__ == "__main__":
    main()
