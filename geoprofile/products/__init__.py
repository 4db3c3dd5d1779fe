"""Family: one file per derived layer. Each file defines `PLUGIN`, a `geoprofile.plugins.Layer`."""
