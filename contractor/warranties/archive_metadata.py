"""What makes a file PDF/UA-1 as well as PDF/A-3a, which WeasyPrint writes one at a time.

PDF/UA's mark is set beside that of PDF/A in the XMP packet (ISO 16684-1), together with the description of it that
PDF/A asks for where it doesn't know a property itself.
"""

from collections.abc import Callable
from typing import Any

from contractor.notices.tagging import hide_repeating_pictures, tagged_object

# Inside the one rdf:RDF of the packet; a second one is ignored by readers.
_PLACE = b"</rdf:RDF>"
_NAMED = """\
<rdf:Description xmlns:dc="http://purl.org/dc/elements/1.1/" rdf:about="">\
<dc:identifier>{identifier}</dc:identifier></rdf:Description>"""
_MARKS = """\
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


def accessible_archive(facts_sha256: str = "") -> Callable[[Any, Any], None]:
    """A WeasyPrint finisher that makes a PDF/A-3a file PDF/UA-1 too and names its facts, if any, in the metadata."""
    named = _NAMED.format(identifier=facts_identifier(facts_sha256)) if facts_sha256 else ""
    marks = (named + _MARKS).encode()

    def finish(_document: Any, pdf: Any) -> None:
        _add_marks(pdf, marks)
        hide_repeating_pictures(_document, pdf)

    return finish


def _add_marks(pdf: Any, marks: bytes) -> None:
    packet = tagged_object(pdf, pdf.catalog["Metadata"])
    [content] = packet.stream
    if content.count(_PLACE) != 1:
        raise ValueError("The metadata of a certificate must have one rdf:RDF.")
    packet.stream = [content.replace(_PLACE, marks + _PLACE)]
    # Left uncompressed, so that any tool can find it.
    packet.compress = False
