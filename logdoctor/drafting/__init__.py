"""Drafts of catalogue entries: from one line of a log to an entry that only a person's knowledge is missing from.

A draft's texts are masked and its hosts are made up, so that it can be shared; it is never put into a catalogue by itself.
"""

from __future__ import annotations

from logdoctor.drafting.draft import Draft, Wishes, draft_entry
from logdoctor.drafting.errors import DraftError
from logdoctor.drafting.saving import place_in_layer, write_new
from logdoctor.drafting.written import Written, examine_text

__all__ = ["Draft", "DraftError", "Wishes", "Written", "draft_entry", "examine_text", "place_in_layer", "write_new"]
