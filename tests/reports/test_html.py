from __future__ import annotations

import base64
import hashlib
import html
import json
import re
import shutil
import subprocess
from dataclasses import dataclass, field, replace
from html.parser import HTMLParser
from pathlib import Path

import pytest

from logdoctor.intake import open_log
from logdoctor.model import Verdict
from logdoctor.reports.excerpt import MOST_LINES, choose, read_lines
from logdoctor.reports.html import html_report
from logdoctor.reports.teams import Team
from tests.reports.hostile import HOSTILE, UNSAFE, hostile_logs
from tests.support import ROOT, diagnoser, verdict_of

LINK = "https://ci.brackwater.example/job/fares/12/console?a=1&b=2#L{line}"
TEAM = Team(name="Harbour <Platform>", channel="#harbour-platform", why="it owns repo.brackwater.example")
SAMPLES = sorted((ROOT / "sample_logs").glob("*.log"))
LOGS = [
    pytest.param(line, log, id=f"{name}-{kind}")
    for name, line in HOSTILE.items()
    for kind, log in hostile_logs(line).items()
]
TAGS = {
    "html",
    "head",
    "meta",
    "title",
    "style",
    "body",
    "main",
    "header",
    "footer",
    "section",
    "h1",
    "h2",
    "h3",
    "p",
    "a",
    "b",
    "br",
    "span",
    "div",
    "ul",
    "ol",
    "li",
    "code",
    "details",
    "summary",
    "table",
    "tbody",
    "tr",
    "th",
    "td",
    "svg",
    "path",
    "circle",
    "text",
    "rect",
}
ATTRIBUTES = {
    "lang",
    "charset",
    "http-equiv",
    "content",
    "name",
    "class",
    "id",
    "href",
    "rel",
    "open",
    "role",
    "aria-label",
    "aria-hidden",
    "viewbox",
    "preserveaspectratio",
    "d",
    "x",
    "y",
    "cx",
    "cy",
    "r",
    "width",
    "height",
}
VOID = {"meta", "br"}


@dataclass
class Page(HTMLParser):
    """What an HTML parser makes of a page."""

    tags: set[str] = field(default_factory=set)
    attributes: set[str] = field(default_factory=set)
    links: list[str] = field(default_factory=list)
    ids: list[str] = field(default_factory=list)
    rows: dict[str, str] = field(default_factory=dict)
    stack: list[str] = field(default_factory=list)
    unbalanced: list[str] = field(default_factory=list)
    metas: list[dict[str, str | None]] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    styles: list[str] = field(default_factory=list)
    row: str | None = None

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element begins."""
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}
        given = dict(attrs)
        if tag == "meta":
            self.metas.append(given)
        if "href" in given:
            self.links.append(given["href"] or "")
        if "id" in given:
            self.ids.append(given["id"] or "")
        if tag == "div" and (given.get("id") or "").startswith("L"):
            self.row = given["id"]
        if tag not in VOID:
            self.stack.append(tag)

    def handle_endtag(self, tag: str) -> None:
        """An element ends."""
        if not self.stack or self.stack.pop() != tag:
            self.unbalanced.append(tag)
        if tag == "div":
            self.row = None

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element without content."""
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}

    def handle_data(self, data: str) -> None:
        """Text, with its character references resolved."""
        if self.stack and self.stack[-1] == "style":
            self.styles.append(data)
            return
        self.words.append(data)
        if self.row and self.stack[-1] == "span":
            self.rows[self.row] = self.rows.get(self.row, "") + data


def parsed(text: str) -> Page:
    page = Page()
    page.feed(text)
    page.close()
    return page


def page_of(data: bytes, *, log_url: str | None = None, team: Team | None = None) -> tuple[Verdict, str]:
    with open_log(data, name="test.log") as log:
        verdict = diagnoser().diagnose(log)
        return verdict, html_report(verdict, log=log, log_url=log_url, team=team)


