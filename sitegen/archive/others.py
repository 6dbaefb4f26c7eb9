"""Check a bag that another program made: valid by RFC 8493 or a draft of it, or why it is not.

Stricter than the standard in one thing: a path with a backslash, or with an empty step, is
refused, for it means other files on other systems. Names that differ by letter case or Unicode
form alone are valid, and told.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import IO, NamedTuple

from sitegen.archive.reading import DECLARATION_FILE, Bag, Fault
from sitegen.archive.tagfiles import (
    HEX_DIGITS,
    Declaration,
    Manifest,
    read_declaration,
    read_fetch,
    read_manifest,
    read_oxums,
    text_lines,
)
from sitegen.project import limits
from sitegen.project.packed import UNREADABLE
from sitegen.render.place.bag import PAYLOAD

_MANIFEST = re.compile(r"(tag)?manifest-[^/]+\.txt")
_MANIFEST_NAME = re.compile(r"(tag)?manifest-[a-z0-9]+\.txt")
_WEAK = frozenset({"md5", "sha1"})
_PIECE_BYTES = 1 << 20
_MAX_TOLD = 5


class OtherBag(NamedTuple):
    """What the check of such a bag came to: the number of files read, faults, notes, and what it went by."""

    files: int
    faults: tuple[Fault, ...]
    notes: tuple[str, ...] = ()
    standard: str = "RFC 8493"


@dataclass(frozen=True, slots=True)
class _Form:
    """What the tag files say of the bag; ``oxums`` are (bytes, files)."""

    declaration: Declaration
    manifests: tuple[Manifest, ...]
    to_fetch: tuple[str, ...]
    oxums: tuple[tuple[int, int], ...]

    @property
    def payload(self) -> tuple[Manifest, ...]:
        return tuple(manifest for manifest in self.manifests if not manifest.of_tags)

    @property
    def tags(self) -> tuple[Manifest, ...]:
        return tuple(manifest for manifest in self.manifests if manifest.of_tags)

    @property
    def algorithms(self) -> list[str]:
        return sorted({manifest.algorithm for manifest in self.manifests if manifest.known})

    @property
    def standard(self) -> str:
        return f"BagIt {self.declaration.version}, {' and '.join(self.algorithms) or 'no known digest'}"


class _Content(NamedTuple):
    """Size in bytes and digests of a file, by algorithm."""

    size: int
    digests: Mapping[str, str]


class _Unusable(Exception):
    """The tag files can't be gone by; what is wrong with them."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        super().__init__()
        self.faults = tuple(sorted(set(faults)))


def check_other(bag: Bag) -> OtherBag:
    """Check form, completeness and fixity of a bag whose names are safe; each file is read once.

    What is wrong with the tag files is told alone: without them nothing can be said of the rest.
    """
    try:
        form = _read_form(bag)
    except _Unusable as unusable:
        return OtherBag(0, unusable.faults)
    listed = {manifest.name: _on_disk(manifest.digests, bag) for manifest in form.manifests}
    faults = [*_form_faults(bag, form)]
    if faults:
        return OtherBag(0, tuple(sorted(set(faults))), standard=form.standard)
    contents, unread = _contents(bag, form, listed)
    faults += [*unread, *_lists_agree(bag, form, listed), *_changed(form, listed, contents), *_oxum(form, contents)]
    notes = () if faults else tuple(_notes(bag, form, listed))
    return OtherBag(len(contents), tuple(sorted(set(faults))), notes, form.standard)


def _read_form(bag: Bag) -> _Form:
    if DECLARATION_FILE not in bag.names:
        raise _Unusable([Fault("missing", DECLARATION_FILE, "the declaration that this is a bag")])
    try:
        declaration = read_declaration(bag.read(DECLARATION_FILE, limits.INFO_BYTES))
    except UNREADABLE as error:
        raise _Unusable([Fault("form", DECLARATION_FILE, str(error))]) from error
    reader = _TagFiles(bag, declaration)
    manifests = tuple(reader.manifest(name) for name in bag.names if _MANIFEST.fullmatch(name))
    to_fetch = reader.fetch() if "fetch.txt" in bag.names else ()
    oxums = reader.oxums() if declaration.info in bag.names else ()
    if reader.faults:
        raise _Unusable(reader.faults)
    return _Form(declaration, manifests, to_fetch, oxums)


