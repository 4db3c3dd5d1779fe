"""What a portfolio says of each site: one row, and its next tests."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING, Any

from geoprofile.schema import Column, Table
from geoprofile.schema.finding import SEVERITIES
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site

KINDS = ("concentration", "K")
MIDDLE = 0.5  # [-] the extent that is told: more likely than not above the criterion
SITES = Table(
    "portfolio_site",
    "Sites of the portfolio",
    "One point per site, the most urgent first; interpolated from few boreholes",
    "derived",
    (
        Column("site", "text", "", "Name within the portfolio", required=True, key=True),
        Column("urgency", "integer", "1", "Place by urgency; 1 is looked at first"),
        Column("state", "text", "", "finished, failed or not computed"),
        Column("reason", "text", "", "Why it could not be computed"),
        Column("title", "text", "", "Name that the site gives itself"),
        Column("worst_finding", "text", "", "The gravest finding"),
        Column("worst_severity", "text", "", "serious, warning or note"),
        Column("analyte", "text", "", "Analyte of the largest volume above its criterion"),
        Column("volume_m3", "real", "m3", "Its volume more likely than not above the criterion"),
        Column("area_m2", "real", "m2", "Its area more likely than not above the criterion"),
        Column("discharge_g_per_day", "real", "g/d", "Largest discharge through a section"),
        Column("discharge_analyte", "text", "", "Analyte and section of that discharge"),
        Column("next_test", "text", "", "Best next test"),
        Column("gain", "real", "", "Uncertain volume that it is expected to settle, in gain_unit"),
        Column("gain_unit", "text", "", "Unit of gain"),
        Column("last_round", "text", "", "Latest sampling round"),
        Column("sampled_at", "text", "", "Latest sample"),
        Column("report", "text", "", "Path of the site's file or report from the portfolio's"),
    ),
    "Point",
)
TESTS = Table(
    "portfolio_test",
    "Next tests of all sites",
    "Ranked over all sites by the uncertain volume that each settles for its cost, as each site "
    "prices a test; ways to the sites are not priced",
    "derived",
    (
        Column("rank", "integer", "1", "Over all sites, within one kind", key=True),
        Column("kind", "text", "", "concentration or K: their volumes are not compared", key=True),
        Column("site", "text", "", "Name within the portfolio", required=True),
        Column("borehole", "text", "", "Borehole"),
        Column("top_m", "real", "m", "Top along the hole"),
        Column("bottom_m", "real", "m", "Bottom along the hole"),
        Column("quantity", "text", "", "K or an analyte"),
        Column("gain", "real", "", "Uncertain volume expected to be settled, in gain_unit"),
        Column("gain_unit", "text", "", "Unit of gain"),
        Column("cost", "real", "1", "Cost of the test in the prices of its site"),
        Column("gain_per_cost", "real", "", "What the test is ranked by, in gain_unit per cost"),
        Column("in_budget", "boolean", "", "Whether the budget pays for it; empty without one"),
        Column("total_cost", "real", "1", "Cost up to this test, of those the budget pays for"),
        Column("reason", "text", "", "Why there"),
    ),
)


# what only a comparison of all sites can say
RANKED = ("rank", "kind", "site", "gain_per_cost", "in_budget", "total_cost")


@dataclass
class Facts:
    """A row of `SITES`, with the site's place in degrees and its next tests."""

    site: str
    state: str = "not computed"
    reason: str | None = None
    title: str | None = None
    worst_finding: str | None = None
    worst_severity: str | None = None
    analyte: str | None = None
    volume_m3: float | None = None
    area_m2: float | None = None
    discharge_g_per_day: float | None = None
    discharge_analyte: str | None = None
    next_test: str | None = None
    gain: float | None = None
    gain_unit: str | None = None
    last_round: str | None = None
    sampled_at: str | None = None
    report: str | None = None
    longitude_deg: float | None = None
    latitude_deg: float | None = None
    tests: tuple[dict[str, Any], ...] = ()

    def row(self) -> dict[str, Any]:
        """All but the tests, as plain values."""
        return {f.name: getattr(self, f.name) for f in fields(self) if f.name != "tests"}

    def kept(self) -> dict[str, Any]:
        """As it is written down between runs."""
        return asdict(self)


def failed(name: str, reason: str) -> Facts:
    """A site that could not be computed or read, with the reason."""
    return Facts(name, "failed", " ".join(reason.split()) or "stopped without a word")


def place_of(site: Site) -> tuple[float | None, float | None]:
    """Longitude and latitude [degrees] of the middle of the boreholes."""
    from pyproj import Transformer

    holes = site.boreholes
    if holes.empty:
        return None, None
    to_degrees = Transformer.from_crs(site.crs, "EPSG:4326", always_xy=True)
    x, y = to_degrees.transform(float(holes["x"].mean()), float(holes["y"].mean()))
    return float(x), float(y)


