"""`spotplate calibration`: do the probabilities hold? The constant fitted again from its seed, and the table of it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import msgspec
import typer

from spotplate.datasets import load_substances
from spotplate.engine.files import check_free, write_whole
from spotplate.engine.second_opinion.calibration import PARTIAL_RECORDS, SEED, fit_calibration
from spotplate.kb import Calibration, Fault, FaultyInputError, Reliability, load_knowledge

from .json_shape import print_json
from .options import AsJson, Plain
from .progress import progress_bar
from .views.page import Bar, Block, Heading, Paragraph, Table, show


def calibration(
    seed: Annotated[int, typer.Option("--seed", help="Of the drawing of partial records.")] = SEED,
    partial: Annotated[int, typer.Option("--partial", min=1, help="Partial records drawn of each substance.")] = PARTIAL_RECORDS,
    image: Annotated[
        Path | None, typer.Option("--image", metavar="FILE", help="Draw the reliability diagram into this PNG, SVG or PDF file.")
    ] = None,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Fit the calibration constant again and show how well probabilities hold on substances left out of the fit."""
    if image is not None:
        _check_image(image)
    knowledge, substances = load_knowledge(), load_substances()
    with progress_bar(len(substances), "substances") as step:
        fitted = fit_calibration(substances, knowledge, seed=seed, partial=partial, progress=step)
    if image is not None:
        from .views.reliability_diagram import reliability_diagram

        write_whole(image, reliability_diagram(fitted, image.suffix.lower()[1:]), where="option --image")
    if as_json:
        print_json({"fitted": msgspec.to_builtins(fitted), "shipped_constant": knowledge.calibration.constant})
        return
    page = _page(fitted, knowledge.calibration)
    if image is not None:
        page.append(Paragraph(f"The diagram is in {image}."))
    show(page, plain=plain)


def _page(fitted: Calibration, shipped: Calibration) -> list[Block]:
    low, high = fitted.without_one
    parts = {"full records": fitted.full, "partial records": fitted.partial, "together": fitted.together}
    rows = [
        (name, f"{part.records:,}", f"{100 * part.right:.1f} %", *(f"{figure:.4f}" for figure in _figures(part)))
        for name, part in parts.items()
    ]
    return [
        Heading(f"Calibration constant {fitted.constant:g}, fitted on {fitted.substances} reference substances"),
        Paragraph(
            f"Probability odds are 10 to the power of (constant × decibans / 10). Shipped: {shipped.constant:g}. Fitted with any "
            f"one substance left out: {low:g} to {high:g}. Seed of the partial records: {fitted.seed}."
        ),
        Table(("", "records", "first class right", "Brier score", "calibration error", "log loss"), tuple(rows)),
        Paragraph(
            "Each substance is judged with the constant fitted on all others; full and partial records of a substance weigh "
            "alike. Brier score: mean of (probability of the first class − right)². Calibration error: over ten equal bins, mean "
            "distance between probability and share right, weighed by the bin. Log loss: mean of −ln of the probability given to "
            "what came true, that the first class is right or that it is not."
        ),
        *_bins("Full records", fitted.full),
        *_bins("Partial records", fitted.partial),
    ]


def _figures(part: Reliability) -> tuple[float, float, float]:
    return part.brier, part.calibration_error, part.log_loss


def _bins(name: str, part: Reliability) -> list[Block]:
    """The reliability table, with the share right as a bar."""
    rows = [
        (f"up to {item.upto:.1f}", f"{100 * item.weight:.1f} %", f"{item.probability:.3f}", f"{item.right:.3f}", Bar(item.right))
        for item in part.bins
    ]
    return [
        Heading(f"{name}: probability of the first class, and how often it is right"),
        Table(("probability", "of the records", "mean probability", "share right", ""), tuple(rows)),
    ]


def _check_image(image: Path) -> None:
    """Refuse what cannot be drawn before the long work."""
    if image.suffix.lower() not in (".png", ".svg", ".pdf"):
        raise FaultyInputError([Fault("option --image", f"{str(image)!r} does not end in .png, .svg or .pdf.")])
    check_free(image, where="option --image")
    try:
        import matplotlib  # noqa: F401
    except ImportError as error:
        says = "drawing needs the package matplotlib; install spotplate with its extra 'image'."
        raise FaultyInputError([Fault("option --image", says)]) from error
