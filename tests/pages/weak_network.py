"""A network that can be cut: it stands between the browser and the server, for every tab."""

import contextlib
import socket
import threading


class WeakNetwork:
    """Passes connections on to a server while it is up; `cut()` ends them and lets none in."""

    def __init__(self, port: int) -> None:
        self._server = port
        self._listener: socket.socket | None = None
        self._open: set[socket.socket] = set()
        with socket.socket() as found:
            found.bind(("localhost", 0))
            self.port = int(found.getsockname()[1])
        self.mend()

    @property
    def address(self) -> str:
        """Where the browser goes; this machine, so a secure place."""
        return f"http://localhost:{self.port}"

    def mend(self) -> None:
        """Let connections through."""
        if self._listener is not None:
            return
        self._listener = socket.socket()
        self._listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        self._listener.bind(("localhost", self.port))
        self._listener.listen(50)
        threading.Thread(target=self._accept, args=(self._listener,), daemon=True).start()

    def cut(self) -> None:
        """End every connection; new ones are refused."""
        if self._listener is not None:
            self._listener.shutdown(socket.SHUT_RDWR)
            self._listener.close()
            self._listener = None
        for each in list(self._open):
            with contextlib.suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)

    def _accept(self, listener: socket.socket) -> None:
        while True:
            try:
                browser, _ = listener.accept()
                server = socket.create_connection(("localhost", self._server))
            except OSError:
                return
            self._open |= {browser, server}
            for pair in ((browser, server), (server, browser)):
                threading.Thread(target=self._pass_on, args=pair, daemon=True).start()

    def _pass_on(self, source: socket.socket, to: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while data := source.recv(65536):
                to.sendall(data)
        for each in (source, to):
            with contextlib.suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)
        self._open -= {source, to}
