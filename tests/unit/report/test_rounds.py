"""Results round by round in the report: table, figure, and what is said of one round."""

from __future__ import annotations

import re

from geoprofile.report.content import Content
from geoprofile.report.rounds import rounds


def test_every_change_is_told_with_its_verdict(report_site):
    """Values before and after, their factor, and the scatter of duplicates as a factor."""
    text = rounds(Content(report_site))
    assert text.count("<bdi>fall</bdi>") == 8
    assert "within scatter" in text
    assert "&lt; 0.5" in text
    row = next(r for r in text.split("<tr") if "<bdi>fall</bdi>" in r)
    assert re.findall(r"<bdi>([\d.]+)</bdi>", row) == ["40", "4", "0.1", "1.4"]


def test_the_figure_has_a_line_for_each_interval_that_was_found(report_site):
    """Never detected twice: in the table, not in the figure."""
    text = rounds(Content(report_site))
    figure = text[text.index("<svg") : text.index("</svg>")]
    assert figure.count("<title>") == 16
    assert figure.count("fall from R1 to R2") == 8


def test_one_round_is_said(report_site):
    """No table of nothing."""
    nothing = report_site.table("round_change").iloc[:0]
    empty = report_site.with_tables({"round_change": nothing})
    assert "No interval was sampled twice yet" in rounds(Content(empty))
