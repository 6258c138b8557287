"""What holds for all tests: nothing is read from, or kept in, the folders of the user who runs them."""

from __future__ import annotations

import os
import signal

import pytest

# A shell without job control starts what runs in the background with these ignored, and children would inherit that.
for _number in (signal.SIGINT, signal.SIGQUIT, signal.SIGHUP):
    if signal.getsignal(_number) is signal.SIG_IGN:
        signal.signal(_number, signal.default_int_handler if _number == signal.SIGINT else signal.SIG_DFL)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """One more than there are cores: tests of the terminal app mostly wait."""
    return (os.cpu_count() or 1) + 1


@pytest.fixture(autouse=True)
def _own_folders(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("XDG_DATA_HOME", "XDG_CONFIG_HOME"):
        monkeypatch.setenv(name, str(tmp_path_factory.getbasetemp() / name.lower()))
    monkeypatch.delenv("LOGDOCTOR_HISTORY", raising=False)


@pytest.fixture(autouse=True)
def _no_secret_patterns_left_behind() -> None:
    from logdoctor.masking import finder

    finder.also_find(None)


@pytest.fixture(autouse=True)
def _no_limits_left_behind() -> None:
    from logdoctor.catalogue import patterns

    patterns.forget_limits()
