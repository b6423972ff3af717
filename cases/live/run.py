"""The server as a process of its own: its socket, its address, its end."""

from __future__ import annotations

import socket
import sys
import webbrowser

import uvicorn

from stringflux.geometry.errors import CaseError

from .server import Live, Opened

HOST = "127.0.0.1"


def run(*, text: str, name: str, port: int = 0, browser: bool = True) -> int:
    """Serve the page until Ctrl-C; the exit code.

    Raises
    ------
    CaseError
        If the port is taken.
    """
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((HOST, port))
    except OSError as error:
        raise CaseError(f"--port: received {port}, which cannot be used ({error.strerror}); name another, or leave "
                        "it out") from None
    at = listening.getsockname()[1]
    opened = Opened(text=text, name=name, hosts=(f"{HOST}:{at}", f"localhost:{at}"))
    page = f"http://{HOST}:{at}/{opened.token}/"
    print(f"The page: {page}\nCtrl-C ends it.", flush=True)
    config = uvicorn.Config(Live(opened).app(), log_level="error", access_log=False, lifespan="on",
                            ws="websockets-sansio", ws_max_size=1_300_000, ws_per_message_deflate=False,
                            timeout_graceful_shutdown=1)
    server = uvicorn.Server(config)
    if browser:
        webbrowser.open(page)
    server.run(sockets=[listening])
    sys.stdout.flush()
    return 0
