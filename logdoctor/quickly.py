"""The decorator behind `logdoctor.quick`: methods are shared by all classes, `__init__` is made when it is first called.

The standard library's compiles six methods a class at import, and imports `inspect` for it: with sixty classes that was a
fifth of a short run. What is not done here (inheritance between such classes, `order`, class variables) is handed to it, and
its functions work with classes made here.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

__all__ = ["dataclass", "field", "replace"]

_NOTHING: Any = object()
_OWN = "_quick"
_OPTIONS = {"frozen", "slots", "kw_only", "eq", "repr"}


class _Field:
    """What `field` says of one."""

    __slots__ = ("default", "default_factory", "repr")

    def __init__(self, default: Any, default_factory: Any, shown: bool) -> None:  # noqa: FBT001 - the only three there are
        self.default, self.default_factory, self.repr = default, default_factory, shown

    def told(self) -> dict[str, Any]:
        """The arguments it was made with."""
        values = {name: getattr(self, name) for name in self.__slots__}
        return {name: value for name, value in values.items() if value is not _NOTHING}


class _Spec:
    """A class's fields, each with its default, and how the class was asked for."""

    __slots__ = ("annotations", "fields", "options", "shown")

    def __init__(self, fields: dict[str, Any], annotations: dict[str, Any], options: dict[str, Any]) -> None:
        self.fields = fields
        self.annotations = annotations
        self.options = options
        self.shown = [name for name, value in fields.items() if not isinstance(value, _Field) or value.repr]


def field(*, default: Any = _NOTHING, default_factory: Any = _NOTHING, repr: bool = True) -> Any:  # noqa: A002 - the standard library's name
    """As in `dataclasses`."""
    return _Field(default, default_factory, repr)


def dataclass(cls: type | None = None, /, **options: Any) -> Any:
    """As in `dataclasses`."""
    return _made(cls, options) if cls is not None else lambda given: _made(given, options)


def replace(one: Any, /, **changes: Any) -> Any:
    """As in `dataclasses`."""
    spec = getattr(type(one), _OWN, None)
    if spec is None:
        import dataclasses

        return dataclasses.replace(one, **changes)
    for name in spec.fields:
        if name not in changes:
            changes[name] = getattr(one, name)
    return type(one)(**changes)


def _made(cls: type, options: dict[str, Any]) -> type:
    annotations = cls.__annotations__
    derived = any(hasattr(base, "__dataclass_fields__") for base in cls.__bases__)
    if derived or not options.keys() <= _OPTIONS or not all(map(_is_simple, annotations.values())):
        return _by_standard_library(cls, options)
    spec = _Spec({name: cls.__dict__.get(name, _NOTHING) for name in annotations}, annotations, options)
    added = {_OWN: spec, "__dataclass_fields__": _FIELDS, "__dataclass_params__": _PARAMS}
    added["__match_args__"] = () if options.get("kw_only") else tuple(spec.fields)
    added.update((name, method) for name, method in _methods(options) if name not in cls.__dict__)
    if not options.get("slots"):
        for name, value in spec.fields.items():
            if isinstance(value, _Field):
                added[name] = value.default
        for name, value in added.items():
            if value is _NOTHING:
                delattr(cls, name)
            else:
                setattr(cls, name, value)
        return cls
    kept = {n: v for n, v in cls.__dict__.items() if n not in spec.fields and n not in ("__dict__", "__weakref__")}
    slotted = type(cls)(cls.__name__, cls.__bases__, kept | added | {"__slots__": tuple(spec.fields)})
    slotted.__qualname__ = cls.__qualname__
    return slotted


def _is_simple(annotation: object) -> bool:
    return isinstance(annotation, str) and "ClassVar" not in annotation and "InitVar" not in annotation


