"""Finds or fetches the Maven versions and JDKs of the lab, and the public registry that Maven itself uses."""

from __future__ import annotations

import functools
import io
import os
import re
import shutil
import subprocess
import tarfile
import zipfile
from pathlib import Path

from tests.lab.rule_server import Public
from tests.lab.rule_server_tls import Authority

__all__ = [
    "JDKS",
    "authority",
    "available",
    "cache",
    "central",
    "central_host",
    "maven_home",
    "stranger",
    "trust_store",
]

JDKS = {
    "17": Path("/usr/lib/jvm/java-17-openjdk-amd64"),
    "25": Path("/usr/lib/jvm/temurin-25-jdk-amd64"),
}
_SYSTEM_HOME = Path("/usr/share/maven")
_SYSTEM_VERSION = "3.8.7"


def available() -> bool:
    """Whether the lab can run here at all: a system Maven (it knows the registry), both JDKs, openssl."""
    return _SYSTEM_HOME.is_dir() and all(jdk.is_dir() for jdk in JDKS.values()) and bool(shutil.which("openssl"))


def cache() -> Path:
    """Downloads and certificates that outlive a run; never inside the source tree."""
    given = os.environ.get("LOGDOCTOR_LAB_CACHE")
    folder = Path(given) if given else Path.home() / ".cache" / "logdoctor-lab"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@functools.cache
def _central_url() -> str:
    """The public registry's address, read from the super POM inside Maven's own library."""
    library = next(_SYSTEM_HOME.glob("lib/maven-model-builder*.jar"))
    with zipfile.ZipFile(library) as archive:
        pom = archive.read("org/apache/maven/model/pom-4.0.0.xml").decode()
    found = re.search(r"<url>(https://[^<]+)</url>", pom)
    assert found is not None, "Maven's super POM names no public registry"
    return found[1]


def central_host() -> str:
    return _central_url().split("/")[2]


def central() -> Public:
    """The public registry behind a cache: a second run of the lab needs no network."""
    return Public(upstream=_central_url(), cache=cache() / "maven-public")


@functools.cache
def maven_home(version: str) -> Path:
    """The home of a Maven version, fetched from the registry on first use."""
    if version == _SYSTEM_VERSION:
        return _SYSTEM_HOME
    home = cache() / f"apache-maven-{version}"
    if not home.is_dir():
        packed = central().read(f"org/apache/maven/apache-maven/{version}/apache-maven-{version}-bin.tar.gz")
        assert packed is not None, f"the registry has no Maven {version}"
        with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
            archive.extractall(cache(), filter="data")
    return home


@functools.cache
def authority() -> Authority:
    return Authority(folder=cache() / "authority").make()


@functools.cache
def stranger() -> Authority:
    """An authority that no trust store of the lab knows."""
    return Authority(folder=cache() / "stranger", name="Unknown Test CA").make()


@functools.cache
def trust_store() -> Path:
    """A trust store that holds the lab's authority only; its password is ``changeit``."""
    store = cache() / "trust.p12"
    if not store.exists():
        keytool = JDKS["17"] / "bin" / "keytool"
        subprocess.run(
            [str(keytool), "-importcert", "-noprompt", "-alias", "lab", "-file", str(authority().certificate),
             "-keystore", str(store), "-storetype", "PKCS12", "-storepass", "changeit"],
            check=True, capture_output=True,
        )  # fmt: skip
    return store
