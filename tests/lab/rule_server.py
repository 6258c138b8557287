"""A small HTTP server that plays an artifact repository and answers by rule.

Areas hold files (a hosted repository that takes uploads, a caching proxy of a public registry); rules come first
and say how a request goes wrong. Every request is kept with the account that made it.
"""

from __future__ import annotations

import base64
import http.server
import re
import socket
import struct
import threading
import time
import urllib.error
import urllib.request
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    import ssl
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path
    from types import TracebackType

__all__ = ["Answer", "Folder", "Public", "Request", "Rule", "RuleServer", "SilentPort", "closed_port"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One answer.

    `drop`: ``before`` closes without a byte, ``body`` in the middle of the body that the areas would serve,
    ``reset`` sends a TCP reset, ``upload`` resets while the request's body is still coming in.
    """

    status: int = 200
    reason: str | None = None
    body: str | bytes = ""
    kind: str = "text/html"
    headers: tuple[tuple[str, str], ...] = ()
    delay: float = 0.0
    drop: str = ""
    pass_on: bool = False
    """Let the areas answer after all (with `delay`, or for a user that may)."""


@dataclass(slots=True, kw_only=True)
class Rule:
    """Where an answer applies: method and path are patterns (path is searched), `times` limits how often."""

    path: str
    answer: Answer | Callable[[Request], Answer]
    method: str = "GET|HEAD"
    times: int | None = None
    unless_user: str | None = None
    """The rule does not touch requests of this account."""

    @property
    def breaks_upload(self) -> bool:
        """Has to be decided before the request's body is read."""
        return isinstance(self.answer, Answer) and self.answer.drop == "upload"

    def applies(self, request: Request) -> bool:
        """Whether this request is meant; counts down `times` when it is."""
        if self.times == 0 or (self.unless_user is not None and request.user == self.unless_user):
            return False
        if not re.fullmatch(self.method, request.method) or not re.search(self.path, request.path):
            return False
        if self.times is not None:
            self.times -= 1
        return True


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """One request as it came in."""

    method: str
    path: str
    user: str | None
    body: bytes = b""


@dataclass(frozen=True, slots=True, kw_only=True)
class Folder:
    """A hosted repository on disk."""

    root: Path
    writable: bool = True

    def read(self, path: str) -> bytes | None:
        """A file's bytes, None where there is none."""
        target = self.root / path
        return target.read_bytes() if ".." not in path and target.is_file() else None

    def write(self, path: str, body: bytes) -> bool:
        """Take an upload; false where uploads are not taken."""
        if not self.writable or ".." in path:
            return False
        target = self.root / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(body)
        return True


@dataclass(frozen=True, slots=True, kw_only=True)
class Public:
    """A caching proxy of a public registry; `upstream` is asked only for what the cache does not hold."""

    upstream: str
    cache: Path
    rewrite: Callable[[str, bytes], bytes] | None = None
    """Changes a body before it is served (for registries whose answers hold addresses)."""

    def read(self, path: str) -> bytes | None:
        """A file's bytes, None where there is none."""
        target = self.cache / (path if not path.endswith("/") else path + "_index")
        if ".." in path or len(path) > 500:
            return None
        if not target.is_file():
            body = self._fetch(path)
            if body is None:
                return None
            target.parent.mkdir(parents=True, exist_ok=True)
            part = target.with_name(f"{target.name}.part{threading.get_ident()}")
            part.write_bytes(body)
            part.replace(target)
        body = target.read_bytes()
        return self.rewrite(path, body) if self.rewrite else body

    def write(self, path: str, body: bytes) -> bool:
        """Take an upload; false where uploads are not taken."""
        return False

    def _fetch(self, path: str) -> bytes | None:
        try:
            with urllib.request.urlopen(f"{self.upstream.rstrip('/')}/{path}", timeout=60) as answer:
                return bytes(answer.read())
        except urllib.error.HTTPError:
            return None


Area = Folder | Public


@dataclass(slots=True, kw_only=True)
class RuleServer:
    """The server; use as a context manager. Areas are tried by the longest path prefix (``/repository/public/``)."""

    areas: Mapping[str, Area] = field(default_factory=dict)
    rules: Sequence[Rule] = ()
    tls: ssl.SSLContext | None = None
    name: str = "repo.brackwater.example"
    """Host name under which clients that are given a hosts file reach it."""
    requests: list[tuple[Request, int]] = field(default_factory=list)
    """Every request with the status answered; 0 where the connection was dropped."""
    _server: _Server | None = None
    lock: threading.Lock = field(default_factory=threading.Lock)

    @property
    def port(self) -> int:
        """The port that the system gave."""
        assert self._server is not None, "the server is not running"
        return int(self._server.server_address[1])

    @property
    def url(self) -> str:
        """Address by name, without a slash at the end."""
        return f"{'https' if self.tls else 'http'}://{self.name}:{self.port}"

    @property
    def loopback_url(self) -> str:
        """Address by number, for clients that can't be given a hosts file."""
        return f"{'https' if self.tls else 'http'}://127.0.0.1:{self.port}"

    def __enter__(self) -> Self:
        self._server = _Server(self)
        threading.Thread(target=self._server.serve_forever, args=(0.05,), daemon=True).start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._server is not None:
            self._server.shutdown()
            self._server.server_close()

    def decide(self, request: Request) -> Answer:
        """The first rule that applies, else the area's own answer."""
        with self.lock:
            rule = next((r for r in self.rules if not r.breaks_upload and r.applies(request)), None)
        if rule is None:
            return self.serve(request)
        answer = rule.answer(request) if callable(rule.answer) else rule.answer
        if answer.pass_on or answer.drop == "body":
            time.sleep(answer.delay)
            served = self.serve(request)
            return Answer(status=served.status, body=served.body, kind=served.kind, drop=answer.drop)
        return answer

    def serve(self, request: Request) -> Answer:
        """What a repository without any trouble answers."""
        path = request.path.split("?")[0]
        prefix = max((p for p in self.areas if path.startswith(p)), key=len, default=None)
        if prefix is None:
            return Answer(status=404, reason="Not Found")
        area, inside = self.areas[prefix], path[len(prefix) :].lstrip("/")
        if request.method == "PUT":
            return Answer(status=201, reason="Created") if area.write(inside, request.body) else Answer(status=405)
        body = area.read(inside)
        return Answer(status=404) if body is None else Answer(body=body, kind="application/octet-stream")


class _Server(http.server.ThreadingHTTPServer):
    daemon_threads = True
    request_queue_size = 64

    def __init__(self, owner: RuleServer) -> None:
        self.owner = owner
        super().__init__(("127.0.0.1", 0), _Handler)

    def get_request(self) -> tuple[socket.socket, object]:
        connection, address = super().get_request()
        if self.owner.tls is not None:
            # The handshake happens in the connection's own thread, at the first read.
            connection = self.owner.tls.wrap_socket(
                connection, server_side=True, do_handshake_on_connect=False, suppress_ragged_eofs=True
            )
        return connection, address

    def handle_error(self, request: object, client_address: object) -> None:
        """Clients that hang up or refuse the certificate are part of the plan."""


class _Handler(http.server.BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    server: _Server
    server_version = "repository"
    sys_version = ""

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 (the base class names it)
        """Say nothing: the requests are kept as values."""

    def setup(self) -> None:
        """Prepare the connection."""
        self.request.settimeout(60)
        # Without it, headers and body sent as two packets wait for each other's acknowledgement.
        self.request.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        super().setup()

    def answer(self) -> None:
        """Answer one request of any method."""
        owner = self.server.owner
        bare = Request(method=self.command, path=self.path, user=_user(self.headers.get("Authorization")))
        if self.command == "PUT" and self._breaks_upload(bare):
            return
        request = Request(method=bare.method, path=bare.path, user=bare.user, body=self._body())
        answer = owner.decide(request)
        if not answer.pass_on:
            time.sleep(answer.delay)
        with owner.lock:
            owner.requests.append((request, 0 if answer.drop else answer.status))
        self._send(answer)

    do_GET = do_HEAD = do_PUT = do_POST = do_DELETE = do_CONNECT = do_OPTIONS = do_PROPFIND = do_MKCOL = answer  # noqa: N815 (the base class looks for these)

    def _breaks_upload(self, request: Request) -> bool:
        with self.server.owner.lock:
            if not any(rule.breaks_upload and rule.applies(request) for rule in self.server.owner.rules):
                return False
        self.rfile.read(min(256, int(self.headers.get("Content-Length") or 0)))
        self.server.owner.requests.append((request, 0))
        self._reset()
        return True

    def _body(self) -> bytes:
        if "chunked" in (self.headers.get("Transfer-Encoding") or ""):
            return self._chunks()
        return self.rfile.read(int(self.headers.get("Content-Length") or 0))

    def _chunks(self) -> bytes:
        parts: list[bytes] = []
        while size := int(self.rfile.readline().split(b";")[0] or b"0", 16):
            parts.append(self.rfile.read(size))
            self.rfile.readline()
        self.rfile.readline()
        return b"".join(parts)

    def _send(self, answer: Answer) -> None:
        if answer.drop in {"before", "reset"}:
            self._reset() if answer.drop == "reset" else self._close()
            return
        body = answer.body.encode() if isinstance(answer.body, str) else answer.body
        self.send_response(answer.status, answer.reason)
        for name, value in answer.headers:
            self.send_header(name, value)
        if answer.status == 401 and not any(name.lower() == "www-authenticate" for name, _ in answer.headers):
            self.send_header("WWW-Authenticate", 'Basic realm="Artifact repository"')
        self.send_header("Content-Type", answer.kind)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        if self.command == "HEAD":
            return
        if answer.drop == "body":
            self.wfile.write(body[: len(body) // 2])
            self._close()
            return
        self.wfile.write(body)

    def _close(self) -> None:
        self.close_connection = True
        self.wfile.flush()
        self.connection.shutdown(socket.SHUT_RDWR)

    def _reset(self) -> None:
        """End the connection with a reset: a linger time of zero drops what is still queued."""
        self.close_connection = True
        self.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        self.connection.close()


def _user(header: str | None) -> str | None:
    if not header or not header.startswith("Basic "):
        return header.split(" ")[0] if header else None
    return base64.b64decode(header[6:]).decode(errors="replace").split(":")[0]


@dataclass(slots=True, kw_only=True)
class SilentPort:
    """A port whose queue is full: the system drops new connections, so that clients wait in vain."""

    _sockets: list[socket.socket] = field(default_factory=list)

    @property
    def port(self) -> int:
        """The port that the system gave."""
        return int(self._sockets[0].getsockname()[1])

    def __enter__(self) -> Self:
        listening = socket.socket()
        listening.bind(("127.0.0.1", 0))
        listening.listen(0)
        self._sockets.append(listening)
        for _ in range(4):
            filler = socket.socket()
            filler.setblocking(False)
            filler.connect_ex(listening.getsockname())
            self._sockets.append(filler)
        return self

    def __exit__(self, *ignored: object) -> None:
        for each in self._sockets:
            each.close()


def closed_port() -> int:
    """A port of this machine on which nobody listens."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
