"""uv, Poetry and PDM: the indexes that `pyproject.toml` and `uv.toml` name.

Follows the projects' own documentation: uv "Package indexes", Poetry "Repositories", PDM "Configure the project's sources".
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from itertools import islice
from typing import TYPE_CHECKING, Any

from logdoctor.setup_files.values import BUILT_IN, Direction, Route
from logdoctor.setup_files.work_tree import Address

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.setup_files.finding import SetupText
    from logdoctor.setup_files.gathering import Gathering
    from logdoctor.setup_files.values import Place

__all__ = ["read_projects"]

MOST_INDEXES = 500
MOST_PACKAGES = 5000

Table = Mapping[str, Any]

_TOML_PLACE = re.compile(r"\(at line (\d+)")
_VARIABLE = re.compile(r"\$\{[^}]{1,100}\}")


def read_projects(texts: Sequence[SetupText], report: Gathering, environment: Mapping[str, str] | None) -> None:
    """Add what these files tell to what was gathered."""
    for text in texts:
        table = _table(text, report)
        tool = {"uv": table} if text.path.name == "uv.toml" else _sub(table, "tool")
        _uv(text, _sub(tool, "uv"), environment or {}, report)
        _poetry(text, _sub(tool, "poetry"), report)
        _pdm(text, _sub(tool, "pdm"), report)


def _table(text: SetupText, report: Gathering) -> Table:
    try:
        return tomllib.loads(text.text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        match = _TOML_PLACE.search(str(error))
        place = text.place(int(match[1]) if match else 1)
        what = f"{text.path.name} is not valid TOML, so no tool can read it."
        report.remark("error", "python-config-invalid", place, what, "Mend the file at this line.")
        return {}


def _sub(table: Table, key: str) -> Table:
    value = table.get(key)
    return value if isinstance(value, Mapping) else {}


def _tables(table: Table, key: str) -> list[Table]:
    value = table.get(key)
    return [one for one in value if isinstance(one, Mapping)][:MOST_INDEXES] if isinstance(value, list) else []


def _text(table: Table, key: str) -> str:
    value = table.get(key)
    return value if isinstance(value, str) else ""


def _uv(text: SetupText, uv: Table, environment: Mapping[str, str], report: Gathering) -> None:
    indexes = _tables(uv, "index")
    for number, index in enumerate(indexes, start=1):
        name = _text(index, "name") or f"index {number}"
        variable = f"UV_INDEX_{re.sub(r'[^A-Za-z0-9]', '_', name).upper()}_USERNAME"
        login = (environment.get(variable), variable if variable in environment else None)
        _add(text, report, ("download", name, _text(index, "url")), *login)
        if target := _text(index, "publish-url"):
            publisher = environment.get("UV_PUBLISH_USERNAME") or (
                "__token__" if "UV_PUBLISH_TOKEN" in environment else None
            )
            _add(text, report, ("upload", name, target), publisher)
    for table in (uv, _sub(uv, "pip")):
        _uv_legacy(text, table, report)
    defaults = [i for i in indexes if i.get("default") is True] or [
        t for t in (uv, _sub(uv, "pip")) if _text(t, "index-url")
    ]
    if indexes and not defaults:
        _add(text, report, ("download", "default", BUILT_IN))
    _uv_sources(text, uv, {_text(i, "name") for i in indexes}, report)


def _uv_legacy(text: SetupText, table: Table, report: Gathering) -> None:
    extra = table.get("extra-index-url")
    for name, urls in (
        ("default", [table.get("index-url")]),
        ("extra index", extra if isinstance(extra, list) else []),
    ):
        for url in urls:
            if isinstance(url, str):
                _add(text, report, ("download", name, url))
    if isinstance(target := table.get("publish-url"), str):
        _add(text, report, ("upload", "publish-url", target))
    if _text(table, "index-strategy") in ("unsafe-best-match", "unsafe-first-match"):
        what = "index-strategy lets uv take a package from any index: one put on the public index under a private name can win."
        mend = "Remove index-strategy, so that the first index that has a package is the only one for it."
        report.remark("note", "uv-mixed-indexes", text.place_of("index-strategy"), what, mend)


def _uv_sources(text: SetupText, uv: Table, names: set[str], report: Gathering) -> None:
    for package, source in islice(_sub(uv, "sources").items(), MOST_PACKAGES):
        for one in source if isinstance(source, list) else [source]:
            wanted = one.get("index") if isinstance(one, Mapping) else None
            if isinstance(wanted, str) and wanted not in names:
                what = f"{package} is to come from the index {wanted}, which no [[tool.uv.index]] names."
                place = text.place_of(package, wanted)
                report.remark(
                    "error", "uv-index-undeclared", place, what, f"Add an index named {wanted}, or mend the name."
                )


def _poetry(text: SetupText, poetry: Table, report: Gathering) -> None:
    sources = _tables(poetry, "source")
    for source in sources:
        # The public index may be named without its address.
        _add(text, report, ("download", _text(source, "name"), _text(source, "url") or BUILT_IN))
    names = {_text(source, "name").lower() for source in sources} | {"pypi"}
    for package, wanted in islice(_poetry_sources(poetry), MOST_PACKAGES):
        if wanted.lower() not in names:
            what = f"{package} is to come from the source {wanted}, which no [[tool.poetry.source]] names."
            place = text.place_of(package, wanted)
            report.remark(
                "error", "poetry-source-undeclared", place, what, f"Add a source named {wanted}, or mend the name."
            )


def _poetry_sources(poetry: Table) -> Iterator[tuple[str, str]]:
    groups = [_sub(poetry, "dependencies"), _sub(poetry, "dev-dependencies")]
    groups += [_sub(group, "dependencies") for group in _sub(poetry, "group").values() if isinstance(group, Mapping)]
    for group in groups:
        for package, wanted in group.items():
            for one in wanted if isinstance(wanted, list) else [wanted]:
                if isinstance(one, Mapping) and isinstance(source := one.get("source"), str):
                    yield package, source


def _pdm(text: SetupText, pdm: Table, report: Gathering) -> None:
    for source in _tables(pdm, "source"):
        name, url = _text(source, "name"), _text(source, "url")
        _add(text, report, ("download", name, url), _text(source, "username") or None)
        place = text.place_of(url) if url else text.place_of("tool.pdm.source")
        if source.get("verify_ssl") is False:
            what = f"Certificates of the source {name} are not checked (verify_ssl = false)."
            mend = "Give the certificate authority with ca_certs and remove verify_ssl = false."
            report.remark("warning", "pdm-certificates-unchecked", place, what, mend)
        password = _text(source, "password")
        severity = report.tree.exposure(text.path)
        if password and severity and not _VARIABLE.search(password):
            what = f"The password of the source {name} is written out in a file of the work tree."
            report.remark(
                severity, "pdm-secret-in-work-tree", place, what, "Write ${NAME} and set the variable on the agent."
            )


def _add(
    text: SetupText,
    report: Gathering,
    target: tuple[Direction, str, str],
    user: str | None = None,
    variable: str | None = None,
) -> None:
    """One route, with the remarks that hold for every index."""
    direction, name, url = target
    if not url:
        return
    address = Address.of(url)
    place: Place | None = text.place_of(url) if url != BUILT_IN else None
    variables = ", ".join(_VARIABLE.findall(url))
    report.routes.append(
        Route(
            direction=direction,
            kind="release" if direction == "upload" else "dependency",
            repository_id=name,
            url=BUILT_IN if url == BUILT_IN else address.bare,
            declared=place,
            server_id=variable,
            user=user or address.user,
            incomplete=f"the value of {variables} is not known" if variables else None,
        )
    )
    report.check_password(url, text, place)
    if address.in_the_clear:
        what = f"The index {address.bare} is reached without encryption."
        report.remark("warning", "python-plain-http", place, what, "Use the https:// address of the index.")
