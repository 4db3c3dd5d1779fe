"""The parts of `make_demo.py`: an invented site with a known truth, independent of geoprofile."""
