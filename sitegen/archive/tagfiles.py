"""Read the tag files of a bag that any program may have made: RFC 8493, section 2, and the drafts before it.

All raise ValueError with what is wrong where a whole file can't be gone by; what is wrong with
single lines is returned as faults.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from sitegen.archive.reading import Fault
from sitegen.findings.bagpaths import path_astray
from sitegen.render.place.bag import PAYLOAD

VERSIONS = ("0.93", "0.94", "0.95", "0.96", "0.97", "1.0")
"""RFC 8493 is 1.0; the others are its drafts, which bags still follow."""

HEX_DIGITS = {"md5": 32, "sha1": 40, "sha224": 56, "sha256": 64, "sha384": 96, "sha512": 128}
"""The algorithms that are known, each with the length of its digests."""

_DECLARED = (
    re.compile(r"BagIt-Version: (\d+\.\d+)"),
    re.compile(r"Tag-File-Character-Encoding: ([\w.:()+-]+)", re.ASCII),
)
_DRAFT_DECLARED = tuple(re.compile(line.pattern.replace(": ", "[ \t]*:[ \t]*") + "[ \t]*") for line in _DECLARED)
_CHARACTER_SETS = re.compile(
    r"ascii|utf-(8|16|16-be|16-le|32|32-be|32-le)|iso8859-\d+|cp(125\d|437|850|932)|koi8-[ru]|mac-roman"
    r"|big5|gb2312|gbk|gb18030|shift_jis|euc_jp|euc_kr|iso2022_jp"
)
_WIDE = {"utf-16": 2, "utf-32": 4}
"""Sets whose byte order a mark tells: without one it is big-endian (RFC 2781, 4.3), whatever the machine."""
_MARK = "\ufeff"
_LINE_END = re.compile(r"\r\n|\n|\r")
_ENTRY = re.compile(r"(\S+)[ \t]+\*?(\S.*)")
_FETCH = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:\S+[ \t]+(?:\d+|-)[ \t]+(\S.*)")
_HEX = re.compile(r"[0-9a-fA-F]+")
_ENCODED = re.compile(r"%(0A|0D|25)", re.IGNORECASE)
_DRAFT_ENCODED = re.compile(r"%(0A|0D)", re.IGNORECASE)
_OXUM = re.compile(r"(\d{1,18})\.(\d{1,18})", re.ASCII)


class Declaration(NamedTuple):
    """What ``bagit.txt`` says: the version of BagIt, and the character set of the other tag files."""

    version: str
    encoding: str

    @property
    def final(self) -> bool:
        """Whether the bag follows RFC 8493 itself, which is stricter than its drafts."""
        return self.version == "1.0"

    @property
    def info(self) -> str:
        """The name of the file that describes the bag."""
        return "package-info.txt" if self.version < "0.96" else "bag-info.txt"


class Manifest(NamedTuple):
    """The digests (lower case) by path that one manifest lists."""

    name: str
    algorithm: str
    digests: Mapping[str, str]

    @property
    def known(self) -> bool:
        """Whether its digests can be checked."""
        return self.algorithm in HEX_DIGITS

    @property
    def of_tags(self) -> bool:
        """Whether it lists tag files, not the payload."""
        return self.name.startswith("tag")


def read_declaration(content: bytes) -> Declaration:
    r"""Read ``bagit.txt``, which is UTF-8 whatever it declares (2.1.1).

    >>> read_declaration(b"BagIt-Version: 0.97\nTag-File-Character-Encoding: ISO-8859-1\n")
    Declaration(version='0.97', encoding='iso8859-1')
    """
    lines = text_lines(content, "utf-8")
    told = [line.fullmatch(text) for line, text in zip(_DECLARED, lines, strict=False)]
    drafts = [line.fullmatch(text) for line, text in zip(_DRAFT_DECLARED, lines, strict=False)]
    if drafts and drafts[0] and drafts[0][1] in VERSIONS[:-1]:
        told = drafts
    expected = "expected the lines BagIt-Version: M.N and Tag-File-Character-Encoding: NAME, and no other"
    if len(lines) != len(_DECLARED) or not all(told):
        raise ValueError(f"it is no declaration of a bag; {expected}")
    version, name = (match[1] for match in told if match)
    if version not in VERSIONS:
        raise ValueError(f"it declares BagIt {version}; expected one of {', '.join(VERSIONS)}")
    return Declaration(version, _character_set(name))


def _character_set(name: str) -> str:
    try:
        known = codecs.lookup(name).name
    except (LookupError, ValueError):
        known = ""
    if not _CHARACTER_SETS.fullmatch(known):
        raise ValueError(f"it declares the character set {name}, which is unknown or no character set for text")
    return known


def text_lines(content: bytes, encoding: str) -> list[str]:
    r"""Return the lines of a tag file; they may end in LF, CR or both.

    >>> text_lines("Ünder\r\nwegs".encode("utf-16-be"), "utf-16")
    ['Ünder', 'wegs']
    """
    marked = content.startswith((codecs.BOM_UTF16, codecs.BOM_UTF16_BE, codecs.BOM_UTF16_LE, codecs.BOM_UTF32_BE))
    order = "-be" if encoding in _WIDE and not marked else ""
    try:
        text = content.decode(encoding + order)
    except ValueError as error:
        raise ValueError(f"it is not text in {encoding.upper()}") from error
    if text.startswith(_MARK):
        raise ValueError(f"it begins with a byte order mark, which {encoding.upper()} does without")
    lines = _LINE_END.split(text)
    return lines if lines[-1] else lines[:-1]


def read_manifest(name: str, lines: list[str], declaration: Declaration) -> tuple[Manifest, list[Fault]]:
    """Read a manifest or tag manifest (2.1.3, 2.2.1)."""
    algorithm = name.removeprefix("tag").removeprefix("manifest-").removesuffix(".txt")
    digests: dict[str, str] = {}
    faults = []
    for number, line in enumerate(lines, start=1):
        match = _ENTRY.fullmatch(line)
        if match is None or not _is_digest(match[1], algorithm):
            faults.append(Fault("form", name, f"line {number} is not a digest and a path"))
            continue
        digest, path = match[1].lower(), decoded(match[2], declaration)
        fault = _misplaced(name, path) or _repeated(digests.get(path), digest, declaration)
        if fault:
            kind = "path" if path_astray(path) else "form"
            faults.append(Fault(kind, name, f"line {number} names {path}: {fault}"))
        else:
            digests[path] = digest
    return Manifest(name, algorithm, digests), faults


def _is_digest(text: str, algorithm: str) -> bool:
    size = HEX_DIGITS.get(algorithm)
    return size is None or (len(text) == size and _HEX.fullmatch(text) is not None)


def decoded(path: str, declaration: Declaration) -> str:
    r"""Return a path as it is on the disk: line ends, and since 1.0 percent signs, are written in hex.

    >>> decoded("data/50%25%0a", Declaration("1.0", "utf-8")), decoded("data/50%25", Declaration("0.97", "utf-8"))
    ('data/50%\n', 'data/50%25')
    """
    written = _ENCODED if declaration.final else _DRAFT_ENCODED
    return written.sub(lambda match: chr(int(match[1], 16)), path)


def _misplaced(name: str, path: str) -> str:
    if fault := path_astray(path):
        return fault
    if name.startswith("tag"):
        if path.startswith("tagmanifest-"):
            return "a tag manifest lists no tag manifest"
        return "a tag manifest lists no payload" if path.startswith(PAYLOAD) else ""
    return "" if path.startswith(PAYLOAD) else f"it is not below {PAYLOAD}"


def _repeated(first: str | None, digest: str, declaration: Declaration) -> str:
    if first is None:
        return ""
    if first != digest:
        return "it is listed before, with another digest"
    return "it is listed before" if declaration.final else ""


def read_fetch(lines: list[str], declaration: Declaration) -> tuple[tuple[str, ...], list[Fault]]:
    """Read ``fetch.txt`` (2.2.3): the paths of the payload that is to be fetched from elsewhere."""
    paths, faults = [], []
    for number, line in enumerate(lines, start=1):
        match = _FETCH.fullmatch(line)
        path = decoded(match[1], declaration) if match else ""
        if match is None:
            faults.append(Fault("form", "fetch.txt", f"line {number} is not an address, a length and a path"))
        elif fault := _misplaced("fetch.txt", path):
            kind = "path" if path_astray(path) else "form"
            faults.append(Fault(kind, "fetch.txt", f"line {number} names {path}: {fault}"))
        else:
            paths.append(path)
    return tuple(paths), faults


def read_oxums(name: str, lines: list[str], declaration: Declaration) -> tuple[list[tuple[int, int]], list[Fault]]:
    """Read (bytes, files) of each Payload-Oxum in the file that describes the bag (2.2.2)."""
    oxums: list[tuple[int, int]] = []
    faults = []
    for number, label, value in _labels(lines):
        if not label:
            faults.append(Fault("form", name, f"line {number} is not a label, a colon and a value"))
        elif label.lower() == "payload-oxum":
            match = _OXUM.fullmatch(value)
            if match is None:
                faults.append(Fault("form", name, f"line {number}: Payload-Oxum is not bytes.files"))
            elif oxums and declaration.final:
                faults.append(Fault("form", name, f"line {number}: Payload-Oxum is there once more"))
            else:
                oxums.append((int(match[1]), int(match[2])))
    return oxums, faults


def _labels(lines: list[str]) -> Iterator[tuple[int, str, str]]:
    """Yield line, label and the first line of the value; the label is "" where there is none."""
    is_after_label = False
    for number, line in enumerate(lines, start=1):
        if not line.strip() or (is_after_label and line[0] in " \t"):
            continue
        label, colon, value = line.partition(":")
        is_after_label = True
        yield number, label.strip() if colon else "", value.strip()
