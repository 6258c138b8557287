"""From a log and its verdict to a draft: the stages in order, in one place."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING

from logdoctor.catalogue.patterns import compiled
from logdoctor.drafting import checking, proposing
from logdoctor.drafting.errors import DraftError
from logdoctor.drafting.lines import keep_lines
from logdoctor.drafting.lookalikes import choose_lookalikes
from logdoctor.drafting.pattern import Candidate, candidates
from logdoctor.drafting.scenario import Scenario
from logdoctor.drafting.vocabulary import vocabulary_of
from logdoctor.drafting.writing import Contents, still_to_do, yaml_text
from logdoctor.drafting.written import vetted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from logdoctor.catalogue import Catalogue
    from logdoctor.drafting.lines import KeptLines
    from logdoctor.intake import Log
    from logdoctor.model import Phase, Verdict

__all__ = ["Draft", "Wishes", "draft_entry"]

TRIED = 40
FEWEST_LETTERS = 4
SHOWN = 3
AROUND_BEFORE = 3
AROUND_AFTER = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What the person wants: an id and a title instead of the proposed ones, and succeeded logs that must not match.

    The id of a known failure adds a wording to it. `against` names files, or folders of them.
    """

    entry: str | None = None
    title: str | None = None
    against: tuple[str, ...] = ()


