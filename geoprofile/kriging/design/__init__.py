"""Which further tests reduce uncertainty most."""
