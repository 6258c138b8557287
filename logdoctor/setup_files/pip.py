"""pip and twine: which indexes a download reads, where an upload goes, and with whose credentials.

Follows pip's user guide (configuration files, their order and sections, requirements file format), pip's rule for secure
origins, and the format of `.pypirc` (Python Packaging User Guide).
"""

from __future__ import annotations

import configparser
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from logdoctor.setup_files.gathering import Gathering
from logdoctor.setup_files.python_project import read_projects
from logdoctor.setup_files.values import BUILT_IN, Place, Route, Setup, Severity
from logdoctor.setup_files.work_tree import Address, WorkTree

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from logdoctor.setup_files.finding import Found, SetupText

__all__ = ["read_pip"]

SECTIONS = ("global", "install")
BUILT_IN_SERVERS = ("pypi", "testpypi")
"""Names whose addresses the upload tools know by themselves."""
LONGEST_LINE = 16_384
MOST_INDEXES = 500

_OPTION = re.compile(
    r"(?:^|\s)(?P<option>-i|--index-url|--pypi-url|--extra-index-url|--trusted-host|--no-index)(?:(?:=|\s+)(?P<value>\S+))?"
)
_COMMENT = re.compile(r"(?:^|\s+)#.*$")
_VARIABLE = re.compile(r"\$\{([A-Z0-9_]+)\}")
_ANY_VARIABLE = re.compile(r"\$\{?\w+\}?|%\(?\w+\)?[s%]")


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """The value of one option and where it comes from."""

    value: str
    place: Place | None
    text: SetupText | None = None

    @property
    def words(self) -> list[str]:
        """The values of an option that takes several."""
        return self.value.split()


@dataclass(frozen=True, slots=True, kw_only=True)
class Index:
    """An index that some file names."""

    name: str
    url: str
    place: Place | None
    text: SetupText | None
    written: str = ""
    """The address as the file has it, before variables were put in."""


def read_pip(found: Found, *, tree: WorkTree | None = None, environment: Mapping[str, str] | None = None) -> Setup:
    """Facts, routes and remarks of the Python files among those found."""
    report = Gathering(tree=tree or WorkTree())
    settings = _settings(report.read(found.of("pip")), environment, report)
    indexes, trusted = _configured(settings)
    requirements, more_trusted, undefined = _requirements(report.read(found.of("requirements")), environment)
    _check_variables(undefined, report)
    for index in [*indexes, *requirements]:
        _index(index, trusted | more_trusted, report)
    if _reads_anything(found) and not any(i.name == "index" for i in indexes) and not _on(settings.get("no-index")):
        report.routes.append(_route("index", BUILT_IN, None))
    _check_mixture(indexes, report)
    _check_mixture(requirements, report)
    for text in report.read(found.of("pypirc")):
        _uploads(text, environment, report)
    read_projects(report.read(found.of("pyproject")), report, environment)
    return report.setup()


def _reads_anything(found: Found) -> bool:
    return bool(found.of("pip") or found.of("requirements"))


def _settings(
    texts: Sequence[SetupText], environment: Mapping[str, str] | None, report: Gathering
) -> dict[str, Setting]:
    """The options of `pip install` by name: the install section beats the global one, the environment beats both."""
    layers: dict[tuple[str, str], Setting] = {}
    named = (environment or {}).get("PIP_CONFIG_FILE", "")
    for text in texts:
        parser = _parsed(text, report)
        for section in SECTIONS:
            if parser is not None and parser.has_section(section):
                for key, value in parser.items(section):
                    name = key.lower().replace("_", "-")
                    layers[section, name] = Setting(value=value, place=_place(text, key), text=text)
        if report.tree.holds(text.path) and not named.replace("\\", "/").endswith(text.path.name):
            report.incomplete.append(
                f"pip reads {text.path} only where PIP_CONFIG_FILE names it or where it lies in the virtual environment"
            )
    settings = {name: setting for section in SECTIONS for (s, name), setting in layers.items() if s == section}
    for variable, value in (environment or {}).items():
        if variable.startswith("PIP_") and value:
            settings[variable[4:].lower().replace("_", "-")] = Setting(value=value, place=None)
    for name in ("proxy",):
        if name in settings:
            report.fact("proxy_configured", value=True, place=settings[name].place)
            report.check_password(settings[name].value, settings[name].text, settings[name].place)
    _check_literal_variables(settings, report)
    return settings


def _parsed(text: SetupText, report: Gathering) -> configparser.RawConfigParser | None:
    parser = configparser.RawConfigParser()
    try:
        parser.read_string(text.text, source=text.path.name)
    except configparser.Error as error:
        line = getattr(error, "lineno", None) or next(iter(getattr(error, "errors", [])), (1,))[0]
        what = f"{text.path.name} can't be read as an ini file: {_reason(error)}."
        report.remark("error", "python-config-invalid", text.place(int(line)), what, "Mend the file at this line.")
        return None
    return parser


