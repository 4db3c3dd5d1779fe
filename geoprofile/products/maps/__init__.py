"""Maps of K, concentrations and transmissivity."""

LAYERS: tuple[str, ...] = ("map_band", "sampling_quality", "transmissivity_band")
