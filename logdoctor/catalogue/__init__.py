"""Knowledge to objects: loading in layers, searching, vetting."""

from __future__ import annotations

from logdoctor.catalogue.book import Catalogue, Rule
from logdoctor.catalogue.loading import load_catalogue
from logdoctor.catalogue.problems import Problem

__all__ = ["Catalogue", "Problem", "Rule", "load_catalogue"]
