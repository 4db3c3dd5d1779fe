"""The value of each interval for a quantity, ready to be drawn and read aloud."""

from __future__ import annotations

from dataclasses import dataclass

from geoprofile.drawing.symbols import units_in
from geoprofile.report.content import Content, K, Row
from geoprofile.report.markup import spoken
from geoprofile.report.svg import Colours, colours_of
from geoprofile.schema.soil_gas import GAS_UNIT, IN_GAS, PER_UG_PER_L, SOIL_GAS

UNITS = {K: "m/s"}


@dataclass(frozen=True)
class Value:
    """A measured value with its ends [unit of the quantity]; a non-detect has a limit instead."""

    interval: str
    hole: int | None
    top_m: float | None
    bottom_m: float | None
    value: float | None
    low: float | None
    high: float | None
    limit: float | None
    unit: str
    rejected: bool = False

    @property
    def words(self) -> str:
        """The value in a few words."""
        if self.rejected:
            return "test rejected"
        if self.value is None:
            return (
                "no value"
                if self.limit is None
                else f"below {spoken(self.limit, self.unit)} {units_in(self.unit)}"
            )
        text = f"{spoken(self.value, self.unit)} {units_in(self.unit)}"
        if self.low is None or self.high is None:
            return text
        return f"{text} ({spoken(self.low, self.unit)} to {spoken(self.high, self.unit)})"


def values_of(content: Content, quantity: str) -> dict[str, Value]:
    """Values by interval; of a substance those of its latest round."""
    if quantity == K:
        return {str(r["interval"]): _k(content, r) for r in content.rows("interval_conductivity")}
    gas, analyte = quantity.endswith(IN_GAS), quantity.removesuffix(IN_GAS)
    return {
        str(r["interval"]): _substance(content, r, unit_of(quantity))
        for r in content.latest
        if r["analyte"] == analyte and (r["medium"] == SOIL_GAS) == gas
    }


def scale_of(content: Content, quantity: str) -> Colours:
    """The classes round the values of a quantity."""
    values = values_of(content, quantity).values()
    return colours_of(
        quantity,
        [v.value for v in values],
        [v.limit for v in values],
    )


def unit_of(quantity: str) -> str:
    """Unit of a quantity's values."""
    return GAS_UNIT if quantity.endswith(IN_GAS) else UNITS.get(quantity, "ug/L")


def _k(content: Content, row: Row) -> Value:
    rejected = row["grade"] == "rejected"
    return Value(
        str(row["interval"]),
        content.hole(row),
        row["top_m"],
        row["bottom_m"],
        None if rejected else row["k_m_per_s"],
        row["k_low_m_per_s"],
        row["k_high_m_per_s"],
        None,
        UNITS[K],
        rejected,
    )


def _substance(content: Content, row: Row, unit: str) -> Value:
    value, limit = row["value_ug_per_l"], row["limit_ug_per_l"]
    if unit == GAS_UNIT:
        value, limit = (None if v is None else PER_UG_PER_L * v for v in (value, limit))
    return Value(
        str(row["interval"]),
        content.hole(row),
        row["top_m"],
        row["bottom_m"],
        value,
        None,
        None,
        limit,
        unit,
    )
