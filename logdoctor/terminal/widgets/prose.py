"""Paragraphs whose continued lines stand under their first words, not under the number or the label before them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual.content import Content
from textual.widget import Widget

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.geometry import Size

__all__ = ["Para", "Prose", "laid_out"]

LEAST = 12


@dataclass(frozen=True, slots=True)
class Para:
    """A text with what stands before it; `under` is the indent of the lines below, by default the width of the lead."""

    text: Content | str
    lead: Content | str = ""
    style: str = ""
    under: int | None = None


def laid_out(paras: Sequence[Para], width: int) -> Content:
    """The paragraphs as lines of at most this width; on very narrow places they are not indented."""
    return Content("\n").join([line for para in paras for line in _lines(para, width)])


def _lines(para: Para, width: int) -> list[Content]:
    lead = para.lead if isinstance(para.lead, Content) else Content(para.lead)
    text = para.text if isinstance(para.text, Content) else Content.styled(para.text, para.style)
    whole = Content.assemble(lead, text)
    under = lead.cell_length if para.under is None else para.under
    if width - under < LEAST:
        return [whole]
    if lead.cell_length == under:
        first, *rest = text.wrap(width - under) or [text]
        first = Content.assemble(lead, first)
    else:
        first, *rest = whole.wrap(width - under) or [whole]
    return [first, *(line.pad_left(under) for line in rest)]


class Prose(Widget):
    """Shows paragraphs; as high as they need."""

    DEFAULT_CSS = "Prose { height: auto; }"

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - as all widgets name it
        super().__init__(id=id)
        self._paras: tuple[Para, ...] = ()

    def fill(self, *paras: Para) -> None:
        """Show these paragraphs."""
        self._paras = paras
        self.refresh(layout=True)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 - as Textual calls it
        """The number of lines at this width."""
        return laid_out(self._paras, width).plain.count("\n") + 1 if self._paras else 0

    def render(self) -> Content:
        """The lines."""
        return laid_out(self._paras, self.content_size.width)
