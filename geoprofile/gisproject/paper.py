"""Parts of a page to print: map, label, legend, scale bar, north arrow, table."""

from __future__ import annotations

import base64
import uuid
from collections.abc import Callable, Mapping, Sequence
from xml.etree.ElementTree import Element, SubElement

from geoprofile.drawing import people
from geoprofile.drawing.styles.colours import INK, PAPER, QUIET, rgba
from geoprofile.gisproject.page_marks import (
    ARROW,
    add_colour,
    add_column,
    add_grid,
    add_ring,
    add_text,
    font,
)
from geoprofile.gisproject.scales import Place
from geoprofile.gisproject.sheets import Sheet
from geoprofile.store.projects import Box

PAGE, MAP, PICTURE, LABEL, LEGEND, SHAPE, SCALE_BAR, FRAME, TABLE = (
    65638, 65639, 65640, 65641, 65642, 65643, 65646, 65647, 65649,
)  # fmt: skip
SPACE = uuid.UUID("5b0e3f5e-64b5-4f0e-9a53-0d2a8d3f6a11")  # so that the same part has the same name
BREAK = "|"  # where a title of the legend may be broken


class Page:
    """One layout of one page, to which parts are added where they were laid out for the sheet."""

    def __init__(self, parent: Element, name: str, sheet: Sheet) -> None:
        self.name, self.sheet = name, sheet
        self.parts = 0
        self.root = SubElement(
            parent, "Layout", name=name, units="mm", printResolution="300", worldFileMap=""
        )
        pages = SubElement(self.root, "PageCollection")
        self._add(PAGE, (0, 0, *sheet.laid_out_mm), parent=pages)

    def _identity(self, what: str) -> str:
        return f"{{{uuid.uuid5(SPACE, f'{self.name}/{what}')}}}"

    def _add(
        self, kind: int, place: Place, *, parent: Element | None = None, **settings: str
    ) -> Element:
        """Add a part; the last is on top."""
        self.parts += 1
        x, y, width, height = self.sheet.place(place)
        identity = self._identity(str(self.parts))
        attributes = {
            "type": str(kind),
            "uuid": identity,
            "templateUuid": identity,
            "position": f"{x:g},{y:g},mm",
            "positionOnPage": f"{x:g},{y:g},mm",
            "size": f"{width:g},{height:g},mm",
            "referencePoint": "0",
            "visibility": "1",
            "zValue": str(self.parts),
            "opacity": "1",
            "itemRotation": "0",
            "frame": "false",
            "background": "false",
            "outlineWidthM": "0.2,mm",
            "excludeFromExports": "0",
        }
        item = SubElement(
            self.root if parent is None else parent, "LayoutItem", {**attributes, **settings}
        )
        add_colour(item, "FrameColor", INK)
        add_colour(item, "BackgroundColor", PAPER)
        return item

    def map(
        self,
        place: Place,
        extent: Box,
        keys: Sequence[str],
        *,
        per_feature: bool = False,
        grid_m: float | None = None,
    ) -> str:
        """A map of the layers, with a grid of coordinates or without; its name for other parts."""
        item = self._add(
            MAP,
            place,
            frame="true",
            background="true",
            keepLayerSet="true",
            followPreset="false",
            mapRotation="0",
            labelMargin="0,mm",
            drawCanvasItems="false",
            mapFlags="0",
            id="map",
        )
        corners = zip(("xmin", "ymin", "xmax", "ymax"), extent, strict=True)
        SubElement(item, "Extent", {name: repr(value) for name, value in corners})
        shown = SubElement(item, "LayerSet")
        for key in keys:
            SubElement(shown, "Layer").text = key
        if grid_m is not None:
            add_grid(item, self._identity("grid"), grid_m)
        # scaling 0 keeps the scale and moves the map to the feature
        SubElement(
            item, "AtlasMap", atlasDriven=str(int(per_feature)), scalingMode="0", margin="0.1"
        )
        return item.get("uuid", "")

    def ring(self, around: Place, across_mm: float) -> None:
        """An empty circle in the middle of a place, over what the page is about."""
        x, y, width, height = self.sheet.place(around)
        ring = self._add(SHAPE, around)
        corner = f"{x + (width - across_mm) / 2:g},{y + (height - across_mm) / 2:g},mm"
        ring.set("position", corner)
        ring.set("positionOnPage", corner)
        ring.set("size", f"{across_mm:g},{across_mm:g},mm")
        add_ring(ring)

    def label(
        self,
        place: Place,
        text: str,
        *,
        points: float = 8,
        bold: bool = False,
        right: bool = False,
        boxed: bool = False,
    ) -> None:
        """Words, in which `[% %]` is an expression; in a box, with room to write by hand."""
        item = self._add(
            LABEL,
            place,
            labelText=text,
            htmlState="0",
            halign="2" if right else "1",
            valign="32",
            marginX="1.2" if boxed else "0",
            marginY="0.8" if boxed else "0",
            frame=str(boxed).lower(),
        )
        SubElement(item, "LabelFont", description=font(points, bold=bold))
        add_colour(item, "FontColor", INK)

    def legend(
        self,
        place: Place,
        of_map: str,
        add_layers: Callable[[Element], None],
        *,
        columns: int = 1,
        smaller: float = 1.0,
    ) -> None:
        """The legend of what the map shows: only the classes that lie on it."""
        item = self._add(
            LEGEND,
            place,
            map_uuid=of_map,
            resizeToContents="1",
            symbolWidth=f"{6 * smaller:g}",
            symbolHeight=f"{3.2 * smaller:g}",
            columnCount=str(columns),
            columnSpace="3",
            equalColumnWidth="0",
            boxSpace="0",
            lineSpacing="1",
            wrapChar=BREAK,
            title="",
            maxSymbolSize=f"{3.2 * smaller:g}",
            minSymbolSize="0",
            legendFilterByAtlas="0",
            legendFilterByMap="1",
            splitLayer="0",
            fontColor=INK,
        )
        styles = SubElement(item, "styles")
        for name, points, above in (
            ("title", 9.0, 0.0),
            ("group", 8.0, 1.5),
            ("subgroup", 7.5, 2.4),
            ("symbol", 7.0, 1.0),
            ("symbolLabel", 7.0, 0.8),
        ):
            style = SubElement(
                styles,
                "style",
                name=name,
                alignment="1",
                marginTop=f"{smaller * above:g}",
                indent="0",
            )
            if name == "symbolLabel":
                style.set("marginLeft", "2")
            bold = name in ("title", "subgroup")
            SubElement(style, "styleFont", description=font(smaller * points, bold=bold))
            add_text(style, smaller * points, bold=bold)
        add_layers(SubElement(item, "layer-tree-group"))

    def scale_bar(self, place: Place, of_map: str, segment: float) -> None:
        """A bar of two segments, each so long in the unit that people read."""
        unit = people.now().unit("m")
        item = self._add(
            SCALE_BAR,
            place,
            background="true",
            mapUuid=of_map,
            style="Single Box",
            numSegments="2",
            numSegmentsLeft="0",
            numSubdivisions="1",
            numUnitsPerSegment=f"{segment:g}",
            numMapUnitsPerScaleBarUnit="1",
            unitType="feet" if unit == "ft" else "meters",
            unitLabel=unit,
            height="2",
            labelBarSpace="1",
            boxContentSpace="1",
            segmentSizeMode="0",
            outlineWidth="0.2",
            alignment="0",
        )
        add_text(item, 7)
        add_colour(item, "fillColor", INK)
        add_colour(item, "fillColor2", PAPER)
        add_colour(item, "strokeColor", INK)

    def north(self, place: Place, of_map: str) -> None:
        """An arrow to grid north."""
        picture = base64.b64encode(ARROW.encode()).decode()
        self._add(
            PICTURE, place, background="true", file=f"base64:{picture}", mapUuid=of_map,
            northMode="0", resizeMode="0", pictureRotation="0", northOffset="0", mode="0",
            anchorPoint="4",
        )  # fmt: skip

    def table(
        self,
        place: Place,
        key: str,
        source: str,
        columns: Mapping[str, tuple[str, float]],
        order: Sequence[str],
        *,
        where: str = "",
        most: int,
    ) -> None:
        """Rows of a layer: a heading and a width [mm] per column or expression."""
        self.parts += 1
        identity = self._identity(f"table {self.parts}")
        table = SubElement(
            self.root,
            "LayoutMultiFrame",
            {
                "type": str(TABLE),
                "uuid": identity,
                "templateUuid": identity,
                "vectorLayer": key,
                "vectorLayerName": key,
                "vectorLayerSource": source,
                "vectorLayerProvider": "ogr",
                "source": "0",
                "resizeMode": "0",
                "filterFeatures": "true" if where else "false",
                "featureFilter": where,
                "maxFeatures": str(most),
                "showUniqueRowsOnly": "0",
                "showOnlyVisibleFeatures": "0",
                "filterToAtlasIntersection": "0",
                "useConditionalStyling": "0",
                "showGrid": "1",
                "horizontalGrid": "1",
                "verticalGrid": "0",
                "gridStrokeWidth": "0.1",
                "gridColor": rgba(QUIET),
                "cellMargin": "0.5",
                "emptyTableMode": "2",
                "emptyTableMessage": "none",
                "showEmptyRows": "0",
                "headerMode": "0",
                "headerHAlignment": "0",
                "wrapBehavior": "0",
                "wrapString": "",
                "backgroundColor": rgba(PAPER),
                "relationId": "",
            },
        )
        frame = self._add(FRAME, place, multiFrame=identity, multiFrameTemplateUuid=identity)
        frame.set("sectionX", "0")
        frame.set("sectionY", "0")
        *_, width, height = self.sheet.place(place)
        frame.set("sectionWidth", f"{width:g}")
        frame.set("sectionHeight", f"{height:g}")
        SubElement(
            table, "childFrame", uuid=frame.get("uuid", ""), templateUuid=frame.get("uuid", "")
        )
        add_text(SubElement(table, "headerTextFormat"), 6.5, bold=True)
        add_text(SubElement(table, "contentTextFormat"), 6.5)
        shown, sorted_by = SubElement(table, "displayColumns"), SubElement(table, "sortColumns")
        for attribute, (heading, width) in columns.items():
            add_column(shown, attribute, heading, width)
        for attribute in order:
            add_column(sorted_by, attribute, attribute, 0, rank=1)

    def one_per(self, key: str, source: str, name_column: str) -> None:
        """Make it an atlas: a page for each feature of a layer."""
        quoted = f'"{name_column}"'
        SubElement(
            self.root, "Atlas", enabled="1", coverageLayer=key, coverageLayerName=key,
            coverageLayerSource=source, coverageLayerProvider="ogr", hideCoverage="0",
            filterFeatures="0", sortFeatures="1", sortKey=quoted, sortAscending="1",
            pageNameExpression=quoted, filenamePattern=f"{quoted}",
        )  # fmt: skip
