"""A bar for each borehole."""

from geoprofile.drawing.theme import save, sheet


def figures(site, folder):
    """One figure of a run, where there are rows."""
    rows = site.table("untested_length")
    if rows.empty:
        return ()

    def draw():
        with sheet((6.0, 3.0)) as figure:
            axes = figure.subplots()
            axes.barh(list(rows["borehole"]), list(rows["untested_m"].astype(float)))
            axes.set_xlabel("untested length [m]")
            return save(figure, folder / "untested_length", ("png",))

    return (("the untested lengths", draw),)
