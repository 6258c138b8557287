"""Time stamps: RFC 3339's own examples, the other forms, and what is no stamp."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from logdoctor.intake import Stamp
from logdoctor.intake.stamps import find_stamp


def _stamp(text: str) -> Stamp | None:
    found = find_stamp(text, 0)
    return found[0] if found else None


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        pytest.param("1985-04-12T23:20:50.52Z", 482196050.52, id="20-minutes-after-23-utc"),
        pytest.param("1996-12-19T16:39:57-08:00", 851042397.0, id="pacific-standard-time"),
        pytest.param("1996-12-20T00:39:57Z", 851042397.0, id="the-same-instant-in-utc"),
        pytest.param("1990-12-31T23:59:60Z", 662688000.0, id="leap-second"),
        pytest.param("1990-12-31T15:59:60-08:00", 662688000.0, id="leap-second-pacific"),
        pytest.param("1937-01-01T12:00:27.87+00:20", -1041337172.13, id="netherlands-plus-20-minutes"),
    ],
)
def test_examples_of_rfc_3339_section_5_8(text: str, seconds: float) -> None:
    stamp = _stamp(text)
    assert stamp is not None
    assert stamp.kind == "date"
    assert stamp.seconds == pytest.approx(seconds, abs=1e-6)


@given(st.datetimes(datetime(1970, 1, 1), datetime(2199, 12, 31), timezones=st.just(UTC)))  # noqa: DTZ001
def test_any_iso_date_is_read_as_the_standard_library_reads_it(moment: datetime) -> None:
    stamp = _stamp(moment.isoformat())
    assert stamp is not None
    assert stamp.seconds == pytest.approx(moment.timestamp(), abs=1e-5)


_DATE = 1772446272.0  # 2026-03-02T10:11:12Z
_CLOCK = 36672.0  # 10:11:12


@pytest.mark.parametrize(
    ("text", "stamp", "rest"),
    [
        pytest.param("2026-03-02 10:11:12,500 x", Stamp(_DATE + 0.5, "date"), "x", id="comma"),
        pytest.param("2026-03-02T10:11:12.1234567Z   x", Stamp(_DATE + 0.1234567, "date"), "  x", id="indent"),
        pytest.param("2026-03-02 11:11:12 +0100 x", Stamp(_DATE, "date"), "x", id="zone-after-space"),
        pytest.param("2026-03-02t10:11:12z x", Stamp(_DATE, "date"), "x", id="lower-case"),
        pytest.param("[2026-03-02T10:11:12Z] x", Stamp(_DATE, "date"), "x", id="brackets"),
        pytest.param("(2026-03-02 10:11:12) x", Stamp(_DATE, "date"), "x", id="parens"),
        pytest.param("2026/03/02 10:11:12 x", Stamp(_DATE, "date"), "x", id="slashes"),
        pytest.param("02-Mar-2026 10:11:12 x", Stamp(_DATE, "date"), "x", id="day-first"),
        pytest.param("02.03.2026 10:11:12 x", Stamp(_DATE, "date"), "x", id="day-first-dots"),
        pytest.param("3/2/2026 10:11:12 PM x", Stamp(_CLOCK + 43200, "clock"), "x", id="order-unknown"),
        pytest.param("Mon, 02 Mar 2026 10:11:12 +0000 x", Stamp(_DATE, "date"), "x", id="mail"),
        pytest.param("Mon Mar  2 10:11:12 UTC 2026 x", Stamp(_DATE, "date"), "x", id="date-command"),
        pytest.param("Mon Mar  2 10:11:12 2026 x", Stamp(_DATE, "date"), "x", id="ctime"),
        pytest.param("Mar  2 10:11:12 quay7 tide[12]: x", Stamp(_CLOCK, "clock"), "x", id="system-log"),
        pytest.param("Mar  2 10:11:12 ERROR in: x", Stamp(_CLOCK, "clock"), "ERROR in: x", id="no-process"),
        pytest.param("[1772446272.5] x", Stamp(_DATE + 0.5, "date"), "x", id="epoch"),
        pytest.param("[1772446272500] x", Stamp(_DATE + 0.5, "date"), "x", id="epoch-milliseconds"),
        pytest.param("10:11:12 x", Stamp(_CLOCK, "clock"), "x", id="clock"),
        pytest.param("10:11:12  Finished: SUCCESS", Stamp(_CLOCK, "clock"), "Finished: SUCCESS", id="clock-two-blanks"),
        pytest.param("10:11:12   --> a.rs:1", Stamp(_CLOCK, "clock"), "  --> a.rs:1", id="clock-indent"),
        pytest.param("10:11:12,500 x", Stamp(_CLOCK + 0.5, "clock"), "x", id="clock-comma"),
        pytest.param("[10:11:12] x", Stamp(_CLOCK, "clock"), "x", id="clock-brackets"),
        pytest.param("[10:11:12]W:\t x", Stamp(_CLOCK, "clock"), "x", id="clock-severity"),
        pytest.param("[10:11:12] :\t [Step 1/3] x", Stamp(_CLOCK, "clock"), "x", id="clock-step"),
        pytest.param("[10:11:12] E: x", Stamp(_CLOCK, "clock"), "E: x", id="a-tool's-own-severity-stays"),
        pytest.param("00:01:02.500  x", Stamp(62.5, "elapsed"), "x", id="elapsed"),
        pytest.param("[00:01:02.500] x", Stamp(62.5, "elapsed"), "x", id="elapsed-brackets"),
        pytest.param("[  12.500s] x", Stamp(12.5, "elapsed"), "x", id="elapsed-seconds"),
        pytest.param("[   12.500000] x", Stamp(12.5, "elapsed"), "x", id="kernel"),
    ],
)
def test_stamp_forms_are_found_and_left_behind(text: str, stamp: Stamp, rest: str) -> None:
    found = find_stamp(text, 0)
    assert found is not None
    assert found[0].kind == stamp.kind
    assert found[0].seconds == pytest.approx(stamp.seconds, abs=1e-6)
    assert text[found[1] :] == rest


@pytest.mark.parametrize(
    "text",
    [
        "2026-13-02T10:11:12Z x",
        "2026-02-30 10:11:12 x",
        "2026-03-02T25:11:12Z x",
        "1.2.3 released",
        "12.345 seconds",
        "10:11 x",
        "45:10:12 x",
        "10:11:12abc",
        "10:11:1266",
        "[12] x",
        "[1.5] x",
        "[2026-03-02T10:11:12Z x",
        "Mar x",
        "March 2 10:11:12 x",
        "",
    ],
)
def test_other_text_is_no_stamp(text: str) -> None:
    assert _stamp(text) is None