def check_harmless(text: str) -> Page:
    page = parsed(text)
    assert page.tags <= TAGS
    assert page.attributes <= ATTRIBUTES
    assert page.unbalanced == []
    assert page.stack == []
    assert len(page.ids) == len(set(page.ids))
    anchors = {f"#{name}" for name in page.ids}
    outside = {link for link in page.links if link not in anchors}
    assert {re.sub(r"#L\d+$", "", link) for link in outside} <= {LINK.removesuffix("#L{line}")}
    assert not UNSAFE.search(text)
    return page


@pytest.mark.parametrize("path", SAMPLES, ids=lambda p: p.stem)
def test_samples_tell_what_the_text_report_tells(path: Path) -> None:
    verdict, text = page_of(path.read_bytes(), log_url=LINK, team=TEAM)
    page = check_harmless(text)
    said = "".join("".join(page.words).split())
    assert "".join(verdict.headline.split()) in said
    for phase in {segment.phase for segment in verdict.segments}:
        assert re.search(rf'aria-label="{phase}: (passed|failed|unfinished)', text)
    root = verdict.root
    if root is None:
        assert "evidence" not in page.ids
        return
    assert {"track", "evidence", "fix", "causes", "log"} <= set(page.ids)
    assert f"#L{root.line}" in page.links
    assert LINK.format(line=root.line) in page.links
    assert "Harbour<Platform>(#harbour-platform)" in said
    raw = path.read_bytes().decode().splitlines()
    assert html.unescape(page.rows[f"L{root.line}"]).split()[-1] in raw[root.line - 1]
    for ranked in root.causes:
        for told in (ranked.cause.says, *ranked.cause.fix, ranked.cause.proof, ranked.cause.caution or ""):
            assert "".join(told.split()) in said
        for clue in ranked.clues:
            assert "".join(clue.why.split()) in said
    for asked in root.next_checks[:5]:
        assert (f"--answer{asked.check.id}=yes" in said) == (len(root.causes) > 1)


