"""What a catalogue asks of a data set, as ISO 19115-3: who, what, where, when, on what terms.

Source: ISO 19115-1:2014 and its XML of ISO/TS 19115-3:2016 (names of elements and code lists from
memory). Language and character set stand at the top, as its schemas ask.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

from geoprofile import __version__
from geoprofile.drawing.document import Document, document_of
from geoprofile.formats._wgs84 import to_wgs84

if TYPE_CHECKING:
    from geoprofile.site import Site

BASE = "http://standards.iso.org/iso/19115/-3"
SPACES = {
    "mdb": f"{BASE}/mdb/2.0",
    "cit": f"{BASE}/cit/2.0",
    "gco": f"{BASE}/gco/1.0",
    "gex": f"{BASE}/gex/1.0",
    "lan": f"{BASE}/lan/1.0",
    "mcc": f"{BASE}/mcc/1.0",
    "mco": f"{BASE}/mco/1.0",
    "mri": f"{BASE}/mri/1.0",
    "mrl": f"{BASE}/mrl/2.0",
    "mrs": f"{BASE}/mrs/1.0",
    "gml": "http://www.opengis.net/gml/3.2",
}
CODES = "http://standards.iso.org/iso/19115/resources/Codelists/cat/codelists.xml"
STANDARD = f"{BASE}"  # what gpkg_metadata names as the standard
NOT_TOLD = "not stated by the maker"
DAYS = (("sample", "sampled_at"), ("test", "started_at"), ("borehole", "drilled_on"))
STATES = {"final": "completed", "draft": "underDevelopment"}


def iso_metadata(site: Site, *, made_on: str) -> str:
    """The metadata of a site as an XML document.

    Parameters
    ----------
    site : Site
        What leaves, with its title block.
    made_on : str
        Day, ISO 8601.

    Returns
    -------
    str
        ISO 19115-3; what the maker did not state is named as such.
    """
    document = document_of(site)
    for prefix, space in SPACES.items():
        ElementTree.register_namespace(prefix, space)
    root = ElementTree.Element(_tag("mdb:MD_Metadata"))
    locale = _path(root, "mdb:defaultLocale/lan:PT_Locale")
    _code(_path(locale, "lan:language"), "lan:LanguageCode", "eng")
    _code(_path(locale, "lan:characterEncoding"), "lan:MD_CharacterSetCode", "utf8")
    scope = _path(root, "mdb:metadataScope/mdb:MD_MetadataScope/mdb:resourceScope")
    _code(scope, "mcc:MD_ScopeCode", "dataset")
    _party(_path(root, "mdb:contact"), document, "pointOfContact")
    _date(_path(root, "mdb:dateInfo"), made_on, "creation")
    _systems(root, site)
    _identification(root, site, document, made_on)
    statement = _path(root, "mdb:resourceLineage/mrl:LI_Lineage/mrl:statement")
    _text(
        statement,
        f"Computed with geoprofile {__version__} from field and laboratory tables; the tables run "
        "and source_file name the runs, the files and their SHA-256.",
    )
    ElementTree.indent(root, " ")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ElementTree.tostring(
        root, encoding="unicode"
    )


def _identification(root: Any, site: Site, document: Document, made_on: str) -> None:
    data = _path(root, "mdb:identificationInfo/mri:MD_DataIdentification")
    citation = _path(data, "mri:citation/cit:CI_Citation")
    _text(_path(citation, "cit:title"), f"{site.name}: packer tests and zone samples")
    _date(_path(citation, "cit:date"), document.date or made_on, "revision")
    _text(_path(citation, "cit:edition"), document.revision or NOT_TOLD)
    about = [f"{name}: {text}" for name, text in document.parts]
    _text(
        _path(data, "mri:abstract"),
        "Hydraulic conductivity and concentrations of isolated borehole intervals, and models "
        f"between the boreholes. {'; '.join(about)}.",
    )
    _code(_path(data, "mri:status"), "mcc:MD_ProgressCode", _state(document.status))
    _party(_path(data, "mri:pointOfContact"), document, "author")
    _path(data, "mri:topicCategory/mri:MD_TopicCategoryCode").text = "geoscientificInformation"
    extent = _path(data, "mri:extent/gex:EX_Extent")
    _box(extent, site)
    _period(extent, site)
    limits = _path(data, "mri:resourceConstraints/mco:MD_LegalConstraints")
    _text(_path(limits, "mco:useLimitation"), document.limitation or NOT_TOLD)
    _code(_path(limits, "mco:useConstraints"), "mco:MD_RestrictionCode", "otherRestrictions")
    _text(_path(limits, "mco:otherConstraints"), document.terms_of_use or NOT_TOLD)


def _state(status: str) -> str:
    """The nearest word of the code list; the words of the maker stand in the abstract."""
    return STATES.get(status.strip().lower(), "onGoing")


def _systems(root: Any, site: Site) -> None:
    """The projected system, and the vertical datum in words."""
    for code, space in ((site.crs, ""), (site.vertical_datum or NOT_TOLD, "vertical datum")):
        system = _path(_new(root, "mdb:referenceSystemInfo"), "mrs:MD_ReferenceSystem")
        identifier = _path(system, "mrs:referenceSystemIdentifier/mcc:MD_Identifier")
        _text(_path(identifier, "mcc:code"), code)
        if space:
            _text(_path(identifier, "mcc:description"), f"{space}; elevations in metres above it")


def _box(extent: Any, site: Site) -> None:
    """West, east, south, north of everything that lies on the map [deg], WGS 84."""
    import shapely

    holes = site.boreholes
    if holes.empty:
        return
    frame = site.table("area")
    points = shapely.MultiPoint(holes[["x", "y"]].to_numpy(float))
    shapes = [points, *frame.geometry]
    west, south, east, north = shapely.GeometryCollection(to_wgs84(shapes, site.crs)).bounds
    box = _path(extent, "gex:geographicElement/gex:EX_GeographicBoundingBox")
    sides = (("westBound", west), ("eastBound", east), ("southBound", south), ("northBound", north))
    for side, value in sides:
        kind = "Longitude" if side[0] in "we" else "Latitude"
        _path(box, f"gex:{side}{kind}/gco:Decimal").text = f"{value:.6f}"


def _period(extent: Any, site: Site) -> None:
    """First and last day of work."""
    days = sorted(
        str(day)[:10]
        for table, column in DAYS
        if column in (frame := site.table(table))
        for day in frame[column].dropna()
    )
    if not days:
        return
    place = _path(extent, "gex:temporalElement/gex:EX_TemporalExtent/gex:extent")
    period = _path(place, "gml:TimePeriod")
    period.set(_tag("gml:id"), "work")
    _path(period, "gml:beginPosition").text = days[0]
    _path(period, "gml:endPosition").text = days[-1]


def _party(place: Any, document: Document, role: str) -> None:
    """Who answers: the organisation, its person and how to reach them."""
    told = _path(place, "cit:CI_Responsibility")
    _code(_path(told, "cit:role"), "cit:CI_RoleCode", role)
    party = _path(told, "cit:party/cit:CI_Organisation")
    _text(_path(party, "cit:name"), document.organisation or NOT_TOLD)
    if document.contact:
        contact = _path(party, "cit:contactInfo/cit:CI_Contact")
        if "@" in document.contact:
            address = _path(contact, "cit:address/cit:CI_Address")
            _text(_path(address, "cit:electronicMailAddress"), document.contact)
        else:
            _text(_path(contact, "cit:contactInstructions"), document.contact)
    if document.author:
        _text(_path(party, "cit:individual/cit:CI_Individual/cit:name"), document.author)


def _date(place: Any, day: str, kind: str) -> None:
    date = _path(place, "cit:CI_Date")
    _path(date, "cit:date/gco:Date").text = day
    _code(_path(date, "cit:dateType"), "cit:CI_DateTypeCode", kind)


def _code(place: Any, name: str, value: str) -> None:
    element = _path(place, name)
    element.set("codeList", f"{CODES}#{name.partition(':')[2]}")
    element.set("codeListValue", value)
    element.text = value


def _text(place: Any, text: str) -> None:
    _path(place, "gco:CharacterString").text = text


def _path(root: Any, names: str) -> Any:
    """A new element below new or last ones of these names."""
    *outer, last = names.split("/")
    for name in outer:
        root = _new(root, name)
    return _new(root, last)


def _new(root: Any, name: str) -> Any:
    return ElementTree.SubElement(root, _tag(name))


def _tag(name: str) -> str:
    prefix, _, local = name.partition(":")
    return f"{{{SPACES[prefix]}}}{local}"
