"""One log of ``logdoctor diagnose``: read, explained, weighed with the history, and told in each format that is wanted."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from logdoctor.api import standard_diagnoser
from logdoctor.catalogue import load_catalogue
from logdoctor.cli.job_options import history_of, job_of
from logdoctor.cli.stopping import stoppable
from logdoctor.cli.witness_options import call_witness_of
from logdoctor.errors import InputError
from logdoctor.intake import open_log
from logdoctor.reports.formats import WHOLE, Beside, render
from logdoctor.reports.matrix import Run, run_of

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from logdoctor.intake import Log
    from logdoctor.memory.history import History, Job
    from logdoctor.model import Verdict
    from logdoctor.reports.redaction import Redactor
    from logdoctor.reports.teams import Team

__all__ = ["Examined", "Examiner", "prepare"]

MANY_PROBLEMS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Examined:
    """What became of one input; it can be handed from process to process."""

    name: str
    texts: Mapping[str, str] = field(default_factory=dict)
    verdict: Verdict | None = None
    """Only where a document of all logs is wanted."""
    run: Run | None = None
    annotations: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    error: InputError | None = None
    unexplained: bool = False
    secret: bool = False
    interrupted: bool = False
    """The verdict is of what came before an interrupt."""


class Examiner:
    """Made once for a call (or for each of its processes) from the command line's options."""

    def __init__(self, options: argparse.Namespace, forms: Sequence[str], *, colour: bool = False) -> None:
        self.sayings: list[str] = []
        """What is to be said once, before the first log."""
        self._options = options
        self._forms = forms
        self._answers = dict(_answers(options.answer))
        if options.secret_patterns:
            _watch_for(Path(options.secret_patterns))
        catalogue = load_catalogue(project=Path.cwd() if options.project_layer else None)
        self.sayings += [f"left out of the catalogue: {problem}" for problem in catalogue.problems[:MANY_PROBLEMS]]
        if len(catalogue.problems) > MANY_PROBLEMS:
            more = len(catalogue.problems) - MANY_PROBLEMS
            self.sayings.append(f"and {more} more problems; logdoctor catalogue --vet lists them all")
        self.diagnoser = standard_diagnoser(catalogue)
        self._witness, said = call_witness_of(options)
        self.sayings += [said] if said else []
        self.beside = Beside(
            log_url=options.log_url,
            team=self._teams(),
            redactor=self._redactor(),
            root=_here(),
            colour=colour,
        )
        self._history: History | None = history_of(options)
        self._job: Job | None = job_of(options, self.sayings.append) if self._history else None

    def examine(self, name: str) -> Examined:
        """One input; what can't be read is told, not raised."""
        try:
            with stoppable(name) as given, open_log(given.source, name=given.name) as log:
                examined = self._examined(name, log, self._options.exit_status)
                return replace(examined, interrupted=given.stopped)
        except InputError as error:
            return Examined(name=name, error=error)

    def examine_log(self, log: Log, exit_status: int | None) -> Examined:
        """A log that is open already, of a command whose exit status is known."""
        return self._examined(log.name, log, exit_status)

    def _examined(self, name: str, log: Log, exit_status: int | None) -> Examined:
        verdict = self.diagnoser.diagnose(log, answers=self._answers, witness=self._witness, exit_status=exit_status)
        verdict, seen = self._remembered(verdict)
        texts = {form: render(form, verdict, self.beside, log=log) for form in self._forms}
        if "text" in texts:
            texts["text"] += "".join(f"\n\n{more}" for more in (seen, self._compared(log, verdict)) if more)
        return Examined(
            name=name,
            texts=texts,
            verdict=verdict if WHOLE.intersection(self._forms) else None,
            run=run_of(verdict),
            annotations=self._annotations(verdict),
            notices=(*verdict.notices, *self._notices()),
            unexplained=_unexplained(verdict),
            secret=bool(verdict.exposed_secrets),
        )

    def _remembered(self, verdict: Verdict) -> tuple[Verdict, str | None]:
        """The verdict weighed with confirmed fixes, and what was seen before."""
        if self._history is None or self._job is None:
            return verdict, None
        from logdoctor.memory.history.weighing import weighed

        recalled = self._history.recall(verdict, self._job)
        self._history.remember(verdict, self._job)
        return weighed(verdict, recalled.priors, self._answers), recalled.seen.sentence() if recalled.seen else None

    def _notices(self) -> list[str]:
        if self._history is None:
            return []
        told, self._history.notices = self._history.notices, []
        return told

    def _compared(self, log: Log, verdict: Verdict) -> str | None:
        if self._options.previous is None:
            return None
        from logdoctor.memory.comparing import compare
        from logdoctor.reports.comparison import comparison_text

        with open_log(self._options.previous) as old:
            comparison = compare(old, log, self.diagnoser, new_verdict=verdict)
        told = comparison_text(comparison, colour=self.beside.colour, brief=True).rstrip("\n")
        return f"Since {old.name}\n{told}"

    def _annotations(self, verdict: Verdict) -> tuple[str, ...]:
        if not self._options.annotate:
            return ()
        from logdoctor.reports.annotations import annotation_lines

        redactor = self.beside.redactor
        return tuple(annotation_lines(redactor.verdict(verdict) if redactor else verdict))

    def _teams(self) -> Callable[[Verdict], Team | None]:
        """Who gets it, by the work tree's own files; nothing is loaded where it has none."""
        root = _here()
        if root is None or self._options.no_teams or not _may_name_teams(root):
            return lambda _: None
        from logdoctor.reports.codeowners import find_code_owners
        from logdoctor.reports.teams import NO_RULES, find_team_rules, team_for

        rules, owners = find_team_rules(root) or NO_RULES, find_code_owners(root)
        return lambda verdict: team_for(verdict, rules, owners, root=root)

    def _redactor(self) -> Redactor | None:
        if not self._options.redact:
            return None
        from logdoctor.reports.redaction import Redactor, kinds_of

        return Redactor(kinds_of(self._options.redact))


_prepared: list[Examiner] = []


def prepare(options: argparse.Namespace, forms: Sequence[str], colour: bool) -> Examiner:  # noqa: FBT001 - handed on by position
    """Make the examiner of this process."""
    _prepared[:] = [Examiner(options, forms, colour=colour)]
    return _prepared[0]


def examine(name: str) -> Examined:
    """One input, by the examiner of this process."""
    return _prepared[0].examine(name)


def died(name: str) -> Examined:
    """What is said of an input over which a process ended."""
    problem = "the process that read it died (out of memory?)"
    return Examined(name=name, error=InputError(name, problem, "diagnose it alone"))


def _here() -> Path | None:
    """The working folder; None where it is gone."""
    try:
        return Path.cwd()
    except OSError:
        return None


def _may_name_teams(root: Path) -> bool:
    named = (root / place for place in (".logdoctor/teams.yaml", "CODEOWNERS", "docs/CODEOWNERS"))
    return any(path.is_file() for path in named) or any(root.glob(".*/CODEOWNERS"))


def _watch_for(path: Path) -> None:
    from logdoctor.masking import also_find
    from logdoctor.reports.own_secrets import read_own_secrets

    also_find(read_own_secrets(path))


def _unexplained(verdict: Verdict) -> bool:
    return verdict.outcome != "succeeded" and (verdict.root is None or verdict.root.failure.stand_in == "last")


def _answers(given: Sequence[str]) -> Iterator[tuple[str, bool]]:
    for answer in given:
        check, _, said = answer.partition("=")
        if said not in ("yes", "no"):
            raise ValueError(f"--answer {answer}: write CHECK=yes or CHECK=no")
        yield check, said == "yes"