def test_only_the_pages_own_style_is_allowed() -> None:
    _, text = page_of(SAMPLES[0].read_bytes())
    page = parsed(text)
    policies = [meta["content"] or "" for meta in page.metas if meta.get("http-equiv") == "Content-Security-Policy"]
    digest = base64.b64encode(hashlib.sha256("".join(page.styles).encode()).digest()).decode()
    assert policies == [f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"]
    assert text.index("Content-Security-Policy") < text.index("<style>")
    assert "url(" not in "".join(page.styles)
    assert "@import" not in "".join(page.styles)


@pytest.mark.parametrize(("line", "log"), LOGS)
def test_nothing_hostile_becomes_markup(line: str, log: bytes) -> None:
    verdict, text = page_of(log, log_url=LINK)
    page = check_harmless(text)
    assert len(text) < 300_000
    assert len(page.rows) > 5
    check_harmless(html_report(verdict, log_url=LINK))
    check_harmless(html_report(replace(verdict, headline=f"Stopped: {line}"), log_url=LINK))


@pytest.mark.parametrize(
    "line",
    [
        HOSTILE[name]
        for name in (
            "cdata-end",
            "script-end",
            "image",
            "comment",
            "entities",
            "attribute",
            "pipes",
            "backtick",
            "wide",
        )
    ],
)
def test_a_hostile_line_reads_as_it_stands_in_the_log(line: str) -> None:
    log = f"first\n+ ./sail --all\nbad moon rising: giving up\n{line}\nERROR: script returned exit code 3\nFinished: FAILURE\n"
    _, text = page_of(log.encode())
    assert line.replace("\u200d", "\N{REPLACEMENT CHARACTER}") in parsed(text).rows["L4"]


def test_secret_is_not_shown_not_even_on_a_line_before_the_one_that_tells() -> None:
    secret = "Tr0ub4dor-and-3"
    log = (
        f"+ echo {secret}\n+ curl -u ci:{secret} -T a.jar https://repo.brackwater.example/x\n"
        f"curl: (22) The requested URL returned error: 403\nuploading with {secret} failed\nFinished: FAILURE\n"
    )
    _, text = page_of(log.encode())
    assert secret not in text
    assert "<b>Caution:</b> The log shows secrets" in text


def test_a_secret_that_only_a_later_line_tells_is_masked_above_it() -> None:
    secret = "Tr0ub4dor-and-3"
    rows = [
        "step one",
        f"deploying with {secret} now",
        "step two",
        f"export DEPLOY_PASSWORD={secret}",
        *["sailing"] * 4,
    ]
    log = "\n".join(
        [*rows, "fatal: Authentication failed for 'https://git.brackwater.example/x.git/'", "Finished: FAILURE", ""]
    )
    _, text = page_of(log.encode())
    assert "deploying with" in parsed(text).rows["L2"]
    assert secret not in text


# --- the excerpt -------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [1, 100, 131_071, 131_072, 131_073, 300_000])
@pytest.mark.parametrize("end", [b"\n", b""])
def test_lines_are_read_across_blocks(size: int, end: bytes) -> None:
    rows = [b"first", b"x" * size, b"", b"third", b"y" * size, b"last"]
    with open_log(b"\n".join(rows) + end, name="test.log") as log:
        found = read_lines(log, [2, 6, 3, 4, 9])
    assert {line: text[:9000] for line, text in found.items()} == {
        line: rows[line - 1][:8192].decode() for line in (2, 3, 4, 6)
    }


def test_a_log_that_is_short_is_shown_whole() -> None:
    _, text = page_of(b"+ ./sail\nbad moon rising: giving up\nERROR: script returned exit code 3\nFinished: FAILURE\n")
    assert "all its lines" in text
    assert "left out" not in text


def test_what_is_left_out_is_counted() -> None:
    data = b"an ordinary line of a build log\n" * 5000
    _, text = page_of(data + b"fatal: Authentication failed for 'https://git.brackwater.example/x.git/'\n" + data)
    left_out = sum(int(count.replace(",", "")) for count in re.findall(r">([\d,]+) lines? left out<", text))
    assert left_out + len(parsed(text).rows) == 10_001


def test_a_log_of_several_files_counts_and_names_each(tmp_path: Path) -> None:
    for name in ("berth-ok-warnings", "fares-deploy-403"):
        (tmp_path / f"{name}.log").write_bytes((ROOT / "sample_logs" / f"{name}.log").read_bytes())
    with open_log(str(tmp_path)) as log:
        verdict = diagnoser().diagnose(log)
        text = html_report(verdict, log=log, log_url=LINK)
    page = check_harmless(text)
    left_out = sum(int(count.replace(",", "")) for count in re.findall(r">([\d,]+) lines? left out<", text))
    assert left_out + len(page.rows) == verdict.source.lines
    assert not any(row.startswith("==>") for row in page.rows.values())
    assert page.rows["L230"] == "Finished: FAILURE"
    assert text.count('<div class="starts">fares-deploy-403.log</div>') == 1
    assert LINK.format(line=135) in page.links


def test_never_more_lines_than_a_page_can_hold() -> None:
    log = b"".join(b"ordinary %d\nERROR: thing %d: fatal: not a git repository\n" % (n, n) for n in range(5000))
    verdict = verdict_of(log + b"Finished: FAILURE\n")
    assert len(choose(verdict)) <= MOST_LINES


@pytest.mark.parametrize(
    "row", [b"<&>" * 900, b"\x01<\xff" * 900, b"quay " * 1000], ids=["markup", "controls", "words"]
)
def test_a_page_of_a_log_of_long_lines_stays_small(row: bytes) -> None:
    data = b"berth plan written\n" * 20_000 + (row + b"\n") * 1200
    tail = b"fatal: Authentication failed for 'https://git.brackwater.example/x.git/'\nFinished: FAILURE\n"
    with open_log(data + tail, name="test.log") as log:
        verdict = diagnoser().diagnose(log)
        pattern = verdict.segments[0]
        spread = tuple(replace(pattern, start=n, end=n + 10, state="failed") for n in range(20_001, 21_200, 15))
        many = replace(verdict, segments=spread)
        assert len(choose(many)) > 250
        text = html_report(many, log=log)
    check_harmless(text)
    assert len(text.encode()) < 300_000


def test_a_page_of_a_log_of_100_mb_stays_small(tmp_path: Path) -> None:
    path = tmp_path / "build.log"
    sample = (ROOT / "sample_logs" / "fares-deploy-403.log").read_bytes()
    rows = b"".join(b"[INFO] berth plan of quay %d written for the coming season\n" % n for n in range(14_000))
    with path.open("wb") as file:
        while file.tell() < 100_000_000:
            file.write(rows)
        file.write(sample)
    with open_log(str(path)) as log:
        verdict = diagnoser().diagnose(log)
        text = html_report(verdict, log=log)
    assert verdict.root is not None
    assert len(text.encode()) < 300_000
    assert f'id="L{verdict.root.line}"' in text


# --- in a browser ------------------------------------------------------------------------------------

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
browser = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine")


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What a browser made of a page: its elements, its console and the addresses it asked for."""

    dom: str
    console: list[str]
    requests: list[str]


def open_in_browser(text: str, folder: Path) -> Seen:
    page, log = folder / "page.html", folder / "net.json"
    page.write_text(text, encoding="utf-8")
    command = [
        CHROMIUM or "",
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--host-resolver-rules=MAP * ~NOTFOUND",
        f"--user-data-dir={folder / 'profile'}",
        f"--log-net-log={log}",
        "--enable-logging=stderr",
        "--v=0",
        "--dump-dom",
        page.as_uri(),
    ]
    done = subprocess.run(command, capture_output=True, timeout=90, check=True)
    said = done.stderr.decode("utf-8", "replace")
    net = json.loads(log.read_text(encoding="utf-8"))
    urls = [event["params"]["url"] for event in net["events"] if "url" in event.get("params", {})]
    return Seen(
        dom=done.stdout.decode("utf-8"),
        console=re.findall(r":CONSOLE[^\n]*", said),
        requests=sorted({url for url in urls if url.startswith(("http", "ws", "ftp")) and "evil.example" in url}),
    )


@browser
def test_the_browser_check_sees_requests_scripts_and_errors(tmp_path: Path) -> None:
    """A page that does what ours must not: without this the next test could not fail."""
    seen = open_in_browser(
        "<!doctype html><p id=a>x</p><img src='http://evil.example/p.png'>"
        "<script>document.getElementById('a').textContent='ran'; nothere()</script>",
        tmp_path,
    )
    assert ">ran<" in seen.dom
    assert seen.requests == ["http://evil.example/p.png"]
    assert any("nothere is not defined" in line for line in seen.console)


@browser
def test_opens_in_a_browser_without_error_request_or_script(tmp_path: Path) -> None:
    rows = "\n".join(line for line in HOSTILE.values() if len(line) < 1000)
    log = (
        f"+ ./sail --all\n{'an ordinary line of a build log' + chr(10):s}"
        f"{rows}\nbad moon rising: giving up\nERROR: script returned exit code 3\nFinished: FAILURE\n"
    )
    data = b"an ordinary line of a build log\n" * 100 + log.encode("utf-8", "surrogatepass")
    with open_log(data, name="</title><script>window.hit=1</script>.log") as opened:
        verdict = diagnoser().diagnose(opened)
        # All hostile lines stand near the end, so that the excerpt holds them.
        marked = replace(verdict, segments=verdict.segments[:1])
        text = html_report(marked, log=opened, log_url=LINK, team=TEAM)
    seen = open_in_browser(text, tmp_path)
    assert seen.console == []
    assert seen.requests == []
    page = check_harmless(seen.dom)
    assert page.rows == parsed(text).rows
    assert "bad moon rising: giving up" in page.rows.values()


@browser
@pytest.mark.parametrize("name", ["fares-deploy-403", "fares-ok-parallel", "harbour-web-disk-full-image"])
def test_samples_open_in_a_browser(name: str, tmp_path: Path) -> None:
    _, text = page_of((ROOT / "sample_logs" / f"{name}.log").read_bytes(), log_url=LINK)
    seen = open_in_browser(text, tmp_path)
    assert seen.console == []
    assert seen.requests == []
    assert parsed(seen.dom).rows == parsed(text).rows