def _reason(error: configparser.Error) -> str:
    """The kind of fault, without the text of the line, which may hold a secret."""
    kinds = {
        configparser.MissingSectionHeaderError: "a setting stands before the first [section]",
        configparser.DuplicateOptionError: "an option is written twice in a section",
        configparser.DuplicateSectionError: "a section is written twice",
    }
    return next((words for kind, words in kinds.items() if isinstance(error, kind)), "a line is no setting")


def _place(text: SetupText, key: str) -> Place:
    pattern = re.compile(rf"\s*{re.escape(key)}\s*[=:]", re.IGNORECASE)
    return text.place(next((n for n, line in enumerate(text.lines, start=1) if pattern.match(line)), 1))


def _check_literal_variables(settings: Mapping[str, Setting], report: Gathering) -> None:
    """Variables in a configuration file, where pip puts none in."""
    for name in ("index-url", "extra-index-url", "trusted-host", "proxy"):
        setting = settings.get(name)
        if setting and setting.text and (match := _ANY_VARIABLE.search(setting.value)) and "$" in match[0]:
            what = f"{name} uses the variable {match[0]}, but pip puts no variables into its configuration files."
            mend = (
                f"Set PIP_{name.upper().replace('-', '_')} in the environment instead, or write the value on the agent."
            )
            report.remark("warning", "pip-variable-not-replaced", setting.place, what, mend)


def _configured(settings: Mapping[str, Setting]) -> tuple[list[Index], set[str]]:
    indexes: list[Index] = []
    for option, name in (("index-url", "index"), ("extra-index-url", "extra index")):
        setting = settings.get(option)
        if setting and not _on(settings.get("no-index")):
            indexes += [
                Index(name=name, url=url, place=setting.place, text=setting.text)
                for url in setting.words[:MOST_INDEXES]
            ]
    trusted = settings.get("trusted-host")
    return indexes, {word.lower() for word in (trusted.words if trusted else [])}


def _on(setting: Setting | None) -> bool:
    return setting is not None and setting.value.strip().lower() not in ("", "0", "n", "no", "f", "false", "off")


def _requirements(
    texts: Sequence[SetupText], environment: Mapping[str, str] | None
) -> tuple[list[Index], set[str], list[tuple[str, Place]]]:
    """The indexes and trusted hosts that requirements files name, and the variables that are missing for them."""
    indexes: list[Index] = []
    trusted: set[str] = set()
    undefined: list[tuple[str, Place]] = []
    for text in texts:
        for number, line in _logical_lines(text):
            # Only a line that begins with an option has options for the whole file.
            if not line.startswith("-"):
                continue
            for match in _OPTION.finditer(line):
                option, value = match["option"], (match["value"] or "").strip("\"'")
                filled, missing = _filled(value, environment)
                undefined += [(name, text.place(number)) for name in missing]
                if option == "--trusted-host":
                    trusted.add(filled.lower())
                elif value and option != "--no-index":
                    name = "extra index" if "extra" in option else "index"
                    indexes.append(Index(name=name, url=filled, place=text.place(number), text=text, written=value))
    return indexes[:MOST_INDEXES], trusted, undefined[:MOST_INDEXES]


def _logical_lines(text: SetupText) -> Iterator[tuple[int, str]]:
    """Lines without comments; one that ends in a backslash goes on."""
    start, gathered = 0, ""
    for number, line in enumerate(text.lines, start=1):
        start = start or number
        if line.endswith("\\") and len(gathered) < LONGEST_LINE:
            gathered += line[:-1] + " "
            continue
        yield start, _COMMENT.sub("", (gathered + line)[:LONGEST_LINE]).strip()
        start, gathered = 0, ""
    if gathered:
        yield start, _COMMENT.sub("", gathered).strip()


def _filled(value: str, environment: Mapping[str, str] | None) -> tuple[str, list[str]]:
    """The value with its variables put in, and the names that a given environment does not have."""
    names = _VARIABLE.findall(value)
    if environment is None:
        return value, []
    missing = [name for name in names if not environment.get(name)]
    return _VARIABLE.sub(lambda m: environment.get(m[1]) or m[0], value), missing


def _check_variables(undefined: Sequence[tuple[str, Place]], report: Gathering) -> None:
    for name, place in undefined:
        what = f"The address of an index uses ${{{name}}}, which the environment does not define; pip uses the text as it stands."
        report.remark("error", "pip-variable-undefined", place, what, f"Set {name} in the environment of the step.")


def _index(index: Index, trusted: set[str], report: Gathering) -> None:
    address = Address.of(index.url)
    report.routes.append(_route(index.name, index.url, index.place))
    report.check_password(index.written or index.url, index.text, index.place)
    known = address.host.lower()
    is_trusted = bool({known, f"{known}:{address.port}", "*"} & trusted)
    if address.in_the_clear and not is_trusted:
        what = f"pip ignores the index {address.bare}: it is plain http, and its host is not a trusted host."
        mend = (
            f"Use its https:// address. Where there is none, trusted-host = {address.host} lets pip use it unprotected."
        )
        report.remark("error", "pip-http-not-trusted", index.place, what, mend)
    elif address.in_the_clear:
        severity: Severity = "warning" if address.user else "note"
        what = f"The index {address.bare} is read without encryption; trusted-host only makes pip accept that."
        report.remark(severity, "pip-plain-http", index.place, what, "Use the https:// address of the index.")
    elif is_trusted and address.scheme == "https":
        what = f"trusted-host makes pip take any certificate of {address.host}."
        mend = "Give pip the organisation's certificate authority (cert = …) and remove the trusted host."
        report.remark("note", "pip-certificates-unchecked", index.place, what, mend)


