"""Second opinions: the cross-check tree, calibration, misread readings, candidate substances, the audit of the rules."""

from .candidates import Candidate, Candidates, candidates
from .cross_check import Agreement, CrossCheck, cross_check
from .misread import Suspect, suspects
from .tree import Tree, load_tree

__all__ = [
    "Agreement",
    "Candidate",
    "Candidates",
    "CrossCheck",
    "Suspect",
    "Tree",
    "candidates",
    "cross_check",
    "load_tree",
    "suspects",
]