def facts_of(name: str, site: Site, report: str) -> Facts:
    """What a finished site says."""
    found = Facts(name, "finished", title=site.name, report=report)
    found.longitude_deg, found.latitude_deg = place_of(site)
    told = sorted(records_of(site.table("finding")), key=lambda r: SEVERITIES.index(r["severity"]))
    if told:
        found.worst_finding, found.worst_severity = told[0]["what"], told[0]["severity"]
    whole = [
        row
        for row in records_of(site.table("plume_extent"))
        if row["surface"] == "any depth" and row["probability"] == MIDDLE
    ]
    if whole:
        worst = max(whole, key=lambda row: row["volume_m3"] or 0.0)
        found.analyte, found.volume_m3 = worst["analyte"], worst["volume_m3"]
        found.area_m2 = worst["area_m2"]
    flows = [r for r in records_of(site.table("discharge")) if r["discharge_g_per_day"] is not None]
    if flows:
        most = max(flows, key=lambda row: float(row["discharge_g_per_day"]))
        found.discharge_g_per_day = most["discharge_g_per_day"]
        found.discharge_analyte = f"{most['analyte']} through {most['section']}"
    _advice(found, site)
    rounds = [r for r in records_of(site.concentration) if r["sampled_at"] is not None]
    if rounds:
        last = max(rounds, key=lambda row: str(row["sampled_at"]))
        found.last_round, found.sampled_at = str(last["round"]), str(last["sampled_at"])
    return found


def _advice(found: Facts, site: Site) -> None:
    """The best next test, and all of them."""
    columns = [c.name for c in TESTS.columns if c.name not in RANKED]
    rows = sorted(records_of(site.table("next_test")), key=lambda row: int(row["rank"]))
    found.tests = tuple({name: row[name] for name in columns} for row in rows)
    if rows:
        best = rows[0]
        found.next_test = f"{best['borehole']}, {best['top_m']:.1f} to {best['bottom_m']:.1f} m"
        found.gain, found.gain_unit = best["gain"], best["gain_unit"]


def ranked(
    found: Iterable[Facts], budget: float | None = None
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Sites by urgency, and the next tests of all sites by what they bring.

    Parameters
    ----------
    found : iterable of Facts
        Of all sites.
    budget : float, optional [-]
        For tests at all sites, in the prices of the sites; no limit when left out.

    Returns
    -------
    tuple of list of dict
        Rows of `SITES`, each with its place in degrees, and rows of `TESTS`.

    Notes
    -----
    A site that could not be computed comes first, as nobody knows what it hides; then serious
    findings; then the largest discharge, and the largest volume. Common practice, no source: the
    order is a reading list, not a judgement of risk.
    """
    sites = sorted(found, key=_urgency)
    rows = [{**one.row(), "urgency": place} for place, one in enumerate(sites, start=1)]
    tests = [{**test, "site": one.site} for one in sites for test in one.tests]
    return rows, _ranked_tests(tests, budget)


def _urgency(one: Facts) -> tuple[Any, ...]:
    return (
        one.state == "finished",
        one.worst_severity != SEVERITIES[0],
        -(one.discharge_g_per_day or 0.0),
        -(one.volume_m3 or 0.0),
        one.site,
    )


def _ranked_tests(tests: Sequence[dict[str, Any]], budget: float | None) -> list[dict[str, Any]]:
    """Ranks within plumes and within K: volumes of the two are not compared.

    A budget is spent on plumes first, since people may meet them; what does not fit is passed over.
    """
    rows: list[dict[str, Any]] = []
    total = 0.0
    for kind in KINDS:
        same = [test for test in tests if (test["quantity"] == "K") == (kind == "K")]
        same = [{**test, "kind": kind, "gain_per_cost": _gain_per_cost(test)} for test in same]
        same.sort(key=lambda test: -test["gain_per_cost"])
        for rank, test in enumerate(same, start=1):
            cost = float(test["cost"] or 0.0)
            pays = budget is None or total + cost <= budget
            total += cost if pays else 0.0
            spent = {"in_budget": None if budget is None else pays, "total_cost": total}
            rows.append({**test, "rank": rank, **(spent if pays else spent | {"total_cost": None})})
    return rows


def _gain_per_cost(test: dict[str, Any]) -> float:
    """Uncertain volume settled by one unit of cost; the volume itself where nothing is priced."""
    return float(test["gain"] or 0.0) / (float(test["cost"] or 0.0) or 1.0)
