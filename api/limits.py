"""Refuses bodies that are too large while they arrive, before they fill memory or disk."""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.problems import problem
from inspector.photo import LARGEST_BYTES

LARGEST_BODY = LARGEST_BYTES + 1_000_000  # the photo and a little form around it
_DETAIL = f"The upload is larger than {LARGEST_BYTES // 1_000_000} MB; send the phone's own photo."


class BodyLimit:
    """ASGI middleware: 413 for a body over `most` bytes, declared or streamed."""

    def __init__(self, app: ASGIApp, most: int = LARGEST_BODY) -> None:
        """Wrap the app."""
        self._app = app
        self._most = most

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, counting its bytes."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        declared = dict(scope["headers"]).get(b"content-length", b"0")
        if declared.isdigit() and int(declared) > self._most:
            await problem(413, _DETAIL, "upload", Request(scope))(scope, receive, send)
            return
        seen = 0

        async def counted() -> Message:
            nonlocal seen
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > self._most:
                raise HTTPException(413, _DETAIL)
            return message

        await self._app(scope, counted, send)
