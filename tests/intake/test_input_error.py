"""The wording of an input error."""

from __future__ import annotations

import pickle

from logdoctor.errors import InputError, LogdoctorError


def test_input_error_is_one_line_of_name_problem_and_mend() -> None:
    error = InputError("build.log", "is a folder", "name the log file inside it")
    assert str(error) == "build.log: is a folder; name the log file inside it"
    assert (error.name, error.problem, error.mend) == (
        "build.log",
        "is a folder",
        "name the log file inside it",
    )


def test_input_error_stays_one_harmless_line_whatever_the_name_holds() -> None:
    error = InputError("a\nb\x1b[31m\udcff\u202e", "is a folder", "rename it")
    assert str(error).isprintable()
    str(error).encode()


def test_input_error_is_a_logdoctor_error_and_survives_pickling() -> None:
    error = pickle.loads(pickle.dumps(InputError(name="a", problem="b", mend="c")))
    assert isinstance(error, LogdoctorError)
    assert str(error) == "a: b; c"
