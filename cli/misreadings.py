"""`spotplate misreadings`: one reading planted wrong in every reference record, and whether it is found."""

from __future__ import annotations

from itertools import islice, repeat
from typing import Annotated

import msgspec
import typer

from spotplate.datasets import load_substances
from spotplate.engine import Colleagues
from spotplate.engine.reference_readings import load_reference
from spotplate.engine.reference_report import colleagues_left_out
from spotplate.engine.second_opinion import load_tree
from spotplate.engine.second_opinion.misreading_trial import SEED, TrialScore, plant_misreadings, trial_score
from spotplate.kb import load_knowledge

from .json_shape import print_json
from .options import AsJson, Plain
from .progress import progress_bar
from .views.page import Bar, Block, Heading, Paragraph, Table, show

_SHOWN = {
    "unseen": "substance unknown to the program",
    "in table": "substance in the reference table",
}


def misreadings(
    every: Annotated[int, typer.Option("--every", min=1, help="Take only every Nth substance, to be quicker.")] = 1,
    seed: Annotated[int, typer.Option("--seed", help="Of the wrong values.")] = SEED,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Plant one misreading at a time in the full record of every reference substance, and count what comes of it.

    Once with the substance left out of everything that gives second opinions, once with it. Takes a few minutes.
    """
    knowledge, substances = load_knowledge(), load_substances()
    taken = substances[::every]
    known = Colleagues(load_tree(), load_reference())
    asked = {
        "unseen": islice(colleagues_left_out(substances, knowledge), 0, None, every),
        "in table": repeat(known, len(taken)),
    }
    scores = {}
    with progress_bar(2 * len(taken), "substances") as step:
        for name, colleagues in asked.items():
            scores[name] = trial_score(plant_misreadings(taken, colleagues, knowledge, seed=seed, progress=step))
    if as_json:
        print_json({name: msgspec.to_builtins(score) for name, score in scores.items()})
        return
    page: list[Block] = [Heading(f"One misreading planted at a time in the full records of {len(taken)} substances")]
    for name, score in scores.items():
        page += _score_page(_SHOWN[name], score)
    page.append(
        Paragraph(
            "A clean record has no misreading. First suspect: the reading named first. Accused: some reading is called misread. "
            "In a contradictory record something must be wrong, so a suspect is always named."
        )
    )
    show(page, plain=plain)


def _score_page(name: str, score: TrialScore) -> list[Block]:
    counts = (
        ("planted: conclusive and wrong", score.wrong, score.planted),
        ("planted: some reading accused", score.accused, score.planted),
        ("planted: it is the first suspect", score.found, score.planted),
        ("contradictory: it is the first suspect", score.contradictory_found, score.contradictory),
        ("clean: some reading accused", score.clean_accused, score.clean),
        ("clean: conclusive and wrong", score.clean_wrong, score.clean),
    )
    rows = [
        (told, f"{part:,}", f"{whole:,}", Bar(part / whole if whole else 0.0), f"{100 * part / whole:.1f} %" if whole else "-")
        for told, part, whole in counts
    ]
    return [Heading(name.capitalize()), Table(("records", "n", "of", "", "share"), tuple(rows))]
