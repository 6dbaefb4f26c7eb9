"""Check an archive of ours against its manifests: complete, unchanged, as it was written.

Bags that others made are checked by :mod:`sitegen.archive.others`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from sitegen.archive.reading import Bag, Fault
from sitegen.findings.bagpaths import path_fault
from sitegen.project import limits
from sitegen.project.packed import UNREADABLE
from sitegen.render.place.bag import ALGORITHMS, DECLARATION, PAYLOAD, manifest_bytes
from sitegen.render.place.fixity import Fixity, fixity_of

_LINE = re.compile(r"([0-9a-fA-F]+)[ \t]+\*?(\S.*)")
_OXUM = re.compile(rb"^Payload-Oxum: *(\d+)\.(\d+)\r?$", re.MULTILINE)
_ENCODED = re.compile(r"%(0A|0D|25)", re.IGNORECASE)
_HEX_DIGITS = {"sha256": 64, "sha512": 128}


class Checked(NamedTuple):
    """The fixity of each file that could be read, and what is wrong."""

    fixities: dict[str, Fixity]
    faults: tuple[Fault, ...]


def check_fixity(bag: Bag) -> Checked:
    """Read every file of a bag once and compare it with the manifests.

    A bag with unsafe names is not read further.
    """
    if bag.faults or bag.doubts:
        return Checked({}, tuple(sorted((*bag.faults, *bag.doubts))))
    lists, faults = _read_lists(bag)
    if faults:
        return Checked({}, tuple(faults))
    fixities, unread = _fixities(bag)
    faults = [*unread, *_declaration(bag, fixities), *_oxum(bag, fixities)]
    for part in ("manifest", "tagmanifest"):
        faults += _compare(part, lists, fixities)
    faults += _unlisted(bag, lists)
    if not faults:
        faults += _exact(bag, fixities)
    return Checked(fixities, tuple(sorted(set(faults))))


def _fixities(bag: Bag) -> tuple[dict[str, Fixity], list[Fault]]:
    fixities: dict[str, Fixity] = {}
    faults = []
    for name in bag.names:
        try:
            with bag.open(name) as stream:
                fixities[name] = fixity_of(stream)
        except UNREADABLE as error:
            faults.append(Fault("changed", name, f"it can't be read ({error})"))
    return fixities, faults


Lists = Mapping[str, Mapping[str, str]]
"""Digest by path, by the name of the manifest."""


def _read_lists(bag: Bag) -> tuple[Lists, list[Fault]]:
    lists: dict[str, dict[str, str]] = {}
    faults: list[Fault] = []
    if "fetch.txt" in bag.names:
        faults.append(Fault("form", "fetch.txt", "files to be fetched are not accepted: this bag is not whole"))
    for algorithm in ALGORITHMS:
        for part in ("manifest", "tagmanifest"):
            name = f"{part}-{algorithm}.txt"
            if name not in bag.names:
                faults.append(Fault("missing", name, "a bag of sitegen has this list of digests"))
                continue
            try:
                text = bag.read(name, limits.LIST_BYTES).decode("utf-8")
                lists[name] = dict(_parsed(name, _few_lines(text), algorithm, faults))
            except UNREADABLE as error:
                faults.append(Fault("changed", name, f"it can't be read ({error})"))
    return lists, faults


def _few_lines(text: str) -> str:
    if text.count("\n") > limits.LIST_LINES.value // (2 * len(ALGORITHMS)):
        raise ValueError(f"the lists have more than {limits.LIST_LINES.text}")
    return text


def _parsed(name: str, text: str, algorithm: str, faults: list[Fault]) -> Iterator[tuple[str, str]]:
    """Yield (path, digest) for each line; what can't be accepted goes to ``faults``."""
    seen = set()
    for number, line in enumerate(text.removesuffix("\n").split("\n"), start=1):
        match = _LINE.fullmatch(line.removesuffix("\r"))
        if match is None or len(match[1]) != _HEX_DIGITS[algorithm]:
            faults.append(Fault("form", name, f"line {number} is not a digest and a path"))
            continue
        path = _ENCODED.sub(lambda found: chr(int(found[1], 16)), match[2])
        fault = path_fault(path)
        if fault:
            faults.append(Fault("path", path, f"{fault}; line {number} of {name}"))
        elif path in seen:
            faults.append(Fault("form", name, f"line {number} names {path} once more"))
        elif path.startswith(PAYLOAD) is name.startswith("tag"):
            faults.append(Fault("form", name, f"line {number} names {path}, which belongs to the other lists"))
        else:
            seen.add(path)
            yield path, match[1].lower()