class _TagFiles:
    """The tag files of one bag; what is wrong with them is gathered, and the lines of its lists counted."""

    def __init__(self, bag: Bag, declaration: Declaration) -> None:
        self.faults: list[Fault] = []
        self._bag, self._declaration = bag, declaration
        self._left = limits.LIST_LINES.value

    def manifest(self, name: str) -> Manifest:
        if not _MANIFEST_NAME.fullmatch(name):
            said = "the algorithm in its name is not written in lower-case letters and digits alone"
            self.faults.append(Fault("form", name, said))
        manifest, faults = read_manifest(name, self._lines(name, limits.LIST_BYTES), self._declaration)
        self.faults += faults
        return manifest

    def fetch(self) -> tuple[str, ...]:
        paths, faults = read_fetch(self._lines("fetch.txt", limits.LIST_BYTES), self._declaration)
        self.faults += faults
        return paths

    def oxums(self) -> tuple[tuple[int, int], ...]:
        name = self._declaration.info
        oxums, faults = read_oxums(name, self._lines(name, limits.INFO_BYTES), self._declaration)
        self.faults += faults
        return tuple(oxums)

    def _lines(self, name: str, most: limits.Bound) -> list[str]:
        try:
            content = self._bag.read(name, most)
            self._left -= content.count(b"\n") + content.count(b"\r")
            if self._left < 0:
                raise ValueError(f"it and the lists before it have more than {limits.LIST_LINES.text}")
            return text_lines(content, self._declaration.encoding)
        except UNREADABLE as error:
            self.faults.append(Fault("form", name, str(error)))
            return []


def _form_faults(bag: Bag, form: _Form) -> Iterator[Fault]:
    if PAYLOAD.removesuffix("/") not in bag.folders:
        yield Fault("missing", PAYLOAD, "the folder of the payload")
    if not form.payload:
        yield Fault("missing", "manifest-sha512.txt", "no manifest of the payload, by this algorithm or another")
    elif not any(manifest.known for manifest in form.payload):
        said = f"no manifest of the payload is by an algorithm that is known ({', '.join(HEX_DIGITS)})"
        yield Fault("form", ", ".join(manifest.name for manifest in form.payload), said)
    for manifest in form.tags if form.declaration.final else ():
        for other in form.payload:
            if other.name not in manifest.digests:
                yield Fault("form", manifest.name, f"it does not list {other.name}; it has to list every manifest")


def _on_disk(digests: Mapping[str, str], bag: Bag) -> dict[str, str]:
    """Return the digests by the path on the disk, which may have another Unicode form than the list."""
    names = set(bag.names)
    forms: dict[str, list[str]] = {}
    if not digests.keys() <= names:
        for name in bag.names:
            forms.setdefault(unicodedata.normalize("NFC", name), []).append(name)
    places: dict[str, str] = {}
    for path, digest in digests.items():
        others = [] if path in names else forms.get(unicodedata.normalize("NFC", path), [])
        is_only = len(others) == 1 and others[0] not in digests and others[0] not in places
        places[others[0] if is_only else path] = digest
    return places


Listed = Mapping[str, Mapping[str, str]]
"""Digest by the path on the disk, by the name of the manifest."""


def _contents(bag: Bag, form: _Form, listed: Listed) -> tuple[dict[str, _Content], list[Fault]]:
    """Read the payload and each tag file that is listed."""
    tags = set().union(*(listed[manifest.name] for manifest in form.tags))
    contents: dict[str, _Content] = {}
    faults = []
    for name in bag.names:
        if name.startswith(PAYLOAD) or name in tags:
            try:
                with bag.open(name) as stream:
                    contents[name] = _content(stream, form.algorithms)
            except UNREADABLE as error:
                faults.append(Fault("changed", name, f"it can't be read ({error})"))
    return contents, faults


