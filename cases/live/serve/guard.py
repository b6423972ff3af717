"""Who may come in, and what the page may do."""

from __future__ import annotations

from collections.abc import Mapping

from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

METHODS = ("GET", "HEAD")


class Guard:
    """Refuses every host, origin and method but those named, and sets the headers of what it lets through.

    Parameters
    ----------
    hosts : mapping of str to tuple of str
        For the first step of a path, such as the teacher's token, the values of `Host` it is served under.
    framed : bool
        Whether other pages of this machine may show it in a frame.
    """

    def __init__(self, app: ASGIApp, hosts: Mapping[str, tuple[str, ...]], framed: bool = False) -> None:
        self.app, self.hosts, self.framed = app, hosts, framed

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        socket = scope["type"] == "websocket"
        code, says = self._verdict(scope, socket)
        if code:
            if socket:
                await send({"type": "websocket.close", "code": 1008})
            else:
                await PlainTextResponse(says, code, headers=dict(headers("")))(scope, receive, send)
            return
        host = _header(scope, b"host")[0]

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                more = [(k.encode(), v.encode()) for k, v in headers(host, self.framed)]
                message["headers"] = [*message["headers"], *more]
            await send(message)

        await self.app(scope, receive, guarded)

    def _verdict(self, scope: Scope, socket: bool) -> tuple[int, str]:
        hosts, origins = _header(scope, b"host"), _header(scope, b"origin")
        every = {h for named in self.hosts.values() for h in named}
        if len(hosts) != 1 or hosts[0] not in every:
            return 403, "this address is not served here"
        if len(origins) > 1 or (origins and origins[0] != f"http://{hosts[0]}") or (socket and not origins):
            return 403, "another page may not ask here"
        if not socket and scope["method"] not in METHODS:
            return 405, "this page is only read"
        word = scope["path"].lstrip("/").partition("/")[0]
        if hosts[0] not in self.hosts.get(word, ()):
            return 404, "there is nothing here; use the whole address that the program printed"
        return 0, ""


def _header(scope: Scope, name: bytes) -> list[str]:
    return [v.decode("latin-1") for k, v in scope["headers"] if k == name]


def headers(host: str, framed: bool = False) -> list[tuple[str, str]]:
    """What every answer carries: nothing from elsewhere, nothing inline, in no other page, kept by nobody."""
    around = "'self' http://127.0.0.1:* http://localhost:* vscode-webview:" if framed else "'self'"
    own = [] if framed else [("x-frame-options", "SAMEORIGIN"), ("cross-origin-resource-policy", "same-origin")]
    policy = ("default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
              f"connect-src 'self' {f'ws://{host}' if host else ''}; worker-src 'self'; base-uri 'none'; "
              f"form-action 'none'; frame-ancestors {around}")
    return [("content-security-policy", policy), ("x-content-type-options", "nosniff"),
            ("referrer-policy", "no-referrer"), ("cache-control", "no-store"), *own,
            ("cross-origin-opener-policy", "same-origin"),
            ("permissions-policy", "camera=(), microphone=(), geolocation=()")]
