"""The packer plan of a borehole: zones, elements, pipes, pressures, tests, purging and times."""

LAYERS: tuple[str, ...] = ()
