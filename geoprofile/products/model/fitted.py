"""Fields between wells: fitted models read back from the site's tables, in the quantity's unit."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geoprofile import kriging
from geoprofile.errors import DataError
from geoprofile.kept_while import made_of
from geoprofile.kriging.covariance.strata import Across
from geoprofile.kriging.predict.contact_mixture import TwoSides
from geoprofile.products.concentration.campaigns import is_round
from geoprofile.products.concentration.inputs import criteria_ug_per_l
from geoprofile.products.model.inputs import Evidence, evidence_of
from geoprofile.products.units.inputs import unit_surfaces
from geoprofile.remembered import keep, of_arrays, recalled
from geoprofile.site import Site, records_of

Array = NDArray[np.float64]
QUANTILE_10 = 1.2815515655446004  # [-] normal quantile of 90 %


@dataclass(frozen=True, eq=False)
class FieldAt:
    """The field at points: arrays of shape (n,) in the quantity's unit, and on the log10 scale.

    `low` and `high` are the 10 and 90 % quantiles of the field itself, not of a new noisy test.
    """

    median: Array
    low: Array
    high: Array
    log10_mean: Array
    log10_sd: Array


@dataclass(frozen=True, eq=False)
class Field:
    """A fitted field of one quantity and round.

    `criterion` is the user's, in `unit`, or None; `limits_only` tells that it predicts held-out
    boreholes no better than one level would.
    """

    evidence: Evidence
    model: kriging.Model
    criterion: float | None
    limits_only: bool = False

    @property
    def quantity(self) -> str:
        """K, or the analyte."""
        return self.evidence.quantity

    @property
    def round(self) -> str | None:
        """Sampling round; None for K."""
        return self.evidence.round

    @property
    def unit(self) -> str:
        """Unit of medians and criteria."""
        return self.evidence.unit

    @property
    def highest(self) -> float:
        """Highest measured value in `unit`; infinite where none was measured."""
        data = self.evidence.data
        seen = np.asarray(data.value)[~data.censored]
        return float(10.0 ** seen.max()) if seen.size else float("inf")

    def at(self, points: Array) -> FieldAt:
        """Median, 10 and 90 % quantile, and log10 mean and sd.

        Parameters
        ----------
        points : Array, shape (n, 3) [m]
            Easting, northing, elevation.

        Returns
        -------
        FieldAt
            Arrays of shape (n,) [quantity's unit].
        """
        places = np.asarray(points, dtype=float)
        found = self.model.predict(places)
        levels = [found.mean + z * found.sd for z in (0.0, -QUANTILE_10, QUANTILE_10)]
        mean, sd = found.mean.copy(), found.sd.copy()
        across = self._across(places)
        if across is not None:
            there, rows = self.model.predict(across.places), across.rows
            two = TwoSides(across.chance, mean[rows], sd[rows], there.mean, there.sd)
            mean[rows], sd[rows] = two.moments()
            for level, probability in zip(levels, (0.5, 0.1, 0.9), strict=True):
                level[rows] = two.quantile(probability)
        median, low, high = (10.0**level for level in levels)
        return FieldAt(median, low, high, mean, sd)

    def _across(self, places: Array) -> Across | None:
        """Places that may lie across a contact between units, if there are any."""
        strata = self.model.data.strata
        found = None if strata is None else strata.across(places)
        return found if found is not None and len(found.rows) else None

    def exceedance(
        self, points: Array, criterion: float | None = None, *, doubted: bool = True
    ) -> Array:
        """Probability of lying above the criterion, non-detects included.

        Parameters
        ----------
        points : Array, shape (n, 3) [m]
            Easting, northing, elevation.
        criterion : float, optional [quantity's unit]
            The user's own when left out.
        doubted : bool
            With the doubt about the model itself, as on a map.

        Returns
        -------
        Array, shape (n,) [-]
            Probability.

        Raises
        ------
        DataError
            No criterion given and none in the table.
        """
        level = self.criterion if criterion is None else criterion
        if level is None or level <= 0:
            raise DataError(
                f"field '{self.quantity}'",
                f"criterion {level}",
                "a value above 0",
                "Add the analyte to the criterion table, or give a criterion.",
            )
        places, threshold = np.asarray(points, dtype=float), float(np.log10(level))
        chance = self.model.exceedance(places, threshold, doubted=doubted)
        across = self._across(places)
        if across is not None:
            there = self.model.exceedance(across.places, threshold, doubted=doubted)
            chance[across.rows] += across.chance * (there - chance[across.rows])
        return chance

    def assumed(self, points: Array) -> Array:
        """Share of the doubt, about the criterion where there is one, that is about the shape.

        Parameters
        ----------
        points : Array, shape (n, 3) [m]
            Easting, northing, elevation.

        Returns
        -------
        Array, shape (n,) [-]
            Above one half the data do not hold the shape.
        """
        known = self.criterion is not None and self.criterion > 0
        threshold = float(np.log10(self.criterion)) if known and self.criterion else None
        return self.model.assumed(np.asarray(points, dtype=float), threshold)

    def simulate(
        self, points: Array, *, realisations: int = 100, rng: np.random.Generator
    ) -> Array:
        """Equally likely fields that honour the data.

        Parameters
        ----------
        points : Array, shape (n, 3) [m]
            Easting, northing, elevation.
        realisations : int [-]
            How many.
        rng : Generator
            Source of randomness.

        Returns
        -------
        Array, shape (realisations, n) [quantity's unit]
            Simulated values.
        """
        places = np.asarray(points, dtype=float)
        across = self._across(places)
        if across is None:
            drawn = self.model.simulate(places, realisations=realisations, rng=rng)
            return np.asarray(10.0**drawn)
        both = np.vstack([places, across.places])
        drawn = self.model.simulate(both, realisations=realisations, rng=rng)
        drawn, there = drawn[:, : len(places)], drawn[:, len(places) :]
        # In each realisation all contacts lie too high or too low by like shares of their sd.
        lifted = rng.normal(size=(realisations, 1))
        flips = np.where(across.apart < 0.0, lifted < across.apart, lifted > across.apart)
        drawn[:, across.rows] = np.where(flips, there, drawn[:, across.rows])
        return np.asarray(10.0**drawn)


FIELD_TABLES = (
    *("model", "interval_conductivity", "concentration", "criterion"),
    *("borehole", "survey", "interval", "hydro_unit"),
)


@made_of(*FIELD_TABLES, most=4)
def fields_of(site: Site) -> tuple[Field, ...]:
    """Every fitted field of the site, K first, then the analytes by name and round."""
    return tuple(_restore(site, row) for row in records_of(site.table("model")))


def field_of(site: Site, quantity: str, round_name: str | None = None) -> Field:
    """One fitted field by quantity; the latest round unless another is named.

    Parameters
    ----------
    site : Site
        Table field.
    quantity : str
        "K" or an analyte.
    round_name : str, optional
        Sampling round.

    Returns
    -------
    Field
        The fitted field.

    Raises
    ------
    DataError
        No such field, with the ones there are.
    """
    fitted = fields_of(site)
    same = [
        f
        for f in fitted
        if f.quantity == quantity and (round_name is None or is_round(f.round, round_name))
    ]
    if same:
        return max(same, key=lambda f: _round_time(site, f))
    names = ", ".join(sorted({f.quantity for f in fitted})) or "none yet"
    raise DataError(
        "fields",
        f"'{quantity}'" + (f" in round '{round_name}'" if round_name else ""),
        f"one of {names}",
        "Check the name, or run `geoprofile interpolate` first.",
    )


def field_of_k(site: Site) -> Field | None:
    """The fitted field of K alone, whatever became of the others.

    Raises
    ------
    DataError
        It was fitted to other data than those of the site.
    """
    rows = [row for row in records_of(site.table("model")) if row["quantity"] == "K"]
    return _restore(site, rows[0]) if rows else None


def _round_time(site: Site, field: Field) -> str:
    table = site.table("concentration")
    same = table[(table["analyte"] == field.quantity) & (table["round"] == field.round)]
    return str(same["sampled_at"].max()) if len(same) else ""


def _restore(site: Site, row: Mapping[str, Any]) -> Field:
    evidence = evidence_of(site, row["quantity"], row["round"])
    surfaces = unit_surfaces(site) if row.get("geology") == "units" else None
    if surfaces is not None:
        evidence = evidence.within(surfaces)
    model = _read_back(str(row["model"]), evidence.data)
    criterion = criteria_ug_per_l(site).get(evidence.quantity)
    return Field(evidence, model, criterion, row.get("shown_as") == "limits")


def lasting_name(field: Any) -> str | None:
    """What later runs know the model of a field by: a digest of all that it says rests on.

    Parameters
    ----------
    field : Field
        Or anything that is mapped as one.

    Returns
    -------
    str or None
        None for a model that is not known later.
    """
    kept: kriging.Kept | None = getattr(getattr(field, "model", None), "kept", None)
    return None if kept is None else kept.lasting_name


ANSWERS = of_arrays("answers", "kriging")


def _earlier(key: Hashable) -> tuple[Array, ...] | None:
    """Columns of one question about many places, where an earlier run has answered it."""
    found = recalled((key,), ANSWERS)
    return None if found is None else tuple(found)


def _later(key: Hashable, columns: tuple[Array, ...]) -> None:
    """Keep them for later runs."""
    keep((key,), ANSWERS, columns)


# By text and data: a site that gained a table is another site with the same models.
_READ: OrderedDict[tuple[str, str], kriging.Model] = OrderedDict()
MOST_READ = 8


def _read_back(text: str, data: kriging.Data) -> kriging.Model:
    """A stored model, read once, that remembers what it said of places."""
    key = hashlib.sha256(text.encode()).hexdigest(), kriging.fingerprint(data)
    model = _READ.pop(key, None)
    if model is None:
        name = "".join(key)
        # contacts of strata are in the fingerprint to a millimetre only: not for later runs
        lasting = data.strata is None
        kept = kriging.Kept(name, earlier=_earlier, later=_later) if lasting else kriging.Kept(name)
        model = replace(kriging.from_json(text, data), kept=kept)
    _READ[key] = model
    while len(_READ) > MOST_READ:
        _READ.popitem(last=False)
    return model
