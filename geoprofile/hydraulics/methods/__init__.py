"""Ways to turn one hydraulic test into K; every file here offers one as `PLUGIN`."""
