"""Samples: the kinds of blanks as laboratories name them, and which samples need an interval."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from geoprofile.errors import Problem
from geoprofile.intake.checks import where
from geoprofile.intake.inputs import BLANK, KINDS
from geoprofile.intake.problems import tell


def plain_kinds(texts: Sequence[str | None]) -> tuple[list[str | None], list[str | None]]:
    """The kind of each sample in the words of the schema, and the type of a blank."""
    kinds: list[str | None] = []
    types: list[str | None] = []
    for text in texts:
        word = " ".join((text or "").replace("_", " ").replace("-", " ").split()).casefold()
        kind, blank = KINDS.get(word, (text, ""))
        kinds.append(kind)
        types.append(blank or None)
    return kinds, types


def check_samples(samples: pd.DataFrame, problems: list[Problem]) -> None:
    """Tell samples of the ground without an interval; a blank needs none."""
    bare = samples["interval"].isna() & (samples["kind"] != BLANK)
    tell(
        problems,
        [int(i) for i in np.flatnonzero(bare.to_numpy())],
        lambda i: where(samples, i, "interval"),
        lambda i: (
            "an empty cell",
            "the interval sampled; only a blank needs none",
            "Fill the cell; if it is a blank, say so in the column kind: trip blank, field blank "
            "or equipment blank.",
        ),
    )
    typed = samples["blank_type"].notna() & (samples["kind"] != BLANK)
    tell(
        problems,
        [int(i) for i in np.flatnonzero(typed.to_numpy())],
        lambda i: where(samples, i, "blank_type"),
        lambda i: (
            f"a type of blank for a sample of kind {samples['kind'].iloc[i]}",
            "kind blank beside it",
            "Correct one of the two.",
        ),
    )
