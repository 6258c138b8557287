"""Classes of `logdoctor.quick` behave as those of `dataclasses` do."""

from __future__ import annotations

import copy
import dataclasses
import pickle
from dataclasses import FrozenInstanceError
from typing import Any, ClassVar

import pytest

from logdoctor import quick
from logdoctor.lazy import lazy

OPTIONS: list[dict[str, bool]] = [
    {},
    {"frozen": True},
    {"slots": True},
    {"frozen": True, "slots": True, "kw_only": True},
    {"eq": False, "kw_only": True},
]


def both(**options: bool) -> tuple[Any, Any]:
    """The same class made here and by the standard library."""

    def made(module: Any) -> Any:
        class Ship:
            """A ship."""

            name: str
            berth: int = 3
            crew: list[str] = module.field(default_factory=list)
            code: str = module.field(default="x", repr=False)

            @property
            def loud(self) -> str:
                return self.name.upper()

        return module.dataclass(**options)(Ship)

    return made(quick), made(dataclasses)


@quick.dataclass(frozen=True, slots=True, kw_only=True)
class Pier:
    """A pier that can be pickled: a class of the module."""

    name: str
    depth: float = 2.5


@pytest.mark.parametrize("options", OPTIONS, ids=str)
def test_they_do_the_same(options: dict[str, bool]) -> None:
    ours, theirs = both(**options)
    one, two = ours(name="Tern"), theirs(name="Tern")
    assert repr(one) == repr(two)
    assert (one.loud, one.berth, one.crew, one.code) == ("TERN", 3, [], "x")
    assert one.crew is not ours(name="Tern").crew
    assert (one == ours(name="Tern")) == (two == theirs(name="Tern"))
    assert one != ours(name="Tern", berth=4)
    assert (one == two) is False
    assert (ours.__hash__ is None) == (theirs.__hash__ is None)
    assert ours.__match_args__ == theirs.__match_args__
    assert hasattr(one, "__dict__") == hasattr(two, "__dict__")
    for wrong in ({}, {"name": "x", "colour": 1}):
        with pytest.raises(TypeError):
            ours(**wrong)
    for cls in (ours, theirs):
        if options.get("kw_only"):
            with pytest.raises(TypeError):
                cls("Tern")
        else:
            assert cls("Tern", 7).berth == 7


@pytest.mark.parametrize("options", OPTIONS, ids=str)
def test_the_standard_library_s_functions_work_with_them(options: dict[str, bool]) -> None:
    ours, theirs = both(**options)
    one, two = ours(name="Tern"), theirs(name="Tern")
    assert dataclasses.is_dataclass(ours)
    assert [f.name for f in dataclasses.fields(ours)] == [f.name for f in dataclasses.fields(theirs)]
    assert dataclasses.asdict(one) == dataclasses.asdict(two)
    assert dataclasses.replace(one, berth=9).berth == 9
    assert quick.replace(one, berth=9).berth == quick.replace(two, berth=9).berth == 9
    with pytest.raises(TypeError):
        quick.replace(one, colour=1)


def test_frozen_ones_are_not_changed_and_can_be_hashed_copied_and_sent() -> None:
    pier = Pier(name="north")
    with pytest.raises(FrozenInstanceError):
        pier.name = "south"  # type: ignore[misc]
    with pytest.raises(FrozenInstanceError):
        del pier.name
    assert {pier: 1}[Pier(name="north")] == 1
    assert pickle.loads(pickle.dumps(pier)) == copy.copy(pier) == copy.deepcopy(pier) == pier


def test_what_is_not_done_here_is_left_to_the_standard_library() -> None:
    @quick.dataclass(frozen=True)
    class Boat:
        built: ClassVar[int] = 0
        name: str = quick.field(default="Tern")

    @quick.dataclass(frozen=True, slots=True)
    class Deep(Pier):
        tides: tuple[int, ...] = ()

    @quick.dataclass(order=True)
    class Stop:
        at: int

    assert [f.name for f in dataclasses.fields(Boat)] == ["name"]
    assert Deep(name="x", tides=(1,)).depth == 2.5
    assert Stop(1) < Stop(2)


def test_what_follows_the_init_is_called() -> None:
    @quick.dataclass(kw_only=True)
    class Log:
        lines: int
        seen: int = 0

        def __post_init__(self) -> None:
            self.seen = self.lines * 2

    assert Log(lines=4).seen == 8


def test_a_lazy_pattern_is_compiled_once_at_its_first_use(monkeypatch: pytest.MonkeyPatch) -> None:
    import re

    compiled: list[str] = []
    original = re.compile

    def counting(source: str, flags: int = 0) -> re.Pattern[str]:
        compiled.append(source)
        return original(source, flags)

    monkeypatch.setattr(re, "compile", counting)
    pattern = lazy(r"(?P<berth>\d+)", re.IGNORECASE)
    assert compiled == []
    found = pattern.search("berth 12")
    assert found is not None
    assert found["berth"] == "12"
    assert pattern.sub("n", "1 2") == "n n"
    assert pattern.groupindex == {"berth": 1}
    assert len(compiled) <= 2
    again = len(compiled)
    assert pattern.fullmatch("7")
    assert len(compiled) == again
    assert copy.copy(lazy("a")).search("a")


def test_a_lazy_pattern_of_bytes() -> None:
    assert lazy(rb"\d").findall(b"a1b2") == [b"1", b"2"]
