"""The shape of everything in the knowledge base. The YAML files explain the fields; this page types them."""

from __future__ import annotations

import functools
from typing import Literal

import msgspec

from .errors import Place

Word = Literal["hint", "supporting", "strong", "decisive"]
ReadingValues = dict[str, str]


class Source(msgspec.Struct, frozen=True):
    """Where a statement comes from: a key of `sources.yaml`, and the place in it."""

    key: str
    where: str = ""


class KnownSource(msgspec.Struct, frozen=True):
    key: str
    cites: str


class BondingClass(msgspec.Struct, frozen=True):
    id: str
    model: str
    also: tuple[str, ...] = ()


class Subtype(msgspec.Struct, frozen=True):
    id: str
    of: tuple[str, ...]
    because: str


class Cause(msgspec.Struct, frozen=True):
    id: str
    says: str


class Fact(msgspec.Struct, frozen=True):
    id: str
    says: str
    subtype: str | None = None


class Caution(msgspec.Struct, frozen=True):
    """A usual caution; `always` marks those to be told before any test."""

    key: str
    says: str
    always: bool = False


class SolubilityTerm(msgspec.Struct, frozen=True, rename={"from_": "from"}):
    """Parts of solvent [mL/g] from `from_` up to but not including `below`."""

    term: str
    from_: float
    reading: str
    below: float | None = None


class Condition(msgspec.Struct, frozen=True, rename={"is_": "is"}):
    """One condition: a reading with accepted words or bounds (numbers with units), or a fact."""

    reading: str | None = None
    fact: str | None = None
    is_: tuple[str, ...] = ()
    above: str | None = None
    below: str | None = None
    at_least: str | None = None
    at_most: str | None = None


class When(msgspec.Struct, frozen=True):
    all: tuple[Condition, ...] = ()
    any: tuple[Condition, ...] = ()
    none: tuple[Condition, ...] = ()


class Weighs(msgspec.Struct, frozen=True, rename={"for_": "for"}):
    cause: str
    for_: dict[str, Word] = {}
    against: dict[str, Word] = {}
    kept: str = ""


class SubtypeException(msgspec.Struct, frozen=True):
    subtype: str
    because: str


class Rule(msgspec.Struct, frozen=True):
    id: str
    because: str
    when: When
    source: Source
    adds: tuple[str, ...] = ()
    weighs: Weighs | None = None
    conflict: str | None = None
    exceptions: tuple[SubtypeException, ...] = ()
    fires_on: tuple[ReadingValues, ...] = ()
    silent_on: tuple[ReadingValues, ...] = ()
    place: Place | None = None

    def conditions(self) -> tuple[Condition, ...]:
        return self.when.all + self.when.any + self.when.none


class RuleOfThumb(msgspec.Struct, frozen=True):
    """
    What people say at the bench, the classes that it jumps to, and why it fails now and then.

    Where the wording says more than a class, `true_of` names the finer kinds of which all of it is true, none when that is not
    certain of any.
    """

    id: str
    says: str
    when: When
    jumps_to: tuple[str, ...]
    because: str
    source: Source
    fires_on: tuple[ReadingValues, ...]
    silent_on: tuple[ReadingValues, ...]
    true_of: tuple[str, ...] | None = None

    def conditions(self) -> tuple[Condition, ...]:
        return self.when.all + self.when.any + self.when.none


class Value(msgspec.Struct, frozen=True, rename={"is_": "is"}):
    """One accepted word of a reading, what it looks like, other spellings, and how one comes to write it wrongly."""

    is_: str
    looks: str
    also: tuple[str, ...] = ()
    mistaken: tuple[str, ...] = ()


class Number(msgspec.Struct, frozen=True):
    """A reading that is a number: default unit, and the accepted range in that unit."""

    unit: str
    least: float
    most: float


class Misread(msgspec.Struct, frozen=True, rename={"from_": "from"}):
    """
    Chance [-] that a careful student writes down a wrong value, and where the figure comes from.

    `causes` are those that may mislead whatever was written; `repeat` says how to make the reading again.
    """

    rate: float
    from_: str
    causes: tuple[str, ...] = ()
    repeat: str = ""


class ReadingKind(msgspec.Struct, frozen=True):
    """What one reading may be: a closed list of values, or a number."""

    id: str
    asks: str
    misread: Misread
    also: tuple[str, ...] = ()
    values: tuple[Value, ...] = ()
    number: Number | None = None

    def words(self) -> tuple[str, ...]:
        return tuple(value.is_ for value in self.values)


