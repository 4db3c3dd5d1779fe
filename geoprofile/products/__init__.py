"""The products: one folder each, with its layers, tables, words and figures."""

# in which a reader meets them: in lists of tables, the legend of the GIS and the words of a run;
# a product that is not named comes after these
ORDER: tuple[str, ...] = (
    "boreholes",
    "units",
    "conductivity",
    "concentration",
    "heads",
    "model",
    "maps",
    "plume",
    "rounds",
    "soil_gas",
    "section",
    "discharge",
    "advice",
)
