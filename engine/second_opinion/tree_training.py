"""Growing the cross-check tree with scikit-learn, which is imported only here and only when the tree is grown."""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import msgspec

from spotplate.datasets import Substance
from spotplate.engine.record import Readings
from spotplate.engine.sampled_records import WeighedRecord, weighed_records
from spotplate.kb import Interval, KnowledgeBase

from .tree import Node, Settings, Tree, TreeReport, Tried, as_number

if TYPE_CHECKING:
    import numpy as np

SEED = 20
PARTIAL_RECORDS = 20
FOLDS = 10
DEPTHS = (4, 5, 6, 7, 8, 9, 10, 12)
LEAVES = (1.0, 2.0, 4.0)  # least weight of a leaf [substances]
GOT_HERE = 0.1  # [-] share of a substance's records that must end in a leaf for it to be named there

Feature = tuple[str, str | None]  # a reading and one of its words; a reading that is a number has no word


def features(knowledge: KnowledgeBase) -> tuple[Feature, ...]:
    """What a fork may ask about."""
    found: list[Feature] = []
    for kind in knowledge.readings.values():
        found += [(kind.id, word) for word in kind.words()] or [(kind.id, None)]
    return tuple(found)


def feature_row(readings: Readings, asked: Sequence[Feature]) -> list[float]:
    """1 or 0 for each word, the number for each number, and not-a-number where the reading was not made."""
    row = []
    for reading, word in asked:
        value = readings.get(reading)
        if value is None:
            row.append(math.nan)
        elif isinstance(value, Interval):
            row.append(float(as_number(value)))
        else:
            row.append(float(value == word))
    return row


class TrainingTable(msgspec.Struct, frozen=True):
    """
    The records, features [n_records, n_features], labels (places of classes) and weights [n_records] to grow a tree from.

    `group` holds the place of the substance of each record, so that whole substances can be left out.
    """

    records: Sequence[WeighedRecord]
    features: tuple[Feature, ...]
    x: Any
    label: Any
    weight: Any
    group: Any


def training_table(substances: tuple[Substance, ...], knowledge: KnowledgeBase) -> TrainingTable:
    """Expected readings of every substance, full and partial, as numbers."""
    import numpy as np

    records = weighed_records(substances, knowledge, partial=PARTIAL_RECORDS, seed=SEED)
    classes = list(knowledge.classes)
    asked = features(knowledge)
    return TrainingTable(
        records=records,
        features=asked,
        x=np.array([feature_row(item.record.readings, asked) for item in records], dtype=np.float32),
        label=np.array([classes.index(substances[item.substance].class_) for item in records]),
        weight=np.array([item.weight for item in records]),
        group=np.array([item.substance for item in records]),
    )


def grow_tree(substances: tuple[Substance, ...], knowledge: KnowledgeBase) -> Tree:
    """The tree for a table of substances; depth and leaf size by cross-validation over whole substances."""
    import sklearn

    table = training_table(substances, knowledge)
    classes = tuple(knowledge.classes)
    right = _right_labels(substances, classes)
    tried = {}
    for depth in DEPTHS:
        for leaf in LEAVES:
            tried[depth, leaf] = _try(table, right, depth, leaf)
    depth, leaf = _smallest_good(tried)
    predicted = _out_of_fold(table, depth, leaf)
    return Tree(
        classes=classes,
        settings=Settings(SEED, depth, leaf, PARTIAL_RECORDS, _checksum(table), sklearn.__version__),
        report=_report(table, predicted, right, classes, substances, tried.values()),
        nodes=_exported(_fitted(table, depth, leaf), table, classes, substances),
    )


def _checksum(table: TrainingTable) -> str:
    checksum = 0
    for part in (table.x, table.label.astype("<i8"), table.weight.astype("<f8")):
        checksum = zlib.crc32(part.tobytes(), checksum)
    return f"{checksum:08x}"


def trees_left_out(substances: tuple[Substance, ...], knowledge: KnowledgeBase, settings: Settings) -> tuple[Tree, ...]:
    """For each substance, a tree grown in the same way without it (and without the others of its fold)."""
    table = training_table(substances, knowledge)
    classes = tuple(knowledge.classes)
    grown: list[Tree | None] = [None] * len(substances)
    report = TreeReport((), 0.0, 0.0, {})
    for train, test in _folds(table):
        model = _fitted(table, settings.depth, settings.leaf, train)
        tree = Tree(classes, settings, report, _exported(model, table, classes, substances, train))
        for place in set(table.group[test].tolist()):
            grown[place] = tree
    return tuple(tree for tree in grown if tree is not None)


def _right_labels(substances: Sequence[Substance], classes: Sequence[str]) -> np.ndarray:
    """Whether a class is defensible for a substance [n_substances, n_classes]."""
    import numpy as np

    return np.array([[name in item.defensible_classes() for name in classes] for item in substances])


