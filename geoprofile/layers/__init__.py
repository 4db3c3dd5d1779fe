"""Family: one file per derived layer. Each file defines `PLUG`, a `geoprofile.plugs.Layer`."""
