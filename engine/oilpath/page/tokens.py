"""The token that a form carries beside the cookie: bound to the session, and written otherwise on every page.

Written otherwise, so that the length of a compressed page tells nothing about it.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
from typing import Final

_LENGTH: Final = 32


class Tokens:
    """Makes and knows the tokens of one run of the server."""

    def __init__(self, secret: bytes | None = None) -> None:
        self._secret = secret or secrets.token_bytes(_LENGTH)

    def make(self, session: str) -> str:
        """A token for the forms of a session."""
        pad = secrets.token_bytes(_LENGTH)
        return base64.urlsafe_b64encode(pad + _crossed(pad, self._of(session))).decode()

    def fits(self, token: str, session: str) -> bool:
        """Whether a token was made for this session."""
        try:
            both = base64.urlsafe_b64decode(token.encode("ascii"))
        except ValueError:
            return False
        if len(both) != 2 * _LENGTH:
            return False
        return hmac.compare_digest(_crossed(both[:_LENGTH], both[_LENGTH:]), self._of(session))

    def _of(self, session: str) -> bytes:
        return hmac.new(self._secret, session.encode("utf-8", "replace"), hashlib.sha256).digest()


def _crossed(one: bytes, other: bytes) -> bytes:
    return bytes(a ^ b for a, b in zip(one, other, strict=True))
