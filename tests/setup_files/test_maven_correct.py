"""Set-ups that work: not one error or warning may be said about them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest

from tests.setup_files.maven_support import (
    PUBLIC,
    RELEASES,
    SNAPSHOTS,
    Files,
    build,
    grave,
    mirror,
    repository,
    server,
    settings,
)

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

_BOTH = {"release": f"brackwater-releases {RELEASES}", "snapshot": f"brackwater-snapshots {SNAPSHOTS}"}
_ACCOUNTS = server("brackwater-releases") + server("brackwater-snapshots")
_SET = {"REPO_PASSWORD": "kept-secret", "REPO_USER": "ci"}
_ENCRYPTED = "{COQLCE6DU6GtcS5PHx7fNWHWQ0fQ3m1C0Jd4nq==}"
_CENTRAL_BOTH = (
    f"<repositories>{repository('central', PUBLIC)}</repositories>"
    f"<pluginRepositories>{repository('central', PUBLIC, 'pluginRepository')}</pluginRepositories>"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """The files, and what else is given."""

    files: Mapping[str, str]
    environment: Mapping[str, str] | None = None
    version: str | None = "3.9.9"
    profiles: tuple[str, ...] = ()
    java: str | None = None


def _profile(name: str, content: str, activation: str = "") -> str:
    return f"<profile><id>{name}</id>{activation}{content}</profile>"


ROWS = {
    "one mirror for all, accounts for uploads": Row(
        files={
            "~/.m2/settings.xml": settings(servers=server("brackwater") + _ACCOUNTS, mirrors=mirror()),
            "pom.xml": build(**_BOTH),
        },
        environment=_SET,
    ),
    "a mirror that may be read without an account": Row(
        files={"~/.m2/settings.xml": settings(servers=_ACCOUNTS, mirrors=mirror()), "pom.xml": build(**_BOTH)}
    ),
    "ids shared by download and upload, the mirror is anonymous": Row(
        files={
            "~/.m2/settings.xml": settings(servers=_ACCOUNTS, mirrors=mirror()),
            "pom.xml": build(f"<repositories>{repository('brackwater-releases', RELEASES)}</repositories>", **_BOTH),
        }
    ),
    "a snapshot with its own target": Row(
        files={
            "~/.m2/settings.xml": settings(servers=_ACCOUNTS, mirrors=mirror()),
            "pom.xml": build(version="1.5.0-SNAPSHOT", **_BOTH),
        }
    ),
    "one repository for releases and snapshots": Row(
        files={
            "~/.m2/settings.xml": settings(servers=server("brackwater-hosted")),
            "pom.xml": build(
                version="1.5.0-SNAPSHOT",
                release="brackwater-hosted https://repo.brackwater.example/repository/fares-hosted",
            ),
        }
    ),
    "an application that is not uploaded": Row(
        files={"~/.m2/settings.xml": settings(mirrors=mirror()), "pom.xml": build(version="1-SNAPSHOT")}
    ),
    "nothing configured at all": Row(files={"pom.xml": build()}),
    "uploads switched off": Row(
        files={
            "~/.m2/settings.xml": settings(),
            "pom.xml": build(
                "<properties><maven.deploy.skip>true</maven.deploy.skip></properties>",
                version="1-SNAPSHOT",
                release=f"r {RELEASES}",
            ),
        }
    ),
    "no settings file given": Row(files={"pom.xml": build(**_BOTH)}),
    "central redefined for both kinds in an active profile": Row(
        files={
            "~/.m2/settings.xml": settings(
                servers=server("central") + _ACCOUNTS,
                profiles=_profile("brackwater", _CENTRAL_BOTH),
                active=["brackwater"],
            ),
            "pom.xml": build(**_BOTH),
        },
        environment=_SET,
    ),
    "profiles of which one is chosen on the command line": Row(
        files={
            "~/.m2/settings.xml": settings(
                profiles=_profile("quay-a", _CENTRAL_BOTH) + _profile("quay-b", _CENTRAL_BOTH)
            ),
            "pom.xml": build(),
        },
        profiles=("quay-a",),
    ),
    "a profile that a variable switches on": Row(
        files={
            "~/.m2/settings.xml": settings(
                profiles=_profile(
                    "ci", _CENTRAL_BOTH, "<activation><property><name>env.CI</name></property></activation>"
                )
            ),
            "pom.xml": build(),
        }
    ),
    "encrypted password with its master": Row(
        files={
            "~/.m2/settings.xml": settings(servers=server("brackwater-releases", _ENCRYPTED), mirrors=mirror()),
            "~/.m2/settings-security.xml": "<settingsSecurity><master>{jSMOWnoPFgsHVpMvz5VrIt5kRbzGpI8u+9EF1iFQyJQ=}</master></settingsSecurity>",
            "pom.xml": build(release=f"brackwater-releases {RELEASES}"),
        }
    ),
    "written-out password in the home folder": Row(
        files={
            "~/.m2/settings.xml": settings(servers=server("brackwater-releases", "kept-secret"), mirrors=mirror()),
            "pom.xml": build(release=f"brackwater-releases {RELEASES}"),
        }
    ),
    "settings in the work tree with variables only": Row(
        files={
            "settings.xml": settings(servers=server("brackwater-releases", user="${env.REPO_USER}")),
            "pom.xml": build(release=f"brackwater-releases {RELEASES}"),
        },
        environment=_SET,
    ),
    "plain http before it was refused": Row(
        files={
            "~/.m2/settings.xml": settings(mirrors=mirror(url="http://repo.brackwater.example/public")),
            "pom.xml": build(
                f"<repositories>{repository('tides', 'http://tides.brackwater.example/m2')}</repositories>"
            ),
        },
        version="3.6.3",
    ),
    "plain http that an https mirror takes": Row(
        files={
            "~/.m2/settings.xml": settings(mirrors=mirror()),
            "pom.xml": build(f"<repositories>{repository('tides', 'http://tides.public.example/m2')}</repositories>"),
        }
    ),
    "plain http on this machine": Row(
        files={
            "~/.m2/settings.xml": settings(mirrors=mirror(of="external:*")),
            "pom.xml": build(f"<repositories>{repository('local', 'http://localhost:8081/m2')}</repositories>"),
        }
    ),
    "plain http, and nobody knows the version": Row(
        files={
            "~/.m2/settings.xml": settings(),
            "pom.xml": build(
                f"<repositories>{repository('tides', 'http://tides.brackwater.example/m2')}</repositories>"
            ),
        },
        version=None,
    ),
    "a folder as repository, kept out of the mirror": Row(
        files={
            "~/.m2/settings.xml": settings(mirrors=mirror(of="external:*")),
            "pom.xml": build(f"<repositories>{repository('in-tree', 'file://${project.basedir}/libs')}</repositories>"),
        }
    ),
    "a private repository that is excluded": Row(
        files={
            "~/.m2/settings.xml": settings(mirrors=mirror(of="*,!tides")),
            "pom.xml": build(f"<repositories>{repository('tides', 'https://tides.corp/m2')}</repositories>"),
        }
    ),
    "upload to a folder and over ssh": Row(
        files={
            "~/.m2/settings.xml": settings(),
            "pom.xml": build(release="staging file:///srv/staging", site="web scp://www.brackwater.example/srv/site"),
        }
    ),
    "the parent is elsewhere": Row(
        files={
            "~/.m2/settings.xml": settings(servers=_ACCOUNTS, mirrors=mirror()),
            "pom.xml": build(
                version="1.5.0-SNAPSHOT",
                parent="<parent><groupId>example.brackwater</groupId><artifactId>parent</artifactId><version>7</version><relativePath/></parent>",
                release=f"brackwater-releases {RELEASES}",
            ),
        }
    ),
    "targets in a parent on disk, version from a property": Row(
        files={
            "~/.m2/settings.xml": settings(servers=_ACCOUNTS, mirrors=mirror()),
            "pom.xml": build(
                "<properties><revision>2-SNAPSHOT</revision></properties><modules><module>core</module></modules>",
                version="${revision}",
                artifact="parent",
                packaging="pom",
                **_BOTH,
            ),
            "core/pom.xml": build(
                version="",
                parent="<parent><groupId>example.brackwater.fares</groupId><artifactId>parent</artifactId><version>${revision}</version></parent>",
            ),
        }
    ),
    "compiler release of the JDK": Row(
        files={
            "~/.m2/settings.xml": settings(mirrors=mirror()),
            "pom.xml": build("<properties><maven.compiler.release>17</maven.compiler.release></properties>"),
        },
        java="17.0.9",
    ),
    "old Java version number": Row(
        files={
            "pom.xml": build(
                "<properties><maven.compiler.source>1.8</maven.compiler.source><maven.compiler.target>1.8</maven.compiler.target></properties>"
            )
        },
        java="1.8.0_402",
    ),
    "a newer JDK from the toolchains": Row(
        files={
            "~/.m2/toolchains.xml": "<toolchains><toolchain><type>jdk</type><provides><version>21</version></provides></toolchain></toolchains>",
            "pom.xml": build(
                "<properties><maven.compiler.release>21</maven.compiler.release></properties><build><plugins><plugin>"
                "<artifactId>maven-toolchains-plugin</artifactId></plugin></plugins></build>"
            ),
        },
        java="17.0.9",
    ),
    "a private repository and its mirror on one host": Row(
        files={
            "~/.m2/settings.xml": settings(mirrors=mirror(url="https://repo.corp/public")),
            "pom.xml": build(f"<repositories>{repository('tides', 'https://repo.corp/tides')}</repositories>"),
        }
    ),
    "dependencies and plugins from repositories on the own host": Row(
        files={
            "~/.m2/settings.xml": settings(mirrors=mirror(of="central")),
            "pom.xml": build(
                f"<pluginRepositories>{repository('plugins', 'https://repo.brackwater.example/plugins', 'pluginRepository')}</pluginRepositories>"
            ),
        }
    ),
    "the default block of plain http lifted on purpose": Row(
        files={
            "~/.m2/settings.xml": settings(mirrors=mirror("maven-default-http-blocker", "dummy", "http://127.0.0.1/")),
            "pom.xml": build(
                f"<repositories>{repository('tides', 'http://tides.brackwater.example/m2')}</repositories>"
            ),
        }
    ),
}


@pytest.mark.parametrize("row", ROWS.values(), ids=ROWS)
def test_nothing_is_said_against_it(row: Row, tmp_path: Path) -> None:
    files = Files(tmp_path)
    for name, text in row.files.items():
        files.write(name, text)
    setup = files.read(row.environment, row.version, row.profiles, row.java)
    assert grave(setup) == set(), [each.what for each in setup.remarks]
