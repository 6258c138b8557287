"""The way in for programs and for the commands: a diagnoser that also looks for exposed secrets."""

from __future__ import annotations

from typing import TYPE_CHECKING

from logdoctor.diagnosis import Diagnoser
from logdoctor.masking import LITERALS, URL_SECRET, looks_secret
from logdoctor.scan import Watch

if TYPE_CHECKING:
    from logdoctor.catalogue import Catalogue

__all__ = ["SECRETS", "standard_diagnoser"]

SECRETS = Watch(see=looks_secret, literals=LITERALS, pattern=URL_SECRET)


def standard_diagnoser(catalogue: Catalogue) -> Diagnoser:
    """A diagnoser over a catalogue that notes where the log shows a secret."""
    return Diagnoser(catalogue, SECRETS)
