"""A folder of past logs as tables: failures by count and lost time, by job, agent and week, and unknown groups."""

from __future__ import annotations

from logdoctor.memory.survey.adding import survey_of
from logdoctor.memory.survey.crew import rows_of
from logdoctor.memory.survey.model import Row, Survey
from logdoctor.memory.survey.walking import logs_below

__all__ = ["Row", "Survey", "logs_below", "rows_of", "survey_of"]
