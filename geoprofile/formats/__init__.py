"""Family: one file per export format. Each file defines `PLUG`, a `geoprofile.plugs.Format`."""
