"""Drafts of catalogue entries: from one line of a log to an entry that only a person's knowledge is missing from.

A draft's texts are masked and its hosts are made up, so that it can be shared; it is never put into a catalogue by itself.
"""

from __future__ import annotations

from logdoctor.drafting.draft import Draft, Wishes, draft_entry
from logdoctor.drafting.errors import DraftError

__all__ = ["Draft", "DraftError", "Wishes", "draft_entry"]
