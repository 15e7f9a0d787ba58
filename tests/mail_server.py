"""A mail server for the tests: takes letters on this machine and keeps them (RFC 5321, 4954)."""

import base64
import socketserver
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from email import message_from_bytes
from email.message import Message
from email.policy import default


class MailServer(socketserver.ThreadingTCPServer):
    """What was sent here, and by whom."""

    allow_reuse_address = True
    daemon_threads = True

    def __init__(self, password: str = "") -> None:
        super().__init__(("127.0.0.1", 0), _Talk)
        self.password = password
        self.letters: list[Message] = []
        self.recipients: list[str] = []
        self.logins: list[str] = []

    @property
    def port(self) -> int:
        """Where it listens."""
        return int(self.server_address[1])


class _Talk(socketserver.StreamRequestHandler):
    server: MailServer

    def handle(self) -> None:
        self._say("220 ready")
        while line := self.rfile.readline().decode().strip():
            verb = line[:4].upper()
            if verb == "EHLO":
                self._say("250-hello", "250 AUTH PLAIN")
            elif verb == "AUTH":
                self._login(line.split()[-1])
            elif verb == "DATA":
                self._take()
            elif verb == "RCPT" and "refused@" in line:
                self._say("550 nobody here")
            elif verb == "RCPT":
                self.server.recipients.append(line.partition("<")[2].partition(">")[0])
                self._say("250 fine")
            elif verb == "QUIT":
                self._say("221 goodbye")
                return
            else:
                self._say("250 fine")

    def _login(self, words: str) -> None:
        said = base64.b64decode(words).decode().split("\0")
        self.server.logins.append(said[1])
        right = said[2] == self.server.password
        self._say("235 welcome" if right else "535 wrong password")

    def _take(self) -> None:
        self._say("354 go on")
        lines = []
        while (line := self.rfile.readline()) != b".\r\n":
            lines.append(line)
        self.server.letters.append(message_from_bytes(b"".join(lines), policy=default))
        self._say("250 taken")

    def _say(self, *lines: str) -> None:
        self.wfile.write("".join(f"{line}\r\n" for line in lines).encode())


@contextmanager
def mail_server(password: str = "") -> Iterator[MailServer]:
    """Run one for a while."""
    with MailServer(password) as server:
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        try:
            yield server
        finally:
            server.shutdown()
            thread.join(10)