class BenchTest(msgspec.Struct, frozen=True):
    id: str
    does: str
    apparatus: tuple[str, ...]
    minutes: float
    procedure: str
    cautions: tuple[str, ...]
    source: Source
    readings: tuple[ReadingKind, ...]
    needs: tuple[Condition, ...] = ()
    teacher: bool = False


class Band(msgspec.Struct, frozen=True):
    gives: str
    upto: float | None = None


class Way(msgspec.Struct, frozen=True):
    """One way from a handbook value to a reading; `expected_readings.yaml` explains each kind."""

    column: str | None = None
    words: dict[str, tuple[str, ...]] = {}
    bands: tuple[Band, ...] = ()
    factor: float | None = None
    margin: float = 0.0
    number: str | None = None
    measured_to: float | None = None
    heats_to: float | None = None
    apart: float = 0.0
    shows: dict[str, tuple[str, ...]] = {}
    otherwise: tuple[str, ...] = ()


class ExpectedReading(msgspec.Struct, frozen=True):
    reading: str
    ways: tuple[Way, ...]
    only_if: dict[str, tuple[str, ...]] = {}


class Conclusive(msgspec.Struct, frozen=True):
    probability: float
    lead: float
    causes: int
    without_one: float


class Contradictory(msgspec.Struct, frozen=True):
    against: float


class VerdictRules(msgspec.Struct, frozen=True):
    conclusive: Conclusive
    contradictory: Contradictory
    words: dict[Word, float]


class ReliabilityBin(msgspec.Struct, frozen=True):
    """Records whose first class got a probability up to `upto` [-]: their weight, mean probability and share right [-]."""

    upto: float
    weight: float
    probability: float
    right: float


class Reliability(msgspec.Struct, frozen=True):
    """How well probabilities of the first class hold on some records; all but the count are numbers without a unit [-]."""

    records: int
    right: float
    brier: float
    calibration_error: float
    log_loss: float
    bins: tuple[ReliabilityBin, ...] = ()


class Calibration(msgspec.Struct, frozen=True):
    """The one constant that scales decibans, and the report of its fitting."""

    constant: float
    seed: int
    substances: int
    made_from: str
    without_one: tuple[float, float]
    full: Reliability
    partial: Reliability
    together: Reliability


class TreeThresholds(msgspec.Struct, frozen=True):
    purity: float
    substances: int


class MisreadThresholds(msgspec.Struct, frozen=True):
    doubtful: float
    hanging: float


class CandidateSettings(msgspec.Struct, frozen=True):
    none_of_these: float
    outside_set: float
    differs: float
    differs_more: dict[str, float]
    listed: int
    listed_from: float
    school_use: dict[str, float]
    mixed_melting: str


class NumberFit(msgspec.Struct, frozen=True):
    """How far a measured number may honestly lie from the handbook value; `second_opinion.yaml` explains the fields."""

    reading: str
    handbook: float
    above: float
    below: float
    apart: float
    spread: float
    widened: float = 0.0
    relative: bool = False
    with_pressure: bool = False


class SecondOpinion(msgspec.Struct, frozen=True):
    tree: TreeThresholds
    misread: MisreadThresholds
    candidates: CandidateSettings
    numbers: tuple[NumberFit, ...]


class Takes(msgspec.Struct, frozen=True):
    """
    What one trial of a bench test takes: of a solid [g], a liquid [mL] or a gas [mL], and of reagents in their own units.

    `uses_once` is for each group, whatever the number of its vials.
    """

    test: str
    solid: float
    liquid: float
    because: str
    gas: float = 0.0
    uses: dict[str, float] = {}
    uses_once: dict[str, float] = {}


class Container(msgspec.Struct, frozen=True):
    """What holds up to `upto` [g or mL] of a substance."""

    says: str
    upto: float | None = None


class Dilution(msgspec.Struct, frozen=True):
    """A stock solution and what is wanted: `mass_share` [g/g], `density` [g/mL], `molar_mass` [g/mol], `wanted` [mol/L]."""

    of: str
    wanted: float
    mass_share: float
    density: float
    molar_mass: float
    source: Source

    @property
    def stock_concentration(self) -> float:
        """Concentration of the stock [mol/L]."""
        return 1000 * self.density * self.mass_share / self.molar_mass


class Solution(msgspec.Struct, frozen=True):
    """A solid and how much of it a litre takes [g/L]."""

    of: str
    mass_per_litre: float
    source: Source


