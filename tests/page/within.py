"""What the tests of the page share: its key, its address, and a desk without processes."""

import asyncio

from oxhue.cli.forms import describe_verbs, run_verb
from oxhue.page.questions.verb import Verbs
from oxhue.page.work import answer

KEY = "the-key-of-this-run"
VERBS = Verbs(describe_verbs, run_verb)
HOME = "http://127.0.0.1:8000"


class DeskHere:
    """Answers in this process what worker processes would."""

    def __init__(self):
        self.asked = []

    def open(self):
        pass

    def close(self):
        pass

    def told(self, _ticket):
        return None

    def stop(self, _ticket):
        pass

    async def ask(self, name, given, photo, _gone, **_):
        self.asked.append(name)
        return await asyncio.to_thread(answer, name, given, photo, verbs=VERBS)
