"""Makes certificates at run time for the rule server, with the `openssl` command.

One authority, and server certificates that are fine, expired, for another name, or from an authority that nobody
knows.
"""

from __future__ import annotations

import datetime as dt
import ssl
import subprocess
import threading
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["Authority", "server_context"]

# Scenarios run side by side and may want the same certificate at the same time.
_ISSUING = threading.Lock()


@dataclass(frozen=True, slots=True, kw_only=True)
class Authority:
    """A private certificate authority in a folder; `certificate` is what clients may be told to trust."""

    folder: Path
    name: str = "Brackwater Ferries Internal CA"

    @property
    def certificate(self) -> Path:
        """The file that clients may be told to trust."""
        return self.folder / "ca.pem"

    def make(self) -> Authority:
        """Create key and certificate, unless they are there."""
        self.folder.mkdir(parents=True, exist_ok=True)
        if not self.certificate.exists():
            _openssl(
                "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "3650", "-subj", f"/O=Brackwater/CN={self.name}",
                "-keyout", str(self.folder / "ca.key"), "-out", str(self.certificate),
            )  # fmt: skip
        return self

    def issue(self, host: str, *, expired: bool = False) -> Path:
        """A file with key and certificate for a host; `expired`: it ended a week ago."""
        with _ISSUING:
            return self._issue(host, expired=expired)

    def _issue(self, host: str, *, expired: bool) -> Path:
        stem = self.folder / f"{host}{'-expired' if expired else ''}"
        bundle = stem.with_name(stem.name + ".pem")
        if bundle.exists():
            return bundle
        key, request, signed = (stem.with_name(stem.name + end) for end in (".key", ".csr", ".crt"))
        _openssl(
            "req", "-newkey", "rsa:2048", "-nodes", "-subj", f"/CN={host}", "-addext", f"subjectAltName=DNS:{host}",
            "-keyout", str(key), "-out", str(request),
        )  # fmt: skip
        self._sign(request, signed, expired=expired)
        bundle.write_text(key.read_text() + signed.read_text())
        return bundle

    def _sign(self, request: Path, signed: Path, *, expired: bool) -> None:
        """Use `openssl ca`, the one subcommand of every version that takes both dates."""
        now = dt.datetime.now(dt.UTC)
        start, end = (now - dt.timedelta(days=400), now + dt.timedelta(days=-7 if expired else 365))
        config = self.folder / "ca.cnf"
        (self.folder / "index.txt").touch()
        config.write_text(
            "[ca]\ndefault_ca=lab\n[lab]\n"
            f"database={self.folder}/index.txt\nnew_certs_dir={self.folder}\nrand_serial=yes\ndefault_md=sha256\n"
            "policy=any\ncopy_extensions=copy\nunique_subject=no\n[any]\ncommonName=supplied\n"
        )
        _openssl(
            "ca", "-batch", "-notext", "-config", str(config), "-cert", str(self.certificate),
            "-keyfile", str(self.folder / "ca.key"), "-in", str(request), "-out", str(signed),
            "-startdate", f"{start:%Y%m%d%H%M%SZ}", "-enddate", f"{end:%Y%m%d%H%M%SZ}",
        )  # fmt: skip


def server_context(bundle: Path) -> ssl.SSLContext:
    """A server's side of TLS with the given key and certificate."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(bundle)
    return context


def _openssl(*arguments: str) -> None:
    done = subprocess.run(["openssl", *arguments], capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise RuntimeError(f"openssl {arguments[0]} failed: {done.stderr}")
