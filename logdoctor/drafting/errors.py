"""What can keep a draft from being made; each is one line.

DraftError              no draft can be made of this line or log: what, why, what to do next
"""

from __future__ import annotations

from logdoctor.errors import InputError

__all__ = ["DraftError"]


class DraftError(InputError):
    """A draft that can't be made."""
