"""Settings given on the command line, and how long they hold."""

from __future__ import annotations

from geoprofile.engine.given import GIVEN, kept_in_words, kept_overrides, with_given

MADE = {"model": {"rounds": "all", "seed": 1, GIVEN: {"rounds": "all"}}, "flow": {"days": 30}}
KNOWN = {"model": ("rounds", "seed"), "flow": ("days",)}


def test_a_command_that_builds_on_a_layer_keeps_what_that_was_given() -> None:
    """`map` after `interpolate --set model.rounds=all`."""
    assert kept_overrides(MADE, KNOWN, ["map_band"], {}) == {"model.rounds": "all"}


def test_the_own_command_and_a_whole_run_go_back_to_the_settings_of_the_site() -> None:
    """`interpolate` and `run` without it."""
    assert kept_overrides(MADE, KNOWN, ["model"], {}) == {}
    assert kept_overrides(MADE, KNOWN, None, {"flow.days": "7"}) == {"flow.days": "7"}


def test_what_a_command_is_given_counts_more_and_for_itself_alone() -> None:
    """`map --set model.rounds=latest` is not kept; the setting of another layer still is."""
    asked = {"model.rounds": "latest"}
    kept = kept_overrides(MADE, KNOWN, ["map_band"], asked)
    assert kept == asked
    stored = with_given({"model": {"rounds": "latest"}}, ["model"], ["map_band"], asked, kept)
    assert stored == {"model": {"rounds": "latest"}}


def test_what_is_kept_is_stored_again_with_the_layer() -> None:
    """Data changed: `map` computes the model again, still for all rounds."""
    kept = kept_overrides(MADE, KNOWN, ["map_band"], {})
    stored = with_given({"model": {"rounds": "all"}}, ["model"], ["map_band"], {}, kept)
    assert stored["model"][GIVEN] == {"rounds": "all"}
    own = with_given(
        {"model": {"rounds": "all"}}, ["model"], ["model"], {"model.rounds": "all"}, {}
    )
    assert own == stored


def test_what_a_whole_run_is_given_holds_for_commands_after_it() -> None:
    """Until the next run, or the own command."""
    asked = {"model.rounds": "all"}
    stored = with_given({"model": {"rounds": "all"}}, ["model"], None, asked, asked)
    assert kept_overrides(stored, KNOWN, ["map_band"], {}) == asked
    assert kept_overrides(stored, KNOWN, None, {}) == {}


def test_a_setting_that_a_layer_has_no_more_holds_up_no_command() -> None:
    """Stored by an earlier version, or by a product that is no longer installed."""
    assert kept_overrides(MADE, {"model": ("seed",)}, ["map_band"], {}) == {}
    assert kept_overrides(MADE, {}, ["map_band"], {}) == {}


def test_the_reader_is_told_what_is_kept_and_how_to_end_it() -> None:
    """Nothing is said where nothing is kept."""
    assert kept_in_words({"model.rounds": "all"}, {"model.rounds": "all"}) == ()
    (words,) = kept_in_words({"model.rounds": "all"}, {})
    assert "--set model.rounds=all" in words
    assert "run" in words
