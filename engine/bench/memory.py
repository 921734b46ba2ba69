"""What a bench session remembers besides the readings, so that it can go on exactly where it was left."""

from __future__ import annotations

import msgspec


class VialMemory(msgspec.Struct, frozen=True):
    """
    Of one vial: the test under way, the order in which readings were made or passed over, and which were passed over.

    `agreed` names tests to which the teacher has agreed, `left_out` tests that are not to be proposed for now.
    """

    doing: str = ""
    order: tuple[str, ...] = ()
    passed: tuple[str, ...] = ()
    agreed: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()


class Memory(msgspec.Struct, frozen=True):
    """
    Of a whole session: the vial at hand, what was confirmed and chosen at its start, and each vial's own.

    `prepared` tells that the cautions were read and the vials were prepared as an exercise; `missing` names tests whose
    apparatus is not on the bench, `among` the substances of the unknowns set; `assessment` hides verdict and reasons.
    """

    vial: str = ""
    prepared: bool = False
    assessment: bool = False
    among: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    vials: dict[str, VialMemory] = {}

    def of(self, vial: str) -> VialMemory:
        return self.vials.get(vial, VialMemory())

    def with_vial(self, vial: str, kept: VialMemory) -> Memory:
        return msgspec.structs.replace(self, vials={**self.vials, vial: kept})
