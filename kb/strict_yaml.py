"""Reading YAML strictly: no code is run, nothing hangs, and every fault names its line.

All scalars stay text (YAML 1.1 would turn a bare `no` into false). Aliases, tags, duplicate keys, deep
nesting and huge files are refused. `read_into` turns nodes into frozen structs and collects *all* faults.
"""

from __future__ import annotations

import functools
import types
import typing
from typing import Any, Literal, TypeVar, Union

import msgspec
import yaml

from .errors import MOST_FAULTS, Fault, FaultyInputError, Place, not_accepted, shown

MOST_BYTES = 1_000_000
MOST_DEPTH = 20
MOST_EVENTS = 200_000
_PLAIN_TAGS = (None, "!", "tag:yaml.org,2002:str", "tag:yaml.org,2002:seq", "tag:yaml.org,2002:map")
# libyaml when PyYAML was built with it (all wheels are): ten times faster; else pure Python.
_Loader: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)

Made = TypeVar("Made")
_BAD: Any = object()  # stands for a value that could not be read; its fault is already noted


def decode(data: bytes, file: str) -> str:
    """Text of a file that people brought: UTF-8 (with or without byte-order mark), of bounded size."""
    if len(data) > MOST_BYTES:
        raise FaultyInputError([Fault(file, f"the file has {len(data):,} bytes; at most {MOST_BYTES:,} are read.")])
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        says = f"byte {error.start} is not UTF-8 text; save the file as UTF-8."
        raise FaultyInputError([Fault(f"{file}, line {line}", says)]) from None
    if "\0" in text:
        raise FaultyInputError([Fault(file, "this is not a text file (it holds zero bytes).")])
    return text


