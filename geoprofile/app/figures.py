"""The figures of a site: what a run leaves, and what single commands draw."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from geoprofile.app.attempts import Common, Job, draw_each
from geoprofile.app.outcome import Drawn
from geoprofile.drawing.document import document_of
from geoprofile.drawing.people import shown_in, shown_of
from geoprofile.errors import DataError
from geoprofile.plugins import Progress, no_progress
from geoprofile.plugins.registry import asked_of_all
from geoprofile.schema.soil_gas import SOIL_GAS
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site

K = "K"
MOST_PROFILES = 12  # left by a run that can map nothing
MOST_GASES = 3


def plain_name(text: str) -> str:
    """A name that every file system takes."""
    kept = "".join(c if c.isascii() and c.isalnum() else "_" for c in text.strip().lower())
    return kept[:60] or "unnamed"


def main_quantity(site: Site) -> str | None:
    """The quantity that the figures of a run show: the first analyte with a criterion, else K."""
    from geoprofile.products.concentration.inputs import criteria_ug_per_l

    fitted = list(dict.fromkeys(site.table("model")["quantity"]))
    judged = set(criteria_ug_per_l(site))
    return next((q for q in fitted if q in judged), fitted[0] if fitted else None)


def draw_run(site: Site, folder: Path, progress: Progress = no_progress) -> Drawn:
    """Draw what a run leaves in its output folder: the map, each section, K in the first one.

    One or two boreholes make no map: then it is a profile of K and one of concentrations for each,
    as where nothing can be mapped. Soil gas has a map of each substance of its own.

    Parameters
    ----------
    site : Site
        With its derived tables.
    folder : Path
        Made if it is not there.
    progress : Progress
        Told after every figure.

    Returns
    -------
    Drawn
        Files written, and what could not be drawn.
    """
    return draw_each(site, _run_jobs(site, folder), folder, progress, draw_numbered)


def draw_numbered(common: Common, number: int) -> tuple[Path, ...]:
    """Draw one of the figures that a run leaves, as a worker does.

    Parameters
    ----------
    common : tuple of Site, Path and Path or None
        The site with its derived tables, the folder, and where sheets drawn ahead lie.
    number : int [-]
        Of the figure, in their order.

    Returns
    -------
    tuple of Path
        Files written.
    """
    from geoprofile.drawing.redrawn import drawn_ahead

    site, folder, ahead = common
    _, draw = _run_jobs(site, folder)[number]
    with shown_in(shown_of(site)), drawn_ahead(ahead):
        return tuple(draw())


def _run_jobs(site: Site, folder: Path) -> list[Job]:
    """The figures that a run leaves."""
    from geoprofile.report.next_tables import too_few_for_a_map

    main = main_quantity(site)
    few = _profile_jobs(site, folder) if too_few_for_a_map(site) else []
    jobs = few or [_map_job(site, main, folder)]
    jobs += (gas := _gas_jobs(site, folder, first_only=True))
    if main is None and not few and not gas:
        jobs += _profile_jobs(site, folder)[:MOST_PROFILES]
    jobs += _section_jobs(site, main, folder)
    jobs += _offered_jobs(site, folder)
    return jobs


def large_sheets(site: Site, folder: Path) -> list[Job]:
    """The map and the sections among the figures that a run leaves.

    Parameters
    ----------
    site : Site
        With its derived tables.
    folder : Path
        Of the figures.

    Returns
    -------
    list of Job
        In their order.
    """
    from geoprofile.report.next_tables import too_few_for_a_map

    main = main_quantity(site)
    few = too_few_for_a_map(site) and bool(_profile_jobs(site, folder))
    maps = [] if few else [_map_job(site, main, folder)]
    return maps + _section_jobs(site, main, folder)


def _map_job(site: Site, main: str | None, folder: Path) -> Job:
    """The map of the main quantity, of K, or of the site alone."""
    maps = set(site.table("map_band")["quantity"])
    mapped = next((q for q in (main, K) if q in maps), None)

    def draw() -> tuple[Path, ...]:
        from geoprofile.products import figures

        return figures.site_map(site, folder / "map", mapped)

    return (f"the map of {mapped}" if mapped else "the map"), draw


def _section_jobs(site: Site, main: str | None, folder: Path) -> list[Job]:
    """The main quantity in every section, K and what was only measured in the first one."""
    names = [str(n) for n in site.table("section_trace")["section"]]
    pairs = [(name, main) for name in names if main is not None]
    pairs += _gas_sections(site)
    if names and main != K and K in set(site.table("model")["quantity"]):
        pairs.append((names[0], K))
    pairs += [(names[0], q) for q in _measured_only(site, main)[:1] if names]
    return [_section_job(site, name, quantity, folder) for name, quantity in pairs]


def _measured_only(site: Site, main: str | None) -> list[str]:
    """Substances with a criterion where none has a model: a section shows results and limits."""
    from geoprofile.products.concentration.inputs import criteria_ug_per_l

    found = site.table("concentration")
    sampled = set(found.loc[found["medium"] != SOIL_GAS, "analyte"])
    judged = [q for q in criteria_ug_per_l(site) if q in sampled]
    return [] if main in judged else judged


def _gas_jobs(site: Site, folder: Path, *, first_only: bool) -> list[Job]:
    """Maps of soil gas: all, or the first of a few substances."""
    answers = [answer for _, answer in asked_of_all("gas figures", site)]
    failed = [failing("maps of soil gas", a) for a in answers if isinstance(a, Exception)]
    found = [job for a in answers if not isinstance(a, Exception) for job in a]
    if first_only:
        first = {job[0]: job for job in reversed(found)}
        kept = list(dict.fromkeys(job[0] for job in found))[:MOST_GASES]
        found = [first[quantity] for quantity in kept]
    jobs = [drawing(what, folder / plain_name(stem), draw) for _, what, stem, draw in found]
    return jobs + failed


def _gas_sections(site: Site) -> list[tuple[str, str]]:
    """Section lines with the substance of soil gas that comes first on the maps, where drawn."""
    first = next((answer for _, answer in asked_of_all("gas figures", site)), None)
    if first is None or isinstance(first, Exception) or not first:
        return []
    drawn = site.table("section_band")
    names = drawn.loc[drawn["quantity"] == first[0][0], "section"]
    return [(str(name), str(first[0][0])) for name in dict.fromkeys(names)]


def _offered_jobs(site: Site, folder: Path) -> list[Job]:
    """The figures that products draw of a run."""
    jobs: list[Job] = []
    for name, answer in asked_of_all("figures", site, folder):
        if isinstance(answer, Exception):
            jobs.append(failing(f"the figures of {name}", answer))
        else:
            jobs += answer
    return jobs


def failing(what: str, error: Exception) -> Job:
    """The figure of a product that could not even say what it draws: told as one not drawn."""

    def draw() -> tuple[Path, ...]:
        raise error

    return what, draw


def drawing(what: str, path: Path, draw: Any) -> Job:
    """A figure that a product draws to a stem."""
    return what, lambda: draw(path)


def _profile_jobs(site: Site, folder: Path) -> list[Job]:
    """A profile of what was found along each hole."""
    from geoprofile.products import figures

    def job(hole: str, what: str, draw: Any) -> Job:
        stem = folder / f"{plain_name(what)}_profile_{plain_name(hole)}"
        return f"the {what} profile of {hole}", lambda: draw(site, hole, stem)

    kinds = (
        ("K", figures.k_profile, site.conductivity),
        ("chemistry", figures.chemistry_profile, site.concentration),
    )
    return [
        job(str(hole), what, draw)
        for hole in site.boreholes["borehole"]
        for what, draw, found in kinds
        if (found["borehole"] == hole).any()
    ]


def draw_sections(
    site: Site,
    folder: Path,
    *,
    boreholes: Sequence[str] = (),
    quantities: Sequence[str] = (),
    along_flow: bool = False,
    progress: Progress = no_progress,
) -> Drawn:
    """Draw sections along the section lines, through boreholes, or along the flow.

    Parameters
    ----------
    site : Site
        With its derived tables.
    folder : Path
        Made if it is not there.
    boreholes : Sequence of str
        Draw one section through them, in that order, instead of along the lines.
    quantities : Sequence of str
        What to show; every fitted quantity when left out.
    along_flow : bool
        Draw one section along the flow instead.
    progress : Progress
        Told after every figure.

    Returns
    -------
    Drawn
        Files written, and what could not be drawn.
    """
    from geoprofile.engine import settings_used
    from geoprofile.products import figures
    from geoprofile.products.section import lines as section_lines
    from geoprofile.products.section import sections

    fitted = list(dict.fromkeys(str(q) for q in site.table("model")["quantity"]))
    _check_known(quantities, site)
    shown = list(quantities) or fitted
    if not boreholes and not along_flow:
        names = section_lines.line_names(site)
        pairs = [(name, q) for name in names for q in shown]
        pairs += [] if quantities else _every_gas_section(site)
        jobs = [_section_job(site, name, q, folder) for name, q in pairs]
        return draw_each(site, jobs, folder, progress)
    plane = section_lines.along_flow(site) if along_flow else section_lines.through(site, boreholes)
    title = "along flow" if along_flow else " - ".join(boreholes)
    width = float(settings_used(site, "section")["band_width_m"])
    section = sections.along(site, title, plane, band_width_m=width)
    jobs = [_free_job(figures, site, section, q, folder / _stem(title, q)) for q in shown]
    return draw_each(site, jobs, folder, progress)


def draw_tests(site: Site, folder: Path, progress: Progress = no_progress) -> Drawn:
    """Draw every test with its fits, and a K profile of every borehole.

    Parameters
    ----------
    site : Site
        With tests and readings.
    folder : Path
        Made if it is not there.
    progress : Progress
        Told after every figure.

    Returns
    -------
    Drawn
        Files written, and what could not be drawn.
    """
    from geoprofile import hydraulics
    from geoprofile.plugins.registry import plugins
    from geoprofile.products import figures
    from geoprofile.products.conductivity.inputs import hydraulic_tests

    methods = tuple(plugins("methods").values())
    signed = document_of(site)
    days = {str(r["test"]): str(r["started_at"] or "")[:10] for r in records_of(site.tests)}

    def test_job(name: str, test: Any) -> Job:
        stem = folder / f"test_{plain_name(name)}"
        return f"test {name}", lambda: figures.response_figure(
            test,
            hydraulics.analyse(test, methods),
            stem,
            formats=("png",),
            made_on=days.get(name, ""),
            document=signed,
        )

    def profile_job(hole: str) -> Job:
        stem = folder / f"k_profile_{plain_name(hole)}"
        return f"the K profile of {hole}", lambda: figures.k_profile(site, hole, stem)

    jobs = [test_job(n, t) for n, t in hydraulic_tests(site) if not isinstance(t, DataError)]
    jobs += [profile_job(str(hole)) for hole in dict.fromkeys(site.conductivity["borehole"])]
    return draw_each(site, jobs, folder, progress)


def draw_map(site: Site, folder: Path, progress: Progress = no_progress) -> Drawn:
    """Draw a map of every mapped quantity, one of each depth and unit, and one of the boreholes.

    Parameters
    ----------
    site : Site
        With its derived tables.
    folder : Path
        Made if it is not there.
    progress : Progress
        Told after every figure.

    Returns
    -------
    Drawn
        Files written, and what could not be drawn.
    """
    from geoprofile.products import figures

    def job(quantity: str, where: str = "", **place: Any) -> Job:
        stem = folder / f"map_{plain_name(f'{quantity} {where}')}"
        what = f"the map of {quantity}" + (f" at {where}" if where else "")
        return what, lambda: figures.site_map(site, stem, quantity, **place)

    bands = site.table("map_band")[["quantity", "depth_m", "hydro_unit"]].drop_duplicates()
    jobs = [job(q) for q in dict.fromkeys(bands["quantity"])]
    jobs.append(
        ("the map of the boreholes", lambda: figures.site_map(site, folder / "map_boreholes"))
    )
    for row in records_of(bands):
        depth, unit = row["depth_m"], row["hydro_unit"]
        if depth is not None:
            jobs.append(job(row["quantity"], f"depth {depth:g} m", depth_m=depth))
        elif unit is not None:
            jobs.append(job(row["quantity"], f"unit {unit}", hydro_unit=unit))
    jobs += _gas_jobs(site, folder, first_only=False)
    return draw_each(site, jobs, folder, progress)


def draw_advice(site: Site, folder: Path, progress: Progress = no_progress) -> Drawn:
    """Draw the proposed tests and boreholes with their reasons.

    Parameters
    ----------
    site : Site
        Tables next_test and next_borehole.
    folder : Path
        Made if it is not there.
    progress : Progress
        Told when done.

    Returns
    -------
    Drawn
        Files written, and what could not be drawn.
    """
    from geoprofile.products.advice.figure import advice_figure

    jobs: list[Job] = [("the advice", lambda: advice_figure(site, folder / "advice"))]
    return draw_each(site, jobs, folder, progress)


def _every_gas_section(site: Site) -> list[tuple[str, str]]:
    """Section lines and the substances of soil gas that are drawn in them."""
    from geoprofile.schema.soil_gas import IN_GAS

    drawn = site.table("section_band")[["section", "quantity"]].astype(str).drop_duplicates()
    rows = drawn[drawn["quantity"].str.endswith(IN_GAS)]
    return [(str(name), str(quantity)) for name, quantity in rows.to_numpy()]


def _check_known(quantities: Sequence[str], site: Site) -> None:
    """Refuse a quantity of which the site has no value: a slip, not a figure that failed."""
    from geoprofile.schema.soil_gas import IN_GAS

    known = [K, *dict.fromkeys(str(a) for a in site.table("concentration")["analyte"])]
    known += [f"{a}{IN_GAS}" for a in dict.fromkeys(site.table("soil_gas")["analyte"])]
    for name in quantities:
        if name not in known:
            raise DataError(
                "--quantity", f"'{name}'", f"one of {', '.join(known)}", "Correct its spelling."
            )


def _stem(name: str, quantity: str) -> str:
    return f"section_{plain_name(name)}_{plain_name(quantity)}"


def _section_job(site: Site, name: str, quantity: str, folder: Path) -> Job:
    from geoprofile.products import figures

    stem = folder / _stem(name, quantity)
    return (
        f"section {name} with {quantity}",
        lambda: figures.section_figure(site, name, quantity, stem),
    )


def _free_job(figures: Any, site: Site, section: Any, quantity: str, stem: Path) -> Job:
    return (
        f"section {section.name} with {quantity}",
        lambda: tuple(figures.free_section_figure(site, section, quantity, stem)),
    )
