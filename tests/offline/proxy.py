"""A line that breaks: stands between the browser and the site, and does to requests what basements and masts do.

Which fault comes next is drawn from a seed, so a run can be played again. Faults fall on ``/tablet/api/`` only, as
long as ``share`` is above nothing; everything else passes. The proxy also says that the way to it was HTTPS, as a real
one does.
"""

import json
import socket
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random
from typing import Any

API = b"/tablet/api/"
PATIENCE_S = 30.0


@dataclass
class Request:
    """One request as it came over the line."""

    head: bytes
    body: bytes

    @property
    def whole(self) -> bytes:
        return self.head + self.body

    @property
    def path(self) -> bytes:
        return self.head.split(b" ", 2)[1]

    def header(self, name: bytes) -> bytes:
        """The value of a header, named in small letters; nothing when it is not there."""
        lines = (line.partition(b":") for line in self.head.split(b"\r\n")[1:])
        return next((value.strip() for key, _, value in lines if key.lower() == name), b"")

    @property
    def method(self) -> str:
        return self.head.split(b" ", 1)[0].decode()


Send = Callable[[Request], bytes]


def refusing(status: int, words: str, body: bytes = b"") -> Callable[[Request, Send, Random], bytes | None]:
    """Something on the way answers instead of the site."""

    def answer(_request: Request, _send: Send, _random: Random) -> bytes:
        kind = b"application/json" if body else b"text/html"
        content = body or b"<h1>no</h1>"
        return (
            b"HTTP/1.1 %d %s\r\nContent-Type: %s\r\nContent-Length: %d\r\nConnection: close\r\n\r\n"
            % (status, words.encode(), kind, len(content))
        ) + content

    return answer


def drop(_request: Request, _send: Send, _random: Random) -> None:
    """The request never arrives."""