def _methods(options: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    yield "__init__", _first_init
    if options.get("repr", True):
        yield "__repr__", _repr
    if options.get("eq", True):
        yield "__eq__", _eq
        yield "__hash__", _hash if options.get("frozen") else None
    if options.get("frozen"):
        yield "__setattr__", _refuse_set
        yield "__delattr__", _refuse_delete
        if options.get("slots"):
            yield "__getstate__", _getstate
            yield "__setstate__", _setstate


def _first_init(self: Any, /, *args: Any, **kwargs: Any) -> None:
    """Makes the class's own `__init__`, which is called from now on."""
    cls: Any = next(base for base in type(self).__mro__ if _OWN in base.__dict__)
    cls.__init__ = _init_of(cls)
    cls.__init__(self, *args, **kwargs)


def _init_of(cls: type) -> Callable[..., None]:
    spec: _Spec = cls.__dict__[_OWN]
    names: dict[str, Any] = {"_NOTHING": _NOTHING, "_set": object.__setattr__}
    given, body = [], []
    for name, value in spec.fields.items():
        argument, told = _argument(name, value, names)
        given.append(argument)
        if not spec.options.get("frozen"):
            body.append(f"self.{name} = {told}")
        elif spec.options.get("slots"):
            names[f"_set_{name}"] = cls.__dict__[name].__set__
            body.append(f"_set_{name}(self, {told})")
        else:
            body.append(f"_set(self, {name!r}, {told})")
    if hasattr(cls, "__post_init__"):
        body.append("self.__post_init__()")
    star = ["*"] if spec.options.get("kw_only") and given else []
    source = f"def __init__({', '.join(['self', *star, *given])}):\n " + "\n ".join(body or ["pass"])
    exec(source, names)  # noqa: S102 - of a class's own names, as the standard library does
    made: Callable[..., None] = names["__init__"]
    made.__qualname__ = f"{cls.__qualname__}.__init__"
    made.__annotations__ = {**spec.annotations, "return": None}
    return made


def _argument(name: str, value: Any, names: dict[str, Any]) -> tuple[str, str]:
    """A field among the arguments, and the value that it gets."""
    if isinstance(value, _Field) and value.default_factory is not _NOTHING:
        names[f"_make_{name}"] = value.default_factory
        return f"{name}=_NOTHING", f"_make_{name}() if {name} is _NOTHING else {name}"
    default = value.default if isinstance(value, _Field) else value
    if default is _NOTHING:
        return name, name
    names[f"_for_{name}"] = default
    return f"{name}=_for_{name}", name


def _values(one: Any) -> tuple[Any, ...]:
    return tuple([getattr(one, name) for name in getattr(type(one), _OWN).fields])


def _repr(self: Any) -> str:
    told = ", ".join(f"{name}={getattr(self, name)!r}" for name in getattr(type(self), _OWN).shown)
    return f"{type(self).__qualname__}({told})"


def _eq(self: Any, other: object) -> bool:
    return _values(self) == _values(other) if other.__class__ is self.__class__ else NotImplemented


def _hash(self: Any) -> int:
    return hash(_values(self))


def _refuse_set(_self: Any, name: str, _value: Any) -> None:
    from dataclasses import FrozenInstanceError

    raise FrozenInstanceError(f"cannot assign to field {name!r}")


def _refuse_delete(_self: Any, name: str) -> None:
    from dataclasses import FrozenInstanceError

    raise FrozenInstanceError(f"cannot delete field {name!r}")


def _getstate(self: Any) -> list[Any]:
    return list(_values(self))


def _setstate(self: Any, state: list[Any]) -> None:
    for name, value in zip(getattr(type(self), _OWN).fields, state, strict=True):
        object.__setattr__(self, name, value)


class _FromStandardLibrary:
    """What the functions of `dataclasses` look for in a class: taken, when they do, from a class of theirs."""

    __slots__ = ("name",)

    def __init__(self, name: str) -> None:
        self.name = name

    def __get__(self, _one: object, cls: type) -> Any:
        return getattr(_twin(cls), self.name)


_FIELDS = _FromStandardLibrary("__dataclass_fields__")
_PARAMS = _FromStandardLibrary("__dataclass_params__")
_twins: dict[_Spec, type] = {}


def _twin(cls: type) -> type:
    """A dataclass of the standard library with the same fields."""
    spec: _Spec = getattr(cls, _OWN)
    if spec not in _twins:
        import dataclasses

        told = {"__annotations__": dict(spec.annotations), "__module__": cls.__module__}
        for name, value in spec.fields.items():
            if value is not _NOTHING:
                told[name] = dataclasses.field(**value.told()) if isinstance(value, _Field) else value
        _twins[spec] = dataclasses.dataclass(**spec.options)(type(cls.__name__, (), told))
    return _twins[spec]


def _by_standard_library(cls: type, options: dict[str, Any]) -> type:
    import dataclasses

    for name, value in list(cls.__dict__.items()):
        if isinstance(value, _Field):
            setattr(cls, name, dataclasses.field(**value.told()))
    made: type = dataclasses.dataclass(**options)(cls)
    return made