def compose(text: str, file: str) -> yaml.Node | None:
    """Node tree of one YAML document, None when it is empty; `FaultyInputError` when it is not plain YAML."""
    try:
        _refuse_hostile(text, file)
        return yaml.compose(text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        where = f"{file}, line {mark.line + 1}" if mark else file
        says = f"not valid YAML: {error.problem or error.context or 'cannot be read'}."
        raise FaultyInputError([Fault(where, says)]) from None
    except yaml.YAMLError as error:
        raise FaultyInputError([Fault(file, f"not valid YAML: {str(error).splitlines()[0]}.")]) from None


def _refuse_hostile(text: str, file: str) -> None:
    """Walk the events, which needs no recursion, before a tree is built from them."""
    if file.startswith("shipped:"):
        return
    depth = documents = 0
    for count, event in enumerate(yaml.parse(text, Loader=_Loader)):
        where = f"{file}, line {event.start_mark.line + 1}" if event.start_mark else file
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            raise FaultyInputError([Fault(where, "anchors and aliases (& and *) are not accepted; write the value out.")])
        tag = getattr(event, "tag", None)
        if tag not in _PLAIN_TAGS:
            raise FaultyInputError([Fault(where, f"the tag {shown(tag)} is not accepted; write plain values.")])
        if isinstance(event, yaml.CollectionStartEvent):
            depth += 1
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1
        elif isinstance(event, yaml.DocumentStartEvent):
            documents += 1
        if depth > MOST_DEPTH:
            raise FaultyInputError([Fault(where, f"nested more than {MOST_DEPTH} deep.")])
        if documents > 1:
            raise FaultyInputError([Fault(where, "a second document ('---') begins here; one a file is accepted.")])
        if count > MOST_EVENTS:
            raise FaultyInputError([Fault(where, "too many entries in one file.")])


def read_into(kind: type[Made], node: yaml.Node, file: str, path: str = "") -> Made:
    """`node` as a value of `kind`; `FaultyInputError` with every fault in it."""
    reader = _Reader(file)
    value = reader.read(kind, node, path)
    if reader.faults:
        raise FaultyInputError(reader.faults)
    return typing.cast(Made, value)


class _Reader:
    """Turns nodes into text, numbers, tuples, dicts and structs, noting each fault with its line."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.faults: list[Fault] = []

    def fault(self, node: yaml.Node, path: str, says: str) -> Any:
        where = str(Place(self.file, node.start_mark.line + 1))
        self.faults.append(Fault(f"{where}, {path}" if path else where, says))
        return _BAD

    def read(self, kind: Any, node: yaml.Node, path: str) -> Any:
        if kind is str:
            return self._text(node, path)
        if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
            return self._struct(kind, node, path)
        origin, arguments = _parts(kind)
        if origin is tuple:
            return self._sequence(arguments[0], node, path)
        if origin is dict:
            return self._mapping(arguments[1], node, path)
        if origin is Literal:
            return self._choice(arguments, node, path)
        if origin in (Union, types.UnionType):
            if isinstance(node, yaml.ScalarNode) and node.value == "" and type(None) in arguments:
                return None
            return self.read(next(kind for kind in arguments if kind is not type(None)), node, path)
        if kind is bool:
            return self._truth(node, path)
        return self._number(kind, node, path)

    def _text(self, node: yaml.Node, path: str) -> Any:
        if not isinstance(node, yaml.ScalarNode):
            return self.fault(node, path, f"a {_noun(node)} stands here; text is accepted.")
        if not node.value.replace("\n", "").replace("\t", "").isprintable():
            return self.fault(node, path, f"{shown(node.value)} holds control characters; write plain text.")
        return node.value

    def _choice(self, words: tuple[str, ...], node: yaml.Node, path: str) -> Any:
        text = self._text(node, path)
        if text is not _BAD and text not in words:
            return self.fault(node, path, not_accepted(text, "accepted here", words))
        return text

    def _truth(self, node: yaml.Node, path: str) -> Any:
        text = self._text(node, path)
        if text is not _BAD and text.lower() not in ("true", "yes", "false", "no"):
            return self.fault(node, path, f"{shown(text)} stands here; yes or no is accepted.")
        return text is not _BAD and text.lower() in ("true", "yes")

    def _number(self, kind: type[float], node: yaml.Node, path: str) -> Any:
        text = self._text(node, path)
        try:
            return _BAD if text is _BAD else kind(text)
        except ValueError:
            return self.fault(node, path, f"{shown(text)} is not a number.")

    def _sequence(self, kind: Any, node: yaml.Node, path: str) -> Any:
        if isinstance(node, yaml.ScalarNode) and kind is str and node.value:
            return (node.value,)  # `is: metallic` for `is: [metallic]`
        if not isinstance(node, yaml.SequenceNode):
            return self.fault(node, path, f"a {_noun(node)} stands here; a list is accepted.")
        return tuple(self.read(kind, item, f"{path}[{index}]") for index, item in enumerate(node.value, 1))

    def _mapping(self, kind: Any, node: yaml.Node, path: str) -> Any:
        pairs = self.pairs(node, path)
        return {key: self.read(kind, value, f"{path}.{_brief(key)}") for key, (_, value) in pairs.items()}

    def pairs(self, node: yaml.Node, path: str) -> dict[str, tuple[yaml.Node, yaml.Node]]:
        """Key nodes and value nodes of a mapping by key; duplicates and keys that are no text are faults."""
        if not isinstance(node, yaml.MappingNode):
            self.fault(node, path, f"a {_noun(node)} stands here; 'key: value' pairs are accepted.")
            return {}
        found: dict[str, tuple[yaml.Node, yaml.Node]] = {}
        for key, value in node.value:
            if not isinstance(key, yaml.ScalarNode):
                self.fault(key, path, f"a {_noun(key)} stands where a key is expected.")
            elif key.value in found:
                self.fault(key, path, f"the key {shown(key.value)} stands here a second time.")
            else:
                found[key.value] = (key, value)
        return found

    def _struct(self, kind: type[msgspec.Struct], node: yaml.Node, path: str) -> Any:
        before = len(self.faults)
        pairs = self.pairs(node, path)
        if len(self.faults) > before and not pairs:
            return _BAD
        fields = _fields(kind)
        name = pairs.get("id", pairs.get("term", pairs.get("key")))
        if name and isinstance(name[1], yaml.ScalarNode):
            told = shown(name[1].value)
            path = f"{path.partition('[')[0]} {told}" if "[" in path else path or told
        made: dict[str, Any] = {}
        accepted = [field for field in fields if field != "place"]
        for key, (key_node, value) in pairs.items():
            if len(self.faults) >= MOST_FAULTS:
                break
            if key not in accepted:
                self.fault(key_node, path, not_accepted(key, "a key here", accepted, most=20))
            else:
                field, field_kind, _ = fields[key]
                made[field] = self.read(field_kind, value, f"{path}.{key}" if path else key)
        for key, (field, _, required) in fields.items():
            if required and field not in made:
                self.fault(node, path, f"the key {key!r} is missing.")
        if len(self.faults) > before:
            return _BAD
        if "place" in fields:
            made["place"] = Place(self.file, node.start_mark.line + 1)
        return kind(**made)


def _brief(key: str) -> str:
    return key if len(key) <= 60 else f"{key[:59]}…"


def _noun(node: yaml.Node) -> str:
    if isinstance(node, yaml.ScalarNode):
        return f"value {shown(node.value)}" if node.value else "blank"
    return "list" if isinstance(node, yaml.SequenceNode) else "mapping"


@functools.cache
def _parts(kind: Any) -> tuple[Any, tuple[Any, ...]]:
    return typing.get_origin(kind), typing.get_args(kind)


@functools.cache
def _fields(kind: type[msgspec.Struct]) -> dict[str, tuple[str, Any, bool]]:
    """Key in the file → (field name, kind of value, whether it must be there)."""
    return {f.encode_name: (f.name, f.type, f.required) for f in msgspec.structs.fields(kind)}
