"""The report page: whole, safe, linked, and small enough."""

import re
from html.parser import HTMLParser

import pytest
import shapely

from geoprofile.drawing.symbols import units_in
from geoprofile.engine.rows import frame
from geoprofile.report import page, write_report
from geoprofile.report.content import Content
from geoprofile.report.markup import number, plain
from geoprofile.report.section_view import sections


class Reader(HTMLParser):
    """Collects tags with their attributes, texts, and elements that were not closed in order."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.tags, self.open, self.faults, self.words = [], [], [], []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        """Remember the tag."""
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "input", "img", "br"):
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        """Remember a tag that closes itself."""
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        """Close the last one open, which should be of that name."""
        if not self.open or self.open.pop() != tag:
            self.faults.append(tag)

    def handle_data(self, data):
        """Remember the text."""
        self.words.append(data)

    def with_attribute(self, name):
        """Values of an attribute."""
        return [attrs[name] for _, attrs in self.tags if name in attrs]


@pytest.fixture(scope="module")
def shown(report_text):
    """The page of an ordinary site."""
    return Reader(report_text)


@pytest.fixture(scope="module")
def hostile_text(hostile_site):
    """The page of a site with hostile names."""
    return page(hostile_site)


@pytest.fixture(scope="module")
def attacked(hostile_text):
    """The same, read."""
    return Reader(hostile_text)


def test_every_element_is_closed(shown, attacked):
    """Elements nest, whatever the names hold."""
    for reader in (shown, attacked):
        assert reader.faults == []
        assert reader.open == []


def test_hostile_names_make_no_elements_and_no_handlers(attacked):
    """One script, ours; no picture, no event attribute, and the names are there as text."""
    tags = [tag for tag, _ in attacked.tags]
    assert tags.count("script") == 1
    assert "img" not in tags
    assert not [a for _, attrs in attacked.tags for a in attrs if a.startswith("on")]
    text = "".join(attacked.words)
    assert "<script>alert(1)</script>" in text
    assert "../../x" in text


def test_steering_and_control_characters_are_gone(hostile_text):
    """Neither a right-to-left override nor an escape character is in the page."""
    assert not set(hostile_text) & set("\u202e\x00\x1b\u2066")
    assert plain("a\u202eb\x07c\n") == "abc\n"


def test_names_never_become_addresses(attacked):
    """Every link stays in the page and every id is made by us."""
    for target in attacked.with_attribute("href"):
        assert re.fullmatch(r"#[a-z]+(-\d+)?", target)
    for name in attacked.with_attribute("id"):
        assert re.fullmatch(r"[a-z]+(-(\d+|title))?", name)


def test_page_asks_the_network_for_nothing(shown):
    """No address but in the page, and a policy that forbids all others."""
    assert not shown.with_attribute("src")
    policy = next(v for v in shown.with_attribute("content") if "default-src" in v)
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert not shown.with_attribute("style")  # the policy allows no style but the sheet


def test_every_link_has_its_target(shown):
    """Also the links to runs and files."""
    targets = {f"#{name}" for name in shown.with_attribute("id")}
    assert set(shown.with_attribute("href")) <= targets
    assert len(shown.with_attribute("id")) == len(set(shown.with_attribute("id")))


def test_plan_section_profile_and_tables_share_marks(shown):
    """Borehole 0 is marked in the map, a section, its profile and the tables."""
    kinds = [tag for tag, attrs in shown.tags if attrs.get("data-hole") == "0"]
    assert kinds.count("g") >= 2
    assert "figure" in kinds
    assert kinds.count("tr") > 5


def test_a_section_tells_where_its_shape_is_assumed(report_site):
    """Rings over the bands and what they mean; the other section has neither."""
    name = report_site.table("section_trace")["section"].iloc[0]
    shape = shapely.MultiPolygon([shapely.box(1, -9, 9, -2)])
    row = {"section": name, "quantity": "toluene", "geometry": shape}
    assumed = frame("section_assumed", [row], report_site.crs)
    drawn = sections(Content(report_site.with_tables({"section_assumed": assumed})))
    first, *others = drawn.split("</figure>")
    assert first.count('class="band assumed"') == 1
    assert "shape assumed: not held by the data" in first
    assert "assumed" not in "".join(others)


def test_boreholes_can_be_chosen_by_keyboard(shown):
    """Each is a named button in the order of Tab."""
    holes = [a for t, a in shown.tags if t == "g" and "data-hole" in a]
    assert holes
    for hole in holes:
        assert hole["tabindex"] == "0"
        assert hole["role"] == "button"
        assert hole["aria-label"].startswith("Borehole ")


def test_tables_are_captioned_and_headed(shown):
    """Every table has a caption; every heading says that it is a column's."""
    tags = [tag for tag, _ in shown.tags]
    assert tags.count("table") == tags.count("caption") > 8
    assert all(a.get("scope") == "col" for t, a in shown.tags if t == "th")


def test_a_value_leads_to_its_file(report_text):
    """The readings of the first test lead to their file and its SHA-256."""
    text = report_text
    row = re.search(r'<tr data-hole="0"><td[^>]*><bdi>H000.*?</tr>', text).group()
    place = re.search(r'href="#(file-\d+)"', row).group(1)
    entry = re.search(rf'id="{place}".*?</tr>', text, re.S).group()
    assert "readings/a.csv" in entry
    assert "ab" * 32 in entry


def test_answer_comes_first(shown):
    """The first heading after the title is the answer, with its three cards and the caution."""
    text = "".join(shown.words)
    assert text.index("The answer") < text.index("What is known") < text.index("How sure")
    assert text.index("What next") < text.index("Caution.") < text.index("Tests and their grades")


def test_a_site_without_results_makes_a_page(report_site):
    """Only boreholes: no part fails, each says what is missing."""
    bare = type(report_site)(
        "bare", "EPSG:32628", "", tables={"borehole": report_site.table("borehole")}
    )
    assert "None yet." in page(bare)
    assert "None yet." in page(type(report_site)("empty", "EPSG:32628", ""))


def test_two_hundred_boreholes_stay_below_five_megabytes(large_site, tmp_path):
    """With a thousand tests and three thousand concentrations."""
    file = write_report(large_site, tmp_path / "r.html")
    assert file.stat().st_size < 5_000_000


def test_numbers_are_for_people():
    """Plain figures where they are short, powers of ten where they are not."""
    assert number(0.0123) == "0.0123"
    assert number(1.23e-7) == "1.2×10<sup>−7</sup>"
    assert number(12345.0, 3) == "12,300"
    assert number(-2.5) == "−2.5"
    assert number(None) == ""
    assert [units_in(u) for u in ("ug/L", "m2/s", "kPa")] == ["µg/L", "m²/s", "kPa"]