def cut_request(request: Request, send: Send, _random: Random) -> None:
    """Half of the request arrives, then the line is dead."""
    send(Request(request.head, request.body[: len(request.body) // 2]))


def drop_answer(request: Request, send: Send, _random: Random) -> None:
    """The site has done it; nobody hears so."""
    send(request)


def half_answer(request: Request, send: Send, _random: Random) -> bytes:
    answer = send(request)
    return answer[: max(1, len(answer) - max(2, len(answer.partition(b"\r\n\r\n")[2]) // 2))]


def delay(request: Request, send: Send, random: Random) -> bytes:
    time.sleep(random.uniform(0.02, 0.3))
    return send(request)


def double(request: Request, send: Send, _random: Random) -> bytes:
    send(request)
    return send(request)


def parallel_double(request: Request, send: Send, _random: Random) -> bytes:
    other = threading.Thread(target=send, args=(request,), daemon=True)
    other.start()
    answer = send(request)
    other.join(PATIENCE_S)
    return answer


def late_double(request: Request, send: Send, random: Random) -> bytes:
    later = threading.Timer(random.uniform(0.2, 0.8), send, args=(request,))
    later.daemon = True
    later.start()
    return send(request)


def false_receipt(request: Request, _send: Send, _random: Random) -> bytes:
    """Something says that all is received, of which the site never heard; the hashes are of nothing."""
    none, length = "0" * 64, request.header(b"upload-length")
    told: dict[str, Any] = {"offset": int(length or 0), "done": True, "sha256": none}
    if b"/events" in request.path:
        receipts = [
            {"id": one["id"], "sha256": none, "status": "stored", "flags": [], "sentence": ""}
            for one in json.loads(request.body)["items"]
        ]
        told = {"receipts": receipts, "visits": {}}
    elif b"/photos/" not in request.path:
        return FAULTS["502"](request, _send, _random) or b""
    return refusing(200, "OK", json.dumps(told).encode())(request, _send, _random) or b""


FAULTS: dict[str, Callable[[Request, Send, Random], bytes | None]] = {
    "drop": drop,
    "cut request": cut_request,
    "drop answer": drop_answer,
    "half answer": half_answer,
    "delay": delay,
    "double": double,
    "parallel double": parallel_double,
    "late double": late_double,
    "502": refusing(502, "Bad Gateway"),
    "500": refusing(500, "Internal Server Error"),
    "401": refusing(401, "Unauthorized", b'{"sentence": "Sign in."}'),
    "413": refusing(413, "Content Too Large", b'{"sentence": "Too much.", "most_items": 3, "most_bytes": 9000}'),
    "200 of another": refusing(200, "OK"),
    "false receipt": false_receipt,
}


@dataclass
class Proxy:
    """Listens on a port of its own; ``site`` is the port behind it. Paths that hold ``broken`` answer 502."""

    site: int
    seed: int = 0
    share: float = 0.0
    only: tuple[str, ...] = ()
    done: list[str] = field(default_factory=list)
    is_cut: bool = False
    broken: bytes = b""

    def __post_init__(self) -> None:
        self.random = Random(self.seed)
        self._lock = threading.Lock()
        self._listener = socket.create_server(("127.0.0.1", 0), backlog=64)
        self.port: int = self._listener.getsockname()[1]
        threading.Thread(target=self._listen, daemon=True).start()

    @property
    def address(self) -> str:
        return f"http://localhost:{self.port}"

    def heal(self) -> None:
        self.share, self.is_cut, self.broken = 0.0, False, b""

    def again(self, *, seed: int, share: float) -> None:
        """The same line with another run's luck."""
        self.heal()
        self.random, self.share, self.done = Random(seed), share, []

    def close(self) -> None:
        self._listener.close()

    def _listen(self) -> None:
        while True:
            try:
                line, _ = self._listener.accept()
            except OSError:
                return
            threading.Thread(target=self._serve, args=(line,), daemon=True).start()

    def _serve(self, line: socket.socket) -> None:
        with line:
            line.settimeout(PATIENCE_S)
            try:
                request = read_request(line)
                if request is None or self.is_cut:
                    return
                answer = self._answer(request)
                if answer:
                    line.sendall(answer)
            except OSError:
                return

    def _answer(self, request: Request) -> bytes | None:
        if self.broken and self.broken in request.path:
            return FAULTS["502"](request, self._send, self.random)
        name, luck = self._draw(request)
        if name is None:
            return self._send(request)
        return FAULTS[name](request, self._send, luck)

    def _draw(self, request: Request) -> tuple[str | None, Random]:
        with self._lock:
            luck = Random(self.random.random())
            if not request.path.startswith(API) or self.random.random() >= self.share:
                return None, luck
            name = self.random.choice(self.only or tuple(FAULTS))
            self.done.append(name)
            return name, luck

    def _send(self, request: Request) -> bytes:
        """Hands the request to the site; its whole answer, or as much as came."""
        answer = bytearray()
        try:
            with socket.create_connection(("127.0.0.1", self.site), timeout=PATIENCE_S) as site:
                site.sendall(request.whole)
                site.shutdown(socket.SHUT_WR)
                while part := site.recv(65536):
                    answer += part
        except OSError:
            pass
        return bytes(answer)


def read_request(line: socket.socket) -> Request | None:
    """One request, with the headers that a proxy sets; None when the line ended before it was whole."""
    held = bytearray()
    while b"\r\n\r\n" not in held:
        part = line.recv(65536)
        if not part:
            return None
        held += part
    head, _, body = bytes(held).partition(b"\r\n\r\n")
    lines = head.split(b"\r\n")
    length = next((int(one.split(b":", 1)[1]) for one in lines[1:] if one.lower().startswith(b"content-length:")), 0)
    while len(body) < length:
        part = line.recv(65536)
        if not part:
            return None
        body += part
    kept = [one for one in lines if not one.lower().startswith((b"connection:", b"x-forwarded-proto:"))]
    return Request(b"\r\n".join([*kept, b"Connection: close", b"X-Forwarded-Proto: https", b"", b""]), body)
