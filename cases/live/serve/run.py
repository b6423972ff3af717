"""The server as a process of its own: its sockets, its addresses, its end."""

from __future__ import annotations

import socket
import sys
import webbrowser
from typing import TYPE_CHECKING

from stringflux.geometry.errors import CaseError
from stringflux.geometry.units import shown

from ...ending import placing

if TYPE_CHECKING:
    from .pool import Computer

HOST = "127.0.0.1"
CAUTION = ("Everyone in this network can open it, and read along on the way (plain http): nothing secret belongs on "
           "this page.")


def own(host: str | None) -> bool:
    """Whether an address is this machine's for itself alone."""
    return host is None or host in ("localhost", "::1") or host.startswith("127.")


def check_host(host: str | None, lesson: bool) -> None:
    """See that what is asked for can be.

    Raises
    ------
    CaseError
        For an address beyond this machine without a class, a class without an address, or an address that is all.
    """
    if lesson and host is None:
        raise CaseError("--class: it needs --host, the address under which the class reaches this machine"
                        f"{_perhaps()}")
    if host is not None and not lesson and not own(host):
        raise CaseError(f"--host: received {shown(host)}, which others can reach; add --class for readers, or leave "
                        "--host out for a page on this machine alone")
    if host in ("0.0.0.0", "::", ""):
        raise CaseError(f"--host: received {shown(host)}, which is every address at once; name one{_perhaps()}")


def _perhaps() -> str:
    """The address that this machine would be reached by, if it has one."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(("192.0.2.1", 9))  # sends nothing
            found = asking.getsockname()[0]
        except OSError:
            return ""
    return "" if own(found) else f", perhaps {found}"


def listen(host: str, port: int) -> socket.socket:
    """A socket that takes connections from now on; who comes before the server is there, waits.

    Raises
    ------
    CaseError
        If the address or the port cannot be used.
    """
    try:
        family, kind, _, _, where = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
    except (OSError, UnicodeError):
        raise CaseError(f"--host: received {shown(host)}, which is no address of this machine") from None
    listening = socket.socket(family, kind)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind(where)
        listening.listen(128)
    except OSError as error:
        listening.close()
        if host != HOST:
            raise CaseError(f"--host: received {shown(host)}, where nothing can be served on port {port} "
                            f"({error.strerror}); name an address of this machine{_perhaps()}") from None
        raise CaseError(f"--port: received {port}, which cannot be used ({error.strerror}); name another, or leave "
                        "it out") from None
    return listening


def run(*, text: str, name: str, case: str, computer: Computer, port: int = 0, browser: bool = True,
        host: str | None = None, lesson: bool = False, framed: bool = False) -> int:
    """Serve the page until Ctrl-C; the exit code.

    Parameters
    ----------
    text, name, case : str
        Of the file: what it says, what it is called, and where it lies.
    computer : Computer
        On its way already.
    host : str or None
        Where readers reach this machine, for a class (`lesson`).
    framed : bool
        Other pages of this machine, a notebook's, may show it in a frame; it ends when its input does.

    Raises
    ------
    CaseError
        If the address or port cannot be used.
    """
    sockets = [listen(HOST, port)]
    at = sockets[0].getsockname()[1]
    if host is not None and host not in (HOST, "localhost"):
        sockets.append(listen(host, at))
    from .last_state import LastState, state_folder
    from .server import Live, Opened

    opened = Opened(text=text, name=name, hosts=(f"{HOST}:{at}", f"localhost:{at}"),
                    last=LastState(case=case, folder=state_folder()), framed=framed)
    classroom = None
    if lesson:
        from .classroom import Classroom, qr_terminal

        classroom = Classroom(host=f"[{host}]:{at}" if ":" in str(host) else f"{host}:{at}", text=text, name=name)
    page = f"http://{HOST}:{at}/{opened.token}/"
    print(f"The page: {page}", flush=True)
    if classroom is not None:
        print(f"For the class: {classroom.address}\n{qr_terminal(classroom.address)}{CAUTION}")
    print("Ctrl-C ends it.", flush=True)
    if browser:
        webbrowser.open(page)
    import uvicorn

    config = uvicorn.Config(Live(opened, computer, classroom).app(), log_level="critical", access_log=False,
                            lifespan="on", loop="asyncio", http="h11", ws="websockets-sansio", ws_max_size=1_300_000,
                            ws_per_message_deflate=False, limit_concurrency=200, timeout_keep_alive=10,
                            server_header=False, h11_max_incomplete_event_size=16_384, timeout_graceful_shutdown=1)
    if framed:
        _end_with_input()
    placing()  # the page may have handed out anything: it is not said that nothing was written
    uvicorn.Server(config).run(sockets=sockets)
    sys.stdout.flush()
    return 0


def _end_with_input() -> None:
    """End like by SIGTERM when who started this process is gone, and its pipe with it."""
    import os
    import signal
    from threading import Thread

    def wait() -> None:
        sys.stdin.read()
        os.kill(os.getpid(), signal.SIGTERM)

    Thread(target=wait, daemon=True).start()
