"""Metadata of what is handed over: ISO 19115 in the XML of ISO 19139 for each layer, Dublin Core for the whole.

Elements are those of the core that ISO 19115:2003 asks of a geographic dataset [memory]: title, date, contact, extent,
language, topic, abstract, reference system, lineage, format, constraint.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as Xml

from pyproj import CRS, Transformer

from gridmap.deliver.caution import CAUTION
from gridmap.deliver.report_words import clean

GMD, GCO = "http://www.isotc211.org/2005/gmd", "http://www.isotc211.org/2005/gco"
DC, XSI = "http://purl.org/dc/elements/1.1/", "http://www.w3.org/2001/XMLSchema-instance"
_CODES = "http://standards.iso.org/ittf/PubliclyAvailableStandards/ISO_19139_Schemas/resources/codelist/gmxCodelists.xml"


@dataclass(frozen=True, slots=True)
class AboutLayer:
    """What is said of one layer.

    Attributes
    ----------
    name : str
        Its name in the folder; also its identifier.
    title, abstract : str
        In words.
    format : str
        Such as "GeoPackage 1.2".
    kind : "vector" or "grid"
        How space is held.
    resolution_m : float or None
        Side of a cell, metres.
    """

    name: str
    title: str
    abstract: str
    format: str
    kind: str
    resolution_m: float | None = None


def iso_xml(
    about: AboutLayer,
    said: Mapping[str, str],
    crs_wkt: str | None,
    bounds_m: tuple[float, float, float, float],
    lineage: str,
) -> str:
    """Write the metadata of one layer.

    Parameters
    ----------
    about : AboutLayer
        The layer.
    said : mapping of str to str
        Company, contact, date and the like, as far as known.
    crs_wkt : str or None
        CRS of the layer; None: local grid, and then no extent on the globe is given.
    bounds_m : (west, south, east, north)
        Extent in the layer's metres.
    lineage : str
        How it came about.
    """
    for prefix, space in (("gmd", GMD), ("gco", GCO)):
        Xml.register_namespace(prefix, space)
    root = Xml.Element(f"{{{GMD}}}MD_Metadata")
    _text(root, "fileIdentifier", about.name)
    _text(root, "language", "eng")
    _code(root, "characterSet", "MD_CharacterSetCode", "utf8")
    _code(root, "hierarchyLevel", "MD_ScopeCode", "dataset")
    _contact(_sub(root, "contact"), said)
    _date(root, "dateStamp", said.get("date"))
    _text(root, "metadataStandardName", "ISO 19115:2003/19139")
    _text(root, "metadataStandardVersion", "1.0")
    if crs_wkt is not None:
        system = _sub(
            root, "referenceSystemInfo", "MD_ReferenceSystem", "referenceSystemIdentifier", "RS_Identifier"
        )
        authority = CRS.from_wkt(crs_wkt).to_authority()
        _text(system, "code", ":".join(authority) if authority else CRS.from_wkt(crs_wkt).name)
    info = _sub(root, "identificationInfo", "MD_DataIdentification")
    citation = _sub(info, "citation", "CI_Citation")
    _text(citation, "title", about.title)
    date = _sub(citation, "date", "CI_Date")
    _date(date, "date", said.get("date"))
    _code(date, "dateType", "CI_DateTypeCode", "creation")
    _text(info, "abstract", about.abstract)
    _text(info, "purpose", said.get("purpose", ""))
    _contact(_sub(info, "pointOfContact"), said)
    if said.get("keywords"):
        _text(_sub(info, "descriptiveKeywords", "MD_Keywords"), "keyword", said["keywords"])
    limits = _sub(info, "resourceConstraints", "MD_LegalConstraints")
    _text(limits, "useLimitation", CAUTION)
    if said.get("rights"):
        _code(limits, "useConstraints", "MD_RestrictionCode", "otherRestrictions")
        _text(limits, "otherConstraints", said["rights"])
    _code(info, "spatialRepresentationType", "MD_SpatialRepresentationTypeCode", about.kind)
    if about.resolution_m is not None:
        size = _sub(info, "spatialResolution", "MD_Resolution", "distance")
        Xml.SubElement(size, f"{{{GCO}}}Distance", uom="m").text = f"{about.resolution_m:g}"
    _text(info, "language", "eng")
    topic = _sub(info, "topicCategory")
    Xml.SubElement(topic, f"{{{GMD}}}MD_TopicCategoryCode").text = "geoscientificInformation"
    if crs_wkt is not None:
        box = _sub(info, "extent", "EX_Extent", "geographicElement", "EX_GeographicBoundingBox")
        west, south, east, north = on_globe(crs_wkt, bounds_m)
        for name, value in (
            ("westBoundLongitude", west), ("eastBoundLongitude", east),
            ("southBoundLatitude", south), ("northBoundLatitude", north),
        ):  # fmt: skip
            Xml.SubElement(_sub(box, name), f"{{{GCO}}}Decimal").text = f"{value:.7f}"
    form = _sub(root, "distributionInfo", "MD_Distribution", "distributionFormat", "MD_Format")
    _text(form, "name", about.format)
    _text(form, "version", "")
    quality = _sub(root, "dataQualityInfo", "DQ_DataQuality")
    _code(_sub(quality, "scope", "DQ_Scope"), "level", "MD_ScopeCode", "dataset")
    _text(_sub(quality, "lineage", "LI_Lineage"), "statement", lineage)
    return _whole(root)


def dublin_core(pairs: Sequence[tuple[str, str]]) -> str:
    """Write elements of Dublin Core 1.1 (ISO 15836), such as ("title", ...); empty ones are left out."""
    Xml.register_namespace("dc", DC)
    root = Xml.Element("metadata")
    for name, words in pairs:
        if words:
            Xml.SubElement(root, f"{{{DC}}}{name}").text = clean(words)
    return _whole(root)


def on_globe(crs_wkt: str, bounds_m: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
    """West, south, east, north in degrees of WGS 84."""
    turn = Transformer.from_crs(CRS.from_wkt(crs_wkt), CRS.from_epsg(4326), always_xy=True)
    west, south, east, north = turn.transform_bounds(*bounds_m)
    return float(west), float(south), float(east), float(north)


def _whole(root: Xml.Element) -> str:
    Xml.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + Xml.tostring(root, encoding="unicode") + "\n"


def _sub(parent: Xml.Element, *names: str) -> Xml.Element:
    for name in names:
        parent = Xml.SubElement(parent, f"{{{GMD}}}{name}")
    return parent


def _text(parent: Xml.Element, name: str, words: str) -> None:
    """Write text; where there is none, say that it is not known."""
    made = _sub(parent, name)
    if words:
        Xml.SubElement(made, f"{{{GCO}}}CharacterString").text = clean(words)
    else:
        made.set(f"{{{GCO}}}nilReason", "unknown")


def _date(parent: Xml.Element, name: str, day: str | None) -> None:
    made = _sub(parent, name)
    if day:
        Xml.SubElement(made, f"{{{GCO}}}Date").text = day
    else:
        made.set(f"{{{GCO}}}nilReason", "unknown")


def _code(parent: Xml.Element, name: str, codes: str, value: str) -> None:
    made = Xml.SubElement(
        _sub(parent, name), f"{{{GMD}}}{codes}", codeList=f"{_CODES}#{codes}", codeListValue=value
    )
    made.text = value


def _contact(parent: Xml.Element, said: Mapping[str, str]) -> None:
    who = _sub(parent, "CI_ResponsibleParty")
    if said.get("author"):
        _text(who, "individualName", said["author"])
    _text(who, "organisationName", said.get("company", ""))
    if said.get("contact"):
        mail = _sub(who, "contactInfo", "CI_Contact", "contactInstructions")
        Xml.SubElement(mail, f"{{{GCO}}}CharacterString").text = clean(said["contact"])
    _code(who, "role", "CI_RoleCode", "originator")
