"""Phones at the door: invited by a code that works once, let in by hand, put out when idle.

Nothing here knows of the network; times are seconds of a steady clock, given by the caller.
"""

from __future__ import annotations

import hmac
import secrets
from dataclasses import dataclass, field
from typing import Literal

INVITED_S = 120.0
"""How long an invitation, and a knock nobody answers, holds [s]."""
IDLE_S = 1_800.0
"""How long a phone may ask nothing before it must be invited again [s]."""
MOST_GUESSES = 5
MOST_PHONES = 4

QUESTIONS_OF_PHONES = frozenset(
    (
        "choices",
        "look",
        "tint",
        "strip",
        "recipes",
        "gauge",
        "glance",
        "photo",
        "kept",
        "take",
        "card",
        "assay",
        "keep",
        "log",
        "record",
    )
)
"""What a phone may ask: what is done with a phone in hand, and nothing that
runs for minutes; of what is kept on the disk the run log alone."""


@dataclass
class Phone:
    """One phone that has knocked.

    Attributes
    ----------
    token : str
        Its secret, kept in its cookie alone.
    digits : str
        Shown on both screens, so that the phone let in is the one in the hand; no secret.
    seen_s : float
        When it last asked.
    """

    token: str
    digits: str
    seen_s: float
    allowed: bool = False
    name: str = field(default_factory=secrets.token_hex)


class Phones:
    """Who is invited, who waits, and who is in.

    Parameters
    ----------
    address : str
        The one private address phones reach this machine by.
    port : int
    """

    def __init__(self, address: str, port: int) -> None:
        self.address, self.port = address, port
        self._key, self._until_s, self._guesses = "", 0.0, 0
        self._phones: list[Phone] = []

    @property
    def host(self) -> str:
        """What a phone's browser must name as host; it leaves the usual port out."""
        return self.address if self.port == 80 else f"{self.address}:{self.port}"

    @property
    def cookie(self) -> str:
        """Where a phone keeps its token."""
        return f"oxhue_phone_{self.port}"

    def invite(self, now_s: float) -> str:
        """The address for the QR code; any invitation before it is void."""
        self._key, self._until_s = secrets.token_urlsafe(16), now_s + INVITED_S
        self._guesses = 0
        return self.invitation

    @property
    def invitation(self) -> str:
        """The address of the open invitation; empty where there is none."""
        return f"http://{self.host}/phone?key={self._key}" if self._key else ""

    def left_s(self, now_s: float) -> float:
        """How long the invitation still holds [s]."""
        return max(0.0, self._until_s - now_s) if self._key else 0.0

    def knock(self, key: str, now_s: float) -> Phone | None:
        """A phone with a key; None where the key is not, or no longer, the one of the invitation.

        After ``MOST_GUESSES`` wrong ones the invitation is void.
        """
        self._forget_idle(now_s)
        if not self._key or now_s > self._until_s or len(self._phones) >= MOST_PHONES:
            return None
        if not hmac.compare_digest(key.encode(), self._key.encode()):
            self._guesses += 1
            if self._guesses >= MOST_GUESSES:
                self._key = ""
            return None
        self._key = ""
        taken = {one.digits for one in self._phones}
        digits = next(
            d for d in iter(lambda: f"{secrets.randbelow(10_000):04d}", "") if d not in taken
        )
        phone = Phone(secrets.token_urlsafe(), digits, now_s)
        self._phones.append(phone)
        return phone

    def find(self, token: str | None, now_s: float) -> Phone | None:
        """The phone of a token, waiting or let in."""
        self._forget_idle(now_s)
        for one in self._phones:
            if token is not None and hmac.compare_digest(token.encode(), one.token.encode()):
                return one
        return None

    def settle(self, name: str, what: Literal["allow", "out"]) -> bool:
        """Let a phone in, or put it out; whether there was such a phone."""
        found = next((one for one in self._phones if one.name == name), None)
        if found is None:
            return False
        if what == "allow":
            found.allowed = True
        else:
            self._phones.remove(found)
        return True

    def listed(self, now_s: float) -> list[dict[str, object]]:
        """Every phone as the computer's page shows it, without its secret."""
        self._forget_idle(now_s)
        return [
            {"name": one.name, "digits": one.digits, "allowed": one.allowed,
             "idle_s": round(now_s - one.seen_s)}
            for one in self._phones
        ]  # fmt: skip

    def _forget_idle(self, now_s: float) -> None:
        self._phones = [
            one for one in self._phones
            if now_s - one.seen_s <= (IDLE_S if one.allowed else INVITED_S)
        ]  # fmt: skip
