"""Drawing: theme, legend, sheets and number format that all figures share."""
