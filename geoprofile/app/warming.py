"""What a worker does before its first piece: import, and compile or load the loops."""

from __future__ import annotations

import importlib

MODULES = (
    "geoprofile.hydraulics",
    "geoprofile.products.figures",
    "geoprofile.remembered",
    "scipy.optimize",
    "scipy.ndimage",
    "contourpy",
)


def warm() -> None:
    """Have at hand what the pieces of a run need; nothing is kept of what is computed here."""
    get_ready()
    _fit_a_little()


def get_ready() -> None:
    """Import, and no more: after an earlier run the loops are there, and loaded when needed."""
    from geoprofile.plugins.registry import plugins

    for name in MODULES:
        importlib.import_module(name)
    plugins("layers")


def _fit_a_little() -> None:
    """A field of a few values, fitted and asked: most loops are those of fields."""
    import numpy as np

    from geoprofile import kriging
    from geoprofile.threads import one_thread_each

    rng = np.random.default_rng(1)
    holes = np.repeat(rng.uniform(0.0, 60.0, (5, 2)), 4, axis=0)
    tops = np.tile(np.arange(4) * -3.0, 5)
    lines = np.array(
        [[[*spot, top], [*spot, top - 2.0]] for spot, top in zip(holes, tops, strict=True)]
    )
    value = 1.0 - np.abs(holes[:, 0] - 30.0) / 20.0 + 0.1 * rng.normal(size=len(lines))
    limit = float(np.quantile(value, 0.3))
    data = kriging.Data(
        support=kriging.Support.from_lines(list(lines)),
        value=np.where(value > limit, value, np.nan),
        variance=np.full(len(lines), 0.01),
        upper=np.where(value > limit, np.nan, limit),
        group=np.repeat(np.arange(5), 4),
    )
    places = lines.mean(1) + 1.0
    with one_thread_each():
        model = kriging.fit(data, mean="plume", rng=rng)
        model.predict(places)
        model.exceedance(places, 0.5)
        model.simulate(places, realisations=4, rng=rng)