NO_WISHES = Wishes()


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A proposed entry. `problems` is what is wrong with it, `todo` what a person has to fill in (key paths)."""

    id: str
    phase: Phase
    tool: str
    title: str
    line: int
    pattern: str
    literal: str
    example: str
    lookalikes: tuple[str, ...]
    yaml: str
    problems: tuple[str, ...]
    todo: tuple[str, ...]
    known: bool
    """Whether the id is that of a known entry, to which a wording is added."""

    def matches(self, log: Log) -> tuple[int, ...]:
        """The lines of a log that the pattern matches, in order; of very many the first and the last 300."""
        return checking.lines_matched(log, self.pattern, [self.literal])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Proposed:
    phase: Phase
    tool: str
    entry: str | None
    title: str | None
    example: str
    lookalikes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Chosen:
    candidate: Candidate
    problems: tuple[str, ...]


def draft_entry(
    log: Log, verdict: Verdict, line: int | None, catalogue: Catalogue, wishes: Wishes = NO_WISHES
) -> Draft:
    """Draft an entry from a line of a log, or from the line that most likely tells its unknown failure.

    Raises DraftError where no draft can be made, ValueError where the wanted id is no id.
    """
    named = proposing.phase_of_id(wishes.entry) if wishes.entry else None
    number = proposing.choose_line(verdict) if line is None else line
    lines = _lines(log, verdict, number)
    cleaned = lines.text(number)
    scenario = Scenario(lines)
    example = scenario.text(cleaned)
    if sum(map(str.isalpha, example)) < FEWEST_LETTERS:
        raise DraftError(verdict.source.name, f"{verdict.source.says(number)} has no words", "name another line")
    chosen = _choose(_candidates(example, cleaned, catalogue, lines), catalogue, (verdict, lines, number), wishes)
    if chosen is None:
        problem = f"no fixed text of {verdict.source.says(number)} is rare enough to find such lines by"
        raise DraftError(verdict.source.name, problem, "name another line")
    segment = proposing.segment_of(verdict, number)
    proposed = _Proposed(
        phase=named or proposing.phase_of(example, segment, catalogue),
        tool=proposing.tool_of(cleaned, (segment, number), catalogue, lines),
        entry=wishes.entry,
        title=scenario.text(wishes.title) if wishes.title else None,
        example=example,
        lookalikes=choose_lookalikes(chosen.candidate, example, _pools(lines, verdict, number, catalogue), scenario),
    )
    return _draft(_contents(chosen.candidate, catalogue, proposed), number, chosen.problems, catalogue)


def _lines(log: Log, verdict: Verdict, number: int) -> KeptLines:
    lines = keep_lines(log, number, {secret.line for secret in verdict.exposed_secrets})
    if number not in lines.raw:
        raise DraftError(verdict.source.name, f"it has no line {number}", f"its last line is {lines.total}")
    return lines


def _candidates(example: str, cleaned: str, catalogue: Catalogue, lines: KeptLines) -> list[Candidate]:
    """Patterns that match the line both as it stands in the log and as it is kept."""
    made = candidates(example, vocabulary_of(catalogue, lines), checking.is_rare)
    fitting = (c for c in made if c.literal in cleaned and (rule := compiled(c.line)) and rule.search(cleaned))
    return list(islice(fitting, TRIED))


def _choose(
    tried: Sequence[Candidate],
    catalogue: Catalogue,
    place: tuple[Verdict, KeptLines, int],
    wishes: Wishes,
) -> _Chosen | None:
    """The first candidate that touches nothing it must not, else the one that touches least."""
    verdict, lines, number = place
    own = f"an example of {wishes.entry}"
    known = [text for text in checking.known_texts(catalogue) if text.where != own]
    texts = (*checking.ordinary_texts(), *known, *checking.own_texts(lines, verdict, number))
    in_logs, unread = checking.matched_in_logs(tried, wishes.against) if wishes.against else ({}, [])
    best: tuple[int, _Chosen] | None = None
    for index, candidate in enumerate(tried):
        places = list(dict.fromkeys(text.where for text in checking.touched(candidate, texts)))
        places += [in_logs[index]] if index in in_logs else []
        more = f" and {len(places) - SHOWN} more" if len(places) > SHOWN else ""
        found = [f"the pattern also matches {', '.join(places[:SHOWN])}{more}"] if places else []
        few = [] if candidate.enough else [f"the pattern rests on few words: {' '.join(candidate.words)}"]
        chosen = _Chosen(candidate=candidate, problems=(*found, *few, *unread))
        if best is None or len(places) < best[0]:
            best = (len(places), chosen)
        if not places:
            break
    return best[1] if best else None


def _pools(lines: KeptLines, verdict: Verdict, number: int, catalogue: Catalogue) -> list[list[checking.Text]]:
    """Where lookalikes come from: the log away from the chosen line, ordinary lines, the nearest known failures."""
    own = [
        checking.Text(text, "")
        for at, text in lines.texts()
        if not number - AROUND_BEFORE <= at <= number + AROUND_AFTER and at < number
    ]
    nearest = {f"an example of {near.failure}" for near in verdict.nearest}
    examples = [text for text in checking.known_texts(catalogue) if text.where in nearest]
    return [own, list(checking.ordinary_texts()), examples]


def _contents(candidate: Candidate, catalogue: Catalogue, proposed: _Proposed) -> Contents:
    entry = proposed.entry or proposing.entry_id(proposed.phase, candidate, catalogue)
    old = catalogue.failure(entry) if entry in catalogue else None
    return Contents(
        id=entry,
        phase=proposed.phase,
        title=proposed.title or (old.title if old else proposing.title_of(candidate, catalogue)),
        meaning=old.meaning if old else "TODO: one or two plain sentences: what went wrong, without naming a tool.",
        signature=proposing.signature_id(proposed.tool, candidate, catalogue, entry),
        tool=proposed.tool,
        line=candidate.line,
        literal=candidate.literal,
        example=proposed.example,
        lookalikes=proposed.lookalikes,
        known=old is not None,
    )


def _draft(contents: Contents, number: int, problems: Sequence[str], catalogue: Catalogue) -> Draft:
    import yaml

    text = yaml_text(contents)
    data, wrong = vetted(yaml.safe_load(text), catalogue, known=contents.known)
    return Draft(
        id=contents.id,
        phase=contents.phase,
        tool=contents.tool,
        title=contents.title,
        line=number,
        pattern=contents.line,
        literal=contents.literal,
        example=contents.example,
        lookalikes=contents.lookalikes,
        yaml=text,
        problems=(*problems, *wrong),
        todo=tuple(still_to_do(data)),
        known=contents.known,
    )