def _declaration(bag: Bag, fixities: Mapping[str, Fixity]) -> Iterator[Fault]:
    if "bagit.txt" not in bag.names:
        yield Fault("missing", "bagit.txt", "the declaration that this is a bag")
    elif "bagit.txt" in fixities and not _declares(bag, fixities["bagit.txt"].size):
        yield Fault("form", "bagit.txt", "it does not declare BagIt 1.0 in UTF-8")


def _declares(bag: Bag, size: int) -> bool:
    return size <= limits.INFO_BYTES.value and bag.read("bagit.txt", limits.INFO_BYTES) == DECLARATION


def _oxum(bag: Bag, fixities: Mapping[str, Fixity]) -> Iterator[Fault]:
    if "bag-info.txt" not in fixities:
        return
    if fixities["bag-info.txt"].size > limits.INFO_BYTES.value:
        yield Fault("form", "bag-info.txt", f"it is larger than {limits.INFO_BYTES.value:,} bytes")
        return
    payload = [fixity for name, fixity in fixities.items() if name.startswith(PAYLOAD)]
    told = _OXUM.search(bag.read("bag-info.txt", limits.INFO_BYTES))
    found = (sum(fixity.size for fixity in payload), len(payload))
    if told is None:
        yield Fault("form", "bag-info.txt", "it holds no line Payload-Oxum")
    elif (int(told[1]), int(told[2])) != found:
        said = f"it counts {told[1].decode()} bytes in {told[2].decode()} files; found {found[0]} in {found[1]}"
        yield Fault("changed", "bag-info.txt", said)


def _compare(part: str, lists: Lists, fixities: Mapping[str, Fixity]) -> Iterator[Fault]:
    """Compare files with the digests of both algorithms; where only one agrees, its list is at fault."""
    listed = {algorithm: lists[f"{part}-{algorithm}.txt"] for algorithm in ALGORITHMS}
    for name in sorted(set().union(*listed.values())):
        if name not in fixities:
            yield Fault("missing", name, "it is listed and not there")
            continue
        told = {algorithm: listed[algorithm].get(name) for algorithm in ALGORITHMS}
        agree = [algorithm for algorithm in ALGORITHMS if told[algorithm] == fixities[name].digest(algorithm)]
        if not agree:
            yield Fault("changed", name, "its content is not what it was")
        for algorithm in ALGORITHMS:
            if agree and algorithm not in agree:
                said = f"the digest of {name} in it is not what it was (the other list agrees with the file)"
                yield Fault("changed", f"{part}-{algorithm}.txt", said)


def _unlisted(bag: Bag, lists: Lists) -> Iterator[Fault]:
    payload, tags = (lists[f"{part}-{ALGORITHMS[0]}.txt"] for part in ("manifest", "tagmanifest"))
    for name in bag.names:
        known = name in (payload if name.startswith(PAYLOAD) else tags)
        if not known and not name.startswith("tagmanifest-"):
            yield Fault("added", name, "it is there and not listed")


def _exact(bag: Bag, fixities: Mapping[str, Fixity]) -> Iterator[Fault]:
    """Compare the tag manifests, which no digest covers, with what would be written."""
    tags = {name: fixity for name, fixity in fixities.items() if not name.startswith((PAYLOAD, "tagmanifest-"))}
    for algorithm in ALGORITHMS:
        name = f"tagmanifest-{algorithm}.txt"
        if bag.read(name, limits.LIST_BYTES) != manifest_bytes(tags, algorithm):
            yield Fault("changed", name, "its digests agree, but it is not in the form in which it was written")
