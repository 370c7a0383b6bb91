"""Pictures that only repeat the word beside them, taken out of a PDF's tags.

So a screen reader meets no nameless picture (ISO 14289-1, 7.1 and 7.3).
"""

from typing import Any


def hide_repeating_pictures(_document: Any, pdf: Any) -> None:
    """A finisher that makes every figure without a text of its own an artifact.

    It is taken out of the tree and out of the map, and marked on the page.
    """
    for figure in [one for one in pdf.objects if _is_nameless_figure(one)]:
        [content_id] = figure["K"]
        tagged_object(pdf, figure["P"])["K"].remove(figure.reference)
        places = tagged_object(pdf, tagged_object(pdf, pdf.catalog["StructTreeRoot"])["ParentTree"])["Nums"]
        for of_page in (one for one in places if isinstance(one, list) and figure.reference in one):
            of_page[of_page.index(figure.reference)] = "null"
        drawn = tagged_object(pdf, tagged_object(pdf, figure["Pg"])["Contents"]).stream
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


def tagged_object(pdf: Any, reference: bytes) -> Any:
    """The object of a PDF behind ``12 0 R``."""
    return pdf.objects[int(reference.split()[0])]
