"""What the tests of the page share: its key, its address, and a desk without processes."""

import asyncio

from oxhue.page.work import answer

KEY = "the-key-of-this-run"
HOME = "http://127.0.0.1:8000"


class DeskHere:
    """Answers in this process what worker processes would."""

    def __init__(self):
        self.asked = []

    def open(self):
        pass

    def close(self):
        pass

    async def ask(self, name, given, photo, _gone):
        self.asked.append(name)
        return await asyncio.to_thread(answer, name, given, photo)
