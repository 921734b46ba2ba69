"""Changing single values in the text of a YAML record, so that everything else stays letter for letter.

The strict reader tells where each value stands, and only that stretch of the text is replaced: comments, order, quotes,
indentation and line ends stay as the person wrote them. Whoever calls reads the result again and compares, so a way of
writing YAML that is not foreseen here ends in a refusal and never in a spoilt file.
"""

from __future__ import annotations

import re

import yaml

from spotplate.engine.record import AIR_PRESSURE, find_reading, names_air_pressure
from spotplate.kb import KnowledgeBase, compose

_HEAD = 'Bench record. A reading that is not here was not tested; "unclear" was tried and could not be told.'
_LINE_END = re.compile("\r\n|[\r\n\x85\u2028\u2029]")  # what YAML 1.1 takes for one

Pair = tuple[yaml.Node, yaml.Node]


def new_yaml_record(label: str) -> str:
    """A record without readings."""
    return f"# {_HEAD}\nvial: {_scalar(label)}\nreadings: {{}}\n"


def yaml_with_reading(text: str, file: str, place: int, reading: str, value: str, knowledge: KnowledgeBase) -> str:
    """The text with a reading of one record set, under whatever spelling it has already; an empty value takes it out."""
    record = _records(text, file)[place]
    key, readings = _pair(record, "readings")
    for at, (name, node) in enumerate(readings.value):
        if means(name.value, reading, knowledge):
            return _replaced(text, node, value) if value else _without(text, key, readings, at)
    return _with_reading(text, record, reading, value) if value else text


def yaml_with_notes(text: str, file: str, place: int, notes: str) -> str:
    """The text with the notes of one record set; new ones come before the readings."""
    record = _records(text, file)[place]
    if any(key.value == "notes" for key, _ in record.value):
        return _replaced(text, _pair(record, "notes")[1], notes)
    key, _ = _pair(record, "readings")
    between = ", " if _flows(record) else line_end(text) + " " * key.start_mark.column
    return _spliced(text, key.start_mark.index, key.start_mark.index, f"notes: {_scalar(notes)}{between}")


def yaml_with_vial(text: str, file: str, label: str) -> str | None:
    """The text with an empty record at the end of its list; None when it is no list of records."""
    root = compose(text, file)
    listed = root if isinstance(root, yaml.SequenceNode) else _listed(root)
    if listed is None:
        return None
    if listed.flow_style:
        at = listed.value[-1].end_mark.index
        return _spliced(text, at, at, f", {{vial: {_scalar(label)}, readings: {{}}}}")
    indent = " " * listed.start_mark.column
    return _with_line(text, listed.value[-1], f"{indent}- vial: {_scalar(label)}{line_end(text)}{indent}  readings: {{}}")


def means(spelling: str, reading: str, knowledge: KnowledgeBase) -> bool:
    """Whether a key or column stands for a reading, or for the air pressure."""
    kind = find_reading(spelling, knowledge)
    return kind.id == reading if kind else reading == AIR_PRESSURE[0] and names_air_pressure(spelling)


def line_end(text: str) -> str:
    """The line end that a text uses."""
    found = re.search("\r\n|\n|\r", text)
    return found[0] if found else "\n"


# --- where things stand ----------------------------------------------------------------------------


def _records(text: str, file: str) -> list[yaml.Node]:
    root = compose(text, file)
    listed = root if isinstance(root, yaml.SequenceNode) else _listed(root)
    return list(listed.value) if listed is not None else [root] if root is not None else []


def _listed(root: yaml.Node | None) -> yaml.SequenceNode | None:
    """The list under a lone key `vials`."""
    if isinstance(root, yaml.MappingNode) and [key.value for key, _ in root.value] == ["vials"]:
        value = root.value[0][1]
        return value if isinstance(value, yaml.SequenceNode) else None
    return None