def _content(stream: IO[bytes], algorithms: Collection[str]) -> _Content:
    size, digests = 0, {name: hashlib.new(name, usedforsecurity=False) for name in algorithms}
    while piece := stream.read(_PIECE_BYTES):
        size += len(piece)
        for digest in digests.values():
            digest.update(piece)
    return _Content(size, {name: digest.hexdigest() for name, digest in digests.items()})


def _lists_agree(bag: Bag, form: _Form, listed: Listed) -> Iterator[Fault]:
    """Compare what is listed with what is there (section 3)."""
    names = set(bag.names)
    for manifest in form.manifests:
        for path in listed[manifest.name].keys() - names:
            said = "it is to be fetched and not there" if path in form.to_fetch else "it is listed and not there"
            yield Fault("missing", path, said)
    payload = {name for name in names if name.startswith(PAYLOAD)}
    everywhere = set().union(*(listed[manifest.name] for manifest in form.payload))
    for path in payload - everywhere:
        yield Fault("added", path, "it is there and in no manifest")
    for manifest in form.payload:
        paths = set(listed[manifest.name])
        for path in sorted(everywhere - paths) if form.declaration.final else ():
            yield Fault("form", manifest.name, f"it does not list {path}, which another manifest lists")
    for path in set(form.to_fetch).difference(*(manifest.digests for manifest in form.payload)):
        yield Fault("form", "fetch.txt", f"it names {path}, which no manifest lists")


def _changed(form: _Form, listed: Listed, contents: Mapping[str, _Content]) -> Iterator[Fault]:
    for manifest in form.manifests:
        if manifest.known:
            for path, digest in listed[manifest.name].items():
                if path in contents and contents[path].digests[manifest.algorithm] != digest:
                    yield Fault("changed", path, f"its content is not what {manifest.name} says")


def _oxum(form: _Form, contents: Mapping[str, _Content]) -> Iterator[Fault]:
    sizes = [content.size for name, content in contents.items() if name.startswith(PAYLOAD)]
    there = (sum(sizes), len(sizes))
    for told in form.oxums:
        if told != there:
            said = f"Payload-Oxum counts {told[0]} bytes in {told[1]} files; found {there[0]} in {there[1]}"
            yield Fault("changed", form.declaration.info, said)


def _notes(bag: Bag, form: _Form, listed: Listed) -> Iterator[str]:
    """Tell what is allowed and yet to be known."""
    if set(form.algorithms) <= _WEAK:
        yield "its digests show damage; MD5 and SHA-1 do not withstand a forger"
    unknown = [manifest.name for manifest in form.manifests if not manifest.known]
    if unknown:
        yield f"not checked, for the algorithm is unknown: {_few(unknown)}"
    tags = set().union(*(listed[manifest.name] for manifest in form.tags))
    loose = [name for name in bag.names if not name.startswith((PAYLOAD, "tagmanifest-")) and name not in tags]
    if loose:
        yield f"{_count(loose, 'tag file')} in no tag manifest, so that a change is not noticed: {_few(loose)}"
    if form.to_fetch:
        yield f"fetch.txt names {_count(set(form.to_fetch), 'file')}, all of the payload is there"
    if bag.doubts:
        doubts = [f"{fault.path} ({fault.said})" for fault in bag.doubts]
        yield f"{_count(doubts, 'name')} that not every system can write or tell apart: {_few(doubts)}"
    other_forms = sorted(set().union(*(listed[m.name].keys() - m.digests.keys() for m in form.manifests)))
    if other_forms:
        yield f"{_count(other_forms, 'name')} in another Unicode form than in a manifest: {_few(other_forms)}"


def _count(things: Collection[str], noun: str) -> str:
    return f"{len(things)} {noun}{'' if len(things) == 1 else 's'}"


def _few(names: list[str]) -> str:
    more = f" and {len(names) - _MAX_TOLD} more" if len(names) > _MAX_TOLD else ""
    return ", ".join(names[:_MAX_TOLD]) + more
