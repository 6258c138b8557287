"""``logdoctor catalogue``: list, search, show and check the known failures."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from logdoctor.catalogue import Catalogue, load_catalogue
from logdoctor.cli.status import Status

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["run"]


def run(arguments: Sequence[str]) -> int:
    """List, search, show or check; return the exit status."""
    options = _parser().parse_args(arguments)
    folder = Path(options.folder) if options.folder else None
    if folder is not None and not (folder / "facts.yaml").is_file():
        print(
            f"logdoctor: {folder}: no knowledge folder (facts.yaml is missing); name one that has it", file=sys.stderr
        )
        return Status.UNUSABLE
    catalogue = load_catalogue(project=Path.cwd() if options.project_layer else None, built_in=folder)
    if options.vet:
        return _vet(catalogue, options.words)
    if options.coverage:
        return _coverage(catalogue)
    for problem in catalogue.problems:
        print(f"logdoctor: left out of the catalogue: {problem}", file=sys.stderr)
    if len(options.words) == 1 and options.words[0] in catalogue:
        return _show(catalogue, options.words[0])
    return _list(catalogue, " ".join(options.words))


def _vet(catalogue: Catalogue, only: Sequence[str]) -> int:
    from logdoctor.catalogue.vetting import vet

    if missing := [word for word in only if word not in catalogue and not catalogue.problems]:
        print(f"logdoctor: no failure {missing[0]} in the catalogue; 'logdoctor catalogue' lists them", file=sys.stderr)
        return Status.UNUSABLE
    problems = vet(catalogue, only=only)
    for problem in problems:
        print(problem)
    print(
        f"{len(catalogue)} failures, {sum(len(f.signatures) for f in catalogue)} signatures, {len(problems)} problems"
    )
    return Status.UNUSABLE if problems else Status.DONE


def _list(catalogue: Catalogue, words: str) -> int:
    from logdoctor.catalogue.searching import search

    found = [f for f, _ in search(catalogue, words)] if words else list(catalogue)
    if not found:
        print(f"logdoctor: nothing in the catalogue fits {words!r}; try fewer words", file=sys.stderr)
        return Status.DONE
    width = max(len(f.id) for f in found)
    for failure in found:
        print(f"{failure.id:<{width}}  {failure.title}")
    return Status.DONE


def _show(catalogue: Catalogue, failure_id: str) -> int:
    from logdoctor.reports.entry import entry_text

    print(entry_text(catalogue.failure(failure_id)))
    return Status.DONE


def _coverage(catalogue: Catalogue) -> int:
    from logdoctor.reports.entry import coverage_table

    print(coverage_table(list(catalogue)))
    return Status.DONE


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="logdoctor catalogue",
        description="List, search, show and check the known failures.",
        epilog="examples:\n  logdoctor catalogue 403 upload\n  logdoctor catalogue deploy-forbidden",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("words", nargs="*", metavar="WORDS", help="an id to show, or words to search for")
    parser.add_argument(
        "--vet", action="store_true", help="check all entries, or the ones named, and tell every problem"
    )
    parser.add_argument("--coverage", action="store_true", help="show which failures are known for which tools")
    parser.add_argument("--folder", metavar="DIR", help="read the built-in layer from this knowledge folder")
    parser.add_argument(
        "--project-layer", action="store_true", help="also read the entries in .logdoctor/ of this work tree"
    )
    return parser
