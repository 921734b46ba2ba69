"""Reasoning: chaining from readings to facts, weighing, the verdict, and the explanation. It knows none of its neighbours."""

from .chaining import Chained, Firing, chain, layers_of_facts, readings_that_meet
from .explanation import Contrast, Difference, Reason, Step, cited, contrast, reasons, told
from .verdict import Verdict, VerdictKind, contradictions, judge, leading_causes
from .weighing import Ranked, Weight, rank

__all__ = [
    "Chained",
    "Contrast",
    "Difference",
    "Firing",
    "Ranked",
    "Reason",
    "Step",
    "Verdict",
    "VerdictKind",
    "Weight",
    "chain",
    "cited",
    "contradictions",
    "contrast",
    "judge",
    "layers_of_facts",
    "leading_causes",
    "rank",
    "readings_that_meet",
    "reasons",
    "told",
]