def _pair(record: yaml.Node, name: str) -> Pair:
    return next((key, value) for key, value in record.value if key.value == name)


def _last(node: yaml.Node) -> yaml.Node:
    """The part of a node that is written last; lists and mappings in lines of their own say nothing of where they end."""
    while not isinstance(node, yaml.ScalarNode) and not _flows(node) and node.value:
        node = node.value[-1][1] if isinstance(node, yaml.MappingNode) else node.value[-1]
    return node


def _flows(node: yaml.Node) -> bool:
    """Whether a list or mapping is written in brackets."""
    return isinstance(node, yaml.CollectionNode) and bool(node.flow_style)


def _is_block(node: yaml.Node) -> bool:
    """Whether this is a text in lines of its own, after `|` or `>`; it reaches to the beginning of the line after it."""
    return isinstance(node, yaml.ScalarNode) and node.style in ("|", ">")


def _next_line(text: str, node: yaml.Node) -> int:
    """Where the line after a node begins, a comment behind the node being passed over."""
    last = _last(node)
    end: int = last.end_mark.index
    if _is_block(last):
        return end
    found = _LINE_END.search(text, end)
    return found.end() if found else len(text)


def _line_start(node: yaml.Node) -> int:
    place: int = node.start_mark.index - node.start_mark.column
    return place


# --- changing them ---------------------------------------------------------------------------------


def _scalar(text: str) -> str:
    """A text as YAML on one line, quoted where that is needed anywhere in a record."""
    written: str = yaml.safe_dump([text], default_flow_style=True, allow_unicode=True, width=float("inf"))
    return written.strip()[1:-1]


def _spliced(text: str, start: int, end: int, new: str) -> str:
    return text[:start] + new + text[end:]


def _with_line(text: str, after: yaml.Node, line: str) -> str:
    """The text with a line after the one on which a node ends."""
    at = _next_line(text, after)
    begun = bool(at) and not _LINE_END.match(text, at - 1)  # the last line of the file, without a line end
    return _spliced(text, at, at, f"{line_end(text) if begun else ''}{line}{line_end(text)}")


def _replaced(text: str, node: yaml.Node, value: str) -> str:
    start, end = node.start_mark.index, node.end_mark.index
    new = _scalar(value)
    if start == end:
        new = f" {new}"  # nothing stands after the colon yet
    elif _is_block(node):
        new += line_end(text)
    return _spliced(text, start, end, new)


def _with_reading(text: str, record: yaml.Node, reading: str, value: str) -> str:
    key, readings = _pair(record, "readings")
    pair = f"{_scalar(reading)}: {_scalar(value)}"
    if not _flows(readings):
        return _with_line(text, readings, " " * readings.value[0][0].start_mark.column + pair)
    if readings.value:
        at = readings.value[-1][1].end_mark.index
        return _spliced(text, at, at, f", {pair}")
    start, end = readings.start_mark.index, readings.end_mark.index
    if _flows(record):
        return _spliced(text, start, end, f"{{{pair}}}")
    # `readings: {}` becomes a list of lines.
    lines = _with_line(text, readings, " " * (key.start_mark.column + 2) + pair)
    return _spliced(lines, len(text[:start].rstrip(" ")), end, "")


def _without(text: str, key: yaml.Node, readings: yaml.Node, at: int) -> str:
    pairs: list[Pair] = readings.value
    name, value = pairs[at]
    if _flows(readings):
        if len(pairs) == 1:
            return _spliced(text, readings.start_mark.index, readings.end_mark.index, "{}")
        if at:
            return _spliced(text, pairs[at - 1][1].end_mark.index, value.end_mark.index, "")
        return _spliced(text, name.start_mark.index, pairs[1][0].start_mark.index, "")
    without = _spliced(text, _line_start(name), _next_line(text, value), "")
    if len(pairs) > 1:
        return without
    colon = text.index(":", key.end_mark.index) + 1
    return _spliced(without, colon, colon, " {}")
