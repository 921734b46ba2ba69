"""The reliability diagram as an image."""

from __future__ import annotations

import io

from spotplate.kb import Calibration


def reliability_diagram(fitted: Calibration, kind: str) -> bytes:
    """Probability against share right, with the weight of each bin below, as a file of `kind`: png, svg or pdf."""
    from matplotlib.figure import Figure  # heavy, and only for this

    figure = Figure(figsize=(6, 6), layout="constrained")
    upper, lower = figure.subplots(2, 1, height_ratios=(3, 1), sharex=True)
    upper.plot([0, 1], [0, 1], color="grey", linestyle=":", label="probability holds")
    for part, name, marker, style in ((fitted.full, "full records", "o", "-"), (fitted.partial, "partial records", "s", "--")):
        probability = [item.probability for item in part.bins]
        upper.plot(probability, [item.right for item in part.bins], color="black", marker=marker, linestyle=style, label=name)
        lower.plot(probability, [item.weight for item in part.bins], color="black", marker=marker, linestyle=style)
    upper.set(ylabel="share right", ylim=(0, 1.02), title=f"Calibration constant {fitted.constant:g}")
    upper.legend(loc="upper left")
    lower.set(xlabel="probability of the first class", ylabel="share of records", xlim=(0, 1.02), ylim=(0, None))
    drawn = io.BytesIO()
    figure.savefig(drawn, format=kind, dpi=150)
    return drawn.getvalue()