class Reagent(msgspec.Struct, frozen=True):
    """Something that tests use up; `rounded_to` in its own unit, `minutes` to make it [min], `overnight` when it has to stand."""

    id: str
    unit: Literal["mL", "g", "strips", "pieces"]
    says: str
    rounded_to: float
    minutes: float = 0.0
    overnight: bool = False
    hazards: tuple[str, ...] = ()
    stock_hazards: tuple[str, ...] = ()
    dilution: Dilution | None = None
    solution: Solution | None = None
    steps: str = ""
    storage: str = ""


class Storage(msgspec.Struct, frozen=True):
    """How a stock with one of these hazard codes is kept."""

    hazards: tuple[str, ...]
    says: str


class Residue(msgspec.Struct, frozen=True):
    """A kind of residue and where it goes; `preparation.yaml` explains the conditions."""

    id: str
    says: str
    elements: tuple[str, ...] = ()
    carbon_with: tuple[str, ...] = ()
    salt_with: tuple[str, ...] = ()
    formula_holds: tuple[str, ...] = ()
    states: tuple[str, ...] = ()
    liquid_with: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()
    unless_with: tuple[str, ...] = ()
    tests: tuple[str, ...] = ()
    no_formula: tuple[str, ...] = ()
    readings: dict[str, tuple[str, ...]] = {}

    @property
    def for_all_others(self) -> bool:
        """Whether it has no condition of its own."""
        return not any(getattr(self, field) for field in self.__struct_fields__[2:])


class PreparationRules(msgspec.Struct, frozen=True):
    """What preparing an unknowns set takes; `preparation.yaml` explains the fields and their units."""

    trials: int
    margin: float
    portion: float
    filling: float
    takes: tuple[Takes, ...]
    containers: tuple[Container, ...]
    gas_container: str
    reagents: tuple[Reagent, ...]
    storage: tuple[Storage, ...]
    otherwise_stored: str
    residues: tuple[Residue, ...]
    after_the_lesson: str


class HazardLevel(msgspec.Struct, frozen=True):
    """A level of hazard, and the GHS statements that put a substance into it; `level` is added up over a set [-]."""

    level: int
    id: str
    because: str
    statements: tuple[str, ...]


class NeverPlanned(msgspec.Struct, frozen=True):
    """What is never planned for students, by its GHS statements."""

    id: str
    because: str
    statements: tuple[str, ...]


class Portion(msgspec.Struct, frozen=True):
    """How much of a substance one group needs, as a solid [g] and as a liquid [mL]."""

    solid_g: float
    liquid_mL: float  # noqa: N815  (the unit keeps its capital)


class SetPlanning(msgspec.Struct, frozen=True):
    """What the planner of unknowns sets goes by; `set_planning.yaml` explains the fields."""

    levels: tuple[HazardLevel, ...]
    never: tuple[NeverPlanned, ...]
    plain: tuple[str, ...]
    portion: Portion


class RuleFile(msgspec.Struct, frozen=True):
    """A teacher's rule base: rules, and what they speak of beyond the shipped facts, causes and sources."""

    rules: tuple[Rule, ...]
    facts: tuple[Fact, ...] = ()
    causes: tuple[Cause, ...] = ()
    sources: tuple[KnownSource, ...] = ()


class KnowledgeBase(msgspec.Struct, frozen=True, dict=True):
    """Everything a chemist knows, checked: every name in it is known. Tables keep the order of their files."""

    classes: dict[str, BondingClass]
    subtypes: dict[str, Subtype]
    tests: dict[str, BenchTest]
    facts: dict[str, Fact]
    causes: dict[str, Cause]
    cautions: dict[str, Caution]
    sources: dict[str, KnownSource]
    solubility: tuple[SolubilityTerm, ...]
    preparation: PreparationRules
    expected: tuple[ExpectedReading, ...]
    verdict: VerdictRules
    calibration: Calibration
    second_opinion: SecondOpinion
    rules_of_thumb: dict[str, RuleOfThumb]
    set_planning: SetPlanning
    rules: tuple[Rule, ...]
    checksum: str

    @functools.cached_property
    def readings(self) -> dict[str, ReadingKind]:
        """Every reading by name, in the order of the bench tests."""
        return {kind.id: kind for test in self.tests.values() for kind in test.readings}

    @functools.cached_property
    def test_of(self) -> dict[str, BenchTest]:
        """The bench test that yields each reading."""
        return {kind.id: test for test in self.tests.values() for kind in test.readings}

    def is_awkward(self, subtype: str) -> bool:
        """Whether substances of a finer kind behave unlike the pattern of their class; those of none do not."""
        return bool(subtype) and subtype not in self.set_planning.plain
