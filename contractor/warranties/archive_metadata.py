"""What makes a certificate's file PDF/UA-1 as well as PDF/A-3a, which WeasyPrint writes one at a time.

PDF/UA's mark is set beside that of PDF/A in the XMP packet (ISO 16684-1), together with the description of it that
PDF/A asks for where it doesn't know a property itself. Pictures that only repeat the word beside them are taken out
of the tags, so that a screen reader meets no nameless picture (ISO 14289-1, 7.1 and 7.3).
"""

from collections.abc import Callable
from typing import Any

# Inside the one rdf:RDF of the packet; a second one is ignored by readers.
_PLACE = b"</rdf:RDF>"
_MARKS = """\
<rdf:Description xmlns:dc="http://purl.org/dc/elements/1.1/" rdf:about="">\
<dc:identifier>{identifier}</dc:identifier></rdf:Description>\
<rdf:Description xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/" rdf:about="">\
<pdfuaid:part>1</pdfuaid:part></rdf:Description>\
<rdf:Description xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"\
 xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#" xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#"\
 rdf:about=""><pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">\
<pdfaSchema:schema>PDF/UA Universal Accessibility Schema</pdfaSchema:schema>\
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>\
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>\
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">\
<pdfaProperty:name>part</pdfaProperty:name><pdfaProperty:valueType>Integer</pdfaProperty:valueType>\
<pdfaProperty:category>internal</pdfaProperty:category>\
<pdfaProperty:description>The part of ISO 14289 to which the file conforms</pdfaProperty:description>\
</rdf:li></rdf:Seq></pdfaSchema:property></rdf:li></rdf:Bag></pdfaExtension:schemas></rdf:Description>"""


def facts_identifier(facts_sha256: str) -> str:
    """The name of a certificate's facts in its file: ``sha256:`` and 64 hexadecimal digits."""
    return f"sha256:{facts_sha256}"


def accessible_archive(facts_sha256: str) -> Callable[[Any, Any], None]:
    """A WeasyPrint finisher that makes a PDF/A-3a file PDF/UA-1 too and names its facts in the metadata."""
    marks = _MARKS.format(identifier=facts_identifier(facts_sha256)).encode()

    def finish(_document: Any, pdf: Any) -> None:
        _add_marks(pdf, marks)
        hide_repeating_pictures(_document, pdf)

    return finish


def _add_marks(pdf: Any, marks: bytes) -> None:
    packet = _object(pdf, pdf.catalog["Metadata"])
    [content] = packet.stream
    if content.count(_PLACE) != 1:
        raise ValueError("The metadata of a certificate must have one rdf:RDF.")
    packet.stream = [content.replace(_PLACE, marks + _PLACE)]
    # Left uncompressed, so that any tool can find it.
    packet.compress = False


def hide_repeating_pictures(_document: Any, pdf: Any) -> None:
    """A finisher that makes every figure without a text of its own an artifact.

    It is taken out of the tree and out of the map, and marked on the page.
    """
    for figure in [one for one in pdf.objects if _is_nameless_figure(one)]:
        [content_id] = figure["K"]
        _object(pdf, figure["P"])["K"].remove(figure.reference)
        places = _object(pdf, _object(pdf, pdf.catalog["StructTreeRoot"])["ParentTree"])["Nums"]
        for of_page in (one for one in places if isinstance(one, list) and figure.reference in one):
            of_page[of_page.index(figure.reference)] = "null"
        drawn = _object(pdf, _object(pdf, figure["Pg"])["Contents"]).stream
        _unmark(drawn, content_id)


def _is_nameless_figure(thing: Any) -> bool:
    is_element = isinstance(thing, dict) and thing.get("Type") == "/StructElem"
    return is_element and thing["S"] == "/Figure" and "Alt" not in thing


def _unmark(drawn: list[Any], content_id: int) -> None:
    """``/Figure <</MCID 5>> BDC`` becomes ``/Artifact BMC`` in the operators of a page."""
    for place, word in enumerate(drawn):
        is_figure = word == "/Figure" and drawn[place + 2] == b"BDC"
        if is_figure and drawn[place + 1].get("MCID") == content_id:
            drawn[place : place + 3] = ["/Artifact", b"BMC"]
            return
    raise ValueError("A figure of the tree isn't drawn on its page.")


def _object(pdf: Any, reference: bytes) -> Any:
    """The object behind ``12 0 R``."""
    return pdf.objects[int(reference.split()[0])]
