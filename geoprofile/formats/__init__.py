"""Family: one file per export format. Each file defines `PLUGIN`, a `geoprofile.plugins.Format`."""
