"""XML that anybody may have made, as a small tree: bounded, without document types and without a network."""

from __future__ import annotations

from xml.etree.ElementTree import Element, TreeBuilder
from xml.parsers import expat

from sitegen.project import limits
from sitegen.project.place.drawn import Unusable

_ENCODINGS = ("utf-8", "utf-16", "us-ascii", "iso-8859-1")


def read_tree(content: bytes, root: str) -> Element:
    """Return the tree of an XML file whose names have lost their prefixes.

    Raises Unusable where it can't be read, names a document type (and with it entities), has more
    tags or levels than are read, or another root element.
    """
    if content.count(b"<") > 2 * limits.FEATURE_TAGS.value:
        raise Unusable("more XML tags than are read", limits.FEATURE_TAGS.at_most, "simplify the file")
    builder = _Builder()
    try:
        builder.parser.Parse(content, True)
        tree = builder.close()
    except (expat.ExpatError, ValueError, AssertionError) as error:
        raise Unusable(
            f"XML that cannot be read ({error})", f"a file of the kind {root}", f"export it again as {root.upper()}"
        ) from error
    if tree.tag != root:
        raise Unusable(
            f"XML of the kind {tree.tag[:40]!r}", f"a file of the kind {root}", f"export it again as {root.upper()}"
        )
    return tree


def text_of(element: Element, name: str) -> str:
    """Return the text of the first child of a name, "" where there is none."""
    return (element.findtext(name) or "").strip()


class _Builder:
    """Builds a tree as expat meets the elements."""

    def __init__(self) -> None:
        self.parser = expat.ParserCreate()
        self._tree = TreeBuilder()
        self._levels = self._tags = 0
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._tree.data
        self.parser.StartDoctypeDeclHandler = self._refuse
        self.parser.XmlDeclHandler = self._declared

    def close(self) -> Element:
        """Return the root element."""
        return self._tree.close()

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self._levels += 1
        self._tags += 1
        if self._levels > limits.FEATURE_LEVELS.value:
            raise Unusable("XML elements nested too deep", limits.FEATURE_LEVELS.at_most, "export it again")
        if self._tags > limits.FEATURE_TAGS.value:
            raise Unusable("more XML tags than are read", limits.FEATURE_TAGS.at_most, "simplify the file")
        self._tree.start(_bare(name), attributes)

    def _end(self, name: str) -> None:
        self._levels -= 1
        self._tree.end(_bare(name))

    @staticmethod
    def _refuse(*_: object) -> None:
        raise Unusable("XML with a document type", "XML without one", "export it again")

    @staticmethod
    def _declared(_version: str, encoding: str | None, _standalone: int) -> None:
        if encoding and encoding.lower() not in _ENCODINGS:
            raise Unusable(f"XML in the encoding {encoding[:20]!r}", "XML in UTF-8", "save it as UTF-8")


def _bare(name: str) -> str:
    return name.rpartition(":")[2]