def _fitted(table: TrainingTable, depth: int, leaf: float, rows: Any = slice(None)) -> Any:
    from sklearn.tree import DecisionTreeClassifier

    whole = table.weight[rows].sum()
    model = DecisionTreeClassifier(max_depth=depth, min_weight_fraction_leaf=leaf / whole, random_state=SEED)
    return model.fit(table.x[rows], table.label[rows], sample_weight=table.weight[rows])


def _folds(table: TrainingTable) -> Iterable[tuple[Any, Any]]:
    """Rows to train on and rows to test on; all records of a substance are always on the same side."""
    from sklearn.model_selection import GroupKFold

    folds: Iterable[tuple[Any, Any]] = GroupKFold(FOLDS, shuffle=True, random_state=SEED).split(table.x, table.label, table.group)
    return folds


def _out_of_fold(table: TrainingTable, depth: int, leaf: float) -> np.ndarray:
    import numpy as np

    predicted = np.empty(len(table.label), dtype=int)
    for train, test in _folds(table):
        predicted[test] = _fitted(table, depth, leaf, train).predict(table.x[test])
    return predicted


def _try(table: TrainingTable, right: np.ndarray, depth: int, leaf: float) -> Tried:
    import numpy as np

    shares, leaves = [], []
    for train, test in _folds(table):
        model = _fitted(table, depth, leaf, train)
        hits = right[table.group[test], model.predict(table.x[test])]
        shares.append(np.average(hits, weights=table.weight[test]))
        leaves.append(model.get_n_leaves())
    spread = np.std(shares, ddof=1) / math.sqrt(len(shares))
    return Tried(depth, leaf, round(float(np.mean(shares)), 4), round(float(spread), 4), float(np.mean(leaves)))


def _smallest_good(tried: Mapping[tuple[int, float], Tried]) -> tuple[int, float]:
    """
    The tree with the fewest leaves among those within one standard error of the best.

    The one-standard-error rule of Breiman, Friedman, Olshen and Stone, Classification and Regression Trees (1984).
    """
    best = max(tried.values(), key=lambda item: item.right)
    good = [item for item in tried.values() if item.right >= best.right - best.error]
    smallest = min(good, key=lambda item: (item.leaves, item.depth))
    return smallest.depth, smallest.leaf


def _report(
    table: TrainingTable,
    predicted: np.ndarray,
    right: np.ndarray,
    classes: Sequence[str],
    substances: Sequence[Substance],
    tried: Iterable[Tried],
) -> TreeReport:
    import numpy as np

    hits = right[table.group, predicted]
    full = np.array([item.full for item in table.records])
    confusion = {name: dict.fromkeys(classes, 0) for name in classes}
    seen: set[int] = set()
    for place, item in enumerate(table.records):
        if item.full and item.substance not in seen:  # the likeliest full record comes first
            seen.add(item.substance)
            confusion[substances[item.substance].class_][classes[predicted[place]]] += 1
    return TreeReport(
        tried=tuple(tried),
        right_full=round(float(np.average(hits[full], weights=table.weight[full])), 4),
        right_partial=round(float(np.average(hits[~full], weights=table.weight[~full])), 4),
        confusion=confusion,
    )


def _exported(
    model: Any, table: TrainingTable, classes: Sequence[str], substances: Sequence[Substance], rows: Any = slice(None)
) -> tuple[Node, ...]:
    """The grown tree as nodes in our words."""
    grown = model.tree_
    places = {label: place for place, label in enumerate(model.classes_.tolist())}
    ends = model.apply(table.x[rows])
    weights_here: dict[tuple[int, int], float] = {}
    for end, group, weight in zip(*(part.tolist() for part in (ends, table.group[rows], table.weight[rows])), strict=True):
        weights_here[end, group] = weights_here.get((end, group), 0.0) + weight
    here: dict[int, dict[str, list[str]]] = {}
    for (end, group), weight in sorted(weights_here.items()):
        if weight >= GOT_HERE:
            here.setdefault(end, {}).setdefault(substances[group].class_, []).append(substances[group].name)
    nodes = []
    for place in range(grown.node_count):
        weights = grown.value[place][0] * grown.weighted_n_node_samples[place]
        shares = tuple(round(float(weights[places[label]]), 6) if label in places else 0.0 for label in range(len(classes)))
        left, right = int(grown.children_left[place]), int(grown.children_right[place])
        if left < 0:
            met = here.get(place, {})
            found = {name: tuple(met[name]) for name in classes if name in met}
            nodes.append(Node(shares, substances=found))
            continue
        reading, word = table.features[grown.feature[place]]
        threshold = float(grown.threshold[place])
        untested = left if grown.missing_go_to_left[place] else right
        if math.isinf(threshold):  # all that were made lie to the left
            nodes.append(Node(shares, reading, yes=left, no=left, untested=untested))
        elif word is None:
            nodes.append(Node(shares, reading, above=threshold, yes=right, no=left, untested=untested))
        else:
            nodes.append(Node(shares, reading, is_=word, yes=right, no=left, untested=untested))
    return tuple(nodes)