def _check_mixture(indexes: Sequence[Index], report: Gathering) -> None:
    """Two indexes of different owners: pip takes the best version from any of them."""
    mains = {_owner(i.url) for i in indexes if i.name == "index"} or {""}
    for index in indexes:
        if index.name == "extra index" and _owner(index.url) not in mains and Address.of(index.url).host:
            what = (
                f"pip looks at {Address.of(index.url).bare} and at the main index alike and takes the best version of either:"
                " a package of a private name that someone puts on the public index would win."
            )
            mend = (
                "Let one index of your own serve both (a group over private and public), and use it as index-url alone."
            )
            report.remark("note", "pip-mixed-indexes", index.place, what, mend)


def _owner(url: str) -> str:
    """The last two labels of the host: a rule of thumb for who runs it (common practice, no source)."""
    return ".".join(Address.of(url).host.lower().split(".")[-2:])


def _route(name: str, url: str, place: Place | None) -> Route:
    address = Address.of(url)
    names = ", ".join(f"${{{variable}}}" for variable in _VARIABLE.findall(url))
    return Route(
        direction="download",
        kind="dependency",
        repository_id=name,
        url=BUILT_IN if url == BUILT_IN else address.bare,
        declared=place,
        user=address.user,
        incomplete=f"the value of {names} is not known" if names else None,
    )


def _uploads(text: SetupText, environment: Mapping[str, str] | None, report: Gathering) -> None:
    """The servers of a `.pypirc`."""
    parser = _parsed(text, report)
    if parser is None:
        return
    listed = parser.get("distutils", "index-servers", fallback="pypi").split()
    for name in listed:
        if parser.has_section(name):
            _server(text, parser, name, environment, report)
        elif name not in BUILT_IN_SERVERS:
            what = f"index-servers lists {name}, but there is no section [{name}]."
            mend = f"Add a section [{name}] with repository and username, or take the name off the list."
            report.remark("error", "pypirc-section-missing", _place(text, "index-servers"), what, mend)
    for name in parser.sections():
        if name not in (*listed, "distutils", "server-login") and parser.has_option(name, "repository"):
            what = f"The section [{name}] is not in the list index-servers, so uploads by that name fail."
            mend = f"Add {name} to index-servers under [distutils]."
            report.remark("warning", "pypirc-server-not-listed", text.place_of(f"[{name}]"), what, mend)


def _server(
    text: SetupText,
    parser: configparser.RawConfigParser,
    name: str,
    environment: Mapping[str, str] | None,
    report: Gathering,
) -> None:
    place = text.place_of(f"[{name}]")
    url = parser.get(name, "repository", fallback="")
    user = parser.get(name, "username", fallback="") or (environment or {}).get("TWINE_USERNAME", "")
    password = parser.get(name, "password", fallback="")
    if not url and name not in BUILT_IN_SERVERS:
        what = f"The section [{name}] has no repository, so nothing can be uploaded to it."
        report.remark("error", "pypirc-repository-missing", place, what, "Add repository = https://… to the section.")
    known = url and name not in BUILT_IN_SERVERS
    if known and not user and not Address.of(url).user:
        what = f"Uploads to {name} have no username; the upload tool then asks for one, which fails in a job."
        mend = f"Add username to [{name}] (__token__ where a token is the password), or set TWINE_USERNAME."
        report.remark("warning", "pypirc-username-missing", place, what, mend)
    _check_upload(text, (name, url, password), place, report)
    report.routes.append(
        Route(
            direction="upload",
            kind="release",
            repository_id=name,
            url=Address.of(url).bare if url else BUILT_IN,
            declared=place,
            server_id=name if password or user else None,
            user=user or Address.of(url).user,
            incomplete=None if password else "the password comes from the environment, a key ring or a prompt",
        )
    )


def _check_upload(text: SetupText, server: tuple[str, str, str], place: Place, report: Gathering) -> None:
    name, url, password = server
    report.check_password(url, text, place)
    if Address.of(url).in_the_clear:
        what = f"Uploads to {name} send the password without encryption."
        report.remark("warning", "pypirc-plain-http", place, what, "Use the https:// address of the repository.")
    severity = report.tree.exposure(text.path)
    if password and severity and not re.fullmatch(r"\$\{?\w+\}?|%\(?\w+\)?s?|<.*>|\*+", password):
        what = f"The password for {name} is written out in a file of the work tree."
        mend = "Give it as TWINE_PASSWORD from the CI server's credential store; change it if it was shared."
        report.remark(severity, "pypirc-secret-in-work-tree", place, what, mend)
