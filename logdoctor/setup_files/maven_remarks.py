"""Remarks on a Maven set-up: what can't work, what most likely does not, what is good to know.

An error or a warning needs all it rests on to have been read; where a part is missing, nothing is said or a note at most.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from logdoctor.setup_files.maven_remarks_build import build_remarks
from logdoctor.setup_files.maven_remarks_mirrors import mirror_remarks
from logdoctor.setup_files.maven_remarks_settings import settings_remarks
from logdoctor.setup_files.maven_remarks_uploads import upload_remarks
from logdoctor.setup_files.values import Place, Remark

if TYPE_CHECKING:
    from collections.abc import Iterator

    from logdoctor.setup_files.maven_view import View

__all__ = ["remarks_of"]

_ORDER = {"error": 0, "warning": 1, "note": 2}
_NAMES = {
    "settings": "the settings file",
    "build-file": "the build file",
    "toolchains": "the toolchains file",
    "security": "the file with the master password",
}


def remarks_of(view: View) -> tuple[Remark, ...]:
    """All remarks, the worst first, each once."""
    found = [
        *_files(view),
        *upload_remarks(view),
        *mirror_remarks(view),
        *settings_remarks(view),
        *build_remarks(view),
    ]
    return tuple(sorted(dict.fromkeys(found), key=lambda each: _ORDER[each.severity]))


def _files(view: View) -> Iterator[Remark]:
    for each in view.problems:
        problem = each.problem
        yield Remark(
            severity="error" if problem.kind in {"not-xml", "missing"} else "warning",
            what=f"{_NAMES[each.what]} was not read: {problem.reason}",
            mend=_mend(problem.kind),
            place=Place(file=each.file, line=problem.line),
            code=f"{each.what}-{problem.kind}",
        )
    for module, file, line in view.missing_modules:
        yield Remark(
            severity="error",
            what=f"the module {module} is not on disk",
            mend="check the folder's name, upper and lower case counts, and whether it was checked out (submodule, sparse checkout)",
            place=Place(file=file, line=line),
            code="module-missing",
        )


def _mend(kind: str) -> str:
    if kind == "not-xml":
        return "open the file at this line and mend it: an unclosed element, a bare & or <, or text before the XML declaration"
    if kind == "missing":
        return "check the path, and that an earlier step of the job puts the file there"
    return "check the file's size and rights"
