"""Bags as other programs may make them, after the text of RFC 8493 and its drafts: each with its verdict."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass

Files = dict[str, bytes]
"""The files of a bag by path; a path that ends in a slash is an empty folder."""

PAYLOAD: Files = {"data/a.txt": b"one\n", "data/deep/b.txt": b"two\n"}


def manifest(files: Mapping[str, bytes], algorithm: str, end: str = "\n") -> str:
    """Write the lines of a manifest, of names that need no care."""
    return "".join(
        f"{hashlib.new(algorithm, content).hexdigest()}  {name}{end}" for name, content in sorted(files.items())
    )


def bag(
    payload: Mapping[str, bytes] = PAYLOAD,
    *,
    version: str = "1.0",
    charset: str = "UTF-8",
    by: tuple[str, ...] = ("sha256",),
    tags_by: tuple[str, ...] = (),
    tags: Mapping[str, bytes] | None = None,
    names: Callable[[str], str] = str,
    end: str = "\n",
) -> Files:
    """Make a valid bag; ``names`` is how a manifest writes a path, ``end`` how a tag file's lines end."""
    declaration = f"BagIt-Version: {version}{end}Tag-File-Character-Encoding: {charset}{end}"
    whole = {"bagit.txt": declaration.encode(), **(tags or {}), **(payload or {"data/": b""})}
    for algorithm in by:
        lines = manifest({names(name): content for name, content in payload.items()}, algorithm, end)
        whole[f"manifest-{algorithm}.txt"] = lines.encode(charset)
    listed = {name: content for name, content in whole.items() if not name.startswith("data/")}
    for algorithm in tags_by:
        whole[f"tagmanifest-{algorithm}.txt"] = manifest(listed, algorithm, end).encode(charset)
    return whole


def oxum(text: str, label: str = "Payload-Oxum") -> Files:
    return {"bag-info.txt": f"Source-Organization: Invented Archive\n{label}: {text}\n".encode()}


def line(path: str, content: bytes = b"one\n") -> bytes:
    return f"{hashlib.sha256(content).hexdigest()}  {path}\n".encode()


def without(files: Files, *names: str) -> Files:
    return {name: content for name, content in files.items() if name not in names}


def added(files: Files, name: str, content: bytes) -> Files:
    """Append to a file of the bag, or add it."""
    return files | {name: files.get(name, b"") + content}


def encoded(path: str) -> str:
    return path.replace("%", "%25").replace("\n", "%0A").replace("\r", "%0D")


@dataclass(frozen=True)
class Case:
    """One bag: whether it is valid, words of the note or of the fault, and why the library says otherwise."""

    name: str
    files: Files
    said: tuple[str, ...] = ()
    library: str = ""


FETCHED = b"https://example.invalid/a 4 data/a.txt\n"
TWO = bag(by=("sha256", "sha512"))
TAGGED = bag(tags=oxum("8.2"), tags_by=("sha256",))
ONLY_A = manifest({"data/a.txt": b"one\n"}, "sha512").encode()
FIRST, SECOND = manifest(PAYLOAD, "sha256").encode().splitlines(keepends=True)

VALID_BAGS = (
    Case("one manifest", bag(), ("2 files read", "2 tag files in no tag manifest", "bagit.txt, manifest-sha256.txt")),
    Case("tag manifest and Payload-Oxum", TAGGED, ("BagIt 1.0, sha256",)),
    Case("no payload", bag({}), ("0 files read",)),
    Case("no payload, counted", bag({}, tags=oxum("0.0"))),
    Case("version 0.97", bag(version="0.97"), ("BagIt 0.97",)),
    Case("version 0.96", bag(version="0.96"), ("BagIt 0.96",)),
    Case("version 0.95 with its own info file", bag(version="0.95", tags={"package-info.txt": b"Payload-Oxum: 8.2\n"})),
    Case("0.97 with blanks around the colons", bag(version="0.97") | {
        "bagit.txt": b"BagIt-Version : 0.97\nTag-File-Character-Encoding :UTF-8\n"}),
    Case("md5", bag(by=("md5",), tags_by=("md5",)), ("MD5 and SHA-1 do not withstand",)),
    Case("sha1", bag(by=("sha1",)), ("MD5 and SHA-1 do not withstand",)),
    Case("all four", bag(by=("md5", "sha1", "sha256", "sha512")), ("md5 and sha1 and sha256 and sha512",)),
    Case("sha384", bag(by=("sha384",))),
    Case("tag manifest by another algorithm", bag(by=("sha512",), tags_by=("md5",))),
    Case("an unknown algorithm beside a known one", bag() | {
        "manifest-crc99.txt": b"zz  data/a.txt\nyy  data/deep/b.txt\n"},
        ("not checked, for the algorithm is unknown: manifest-crc99.txt",)),
    Case("tag files of its own, not listed", TAGGED | {"notes/read me.txt": b"hello"},
        ("1 tag file in no tag manifest", "notes/read me.txt")),
    Case("a tag folder that is listed", bag(tags={"meta/a.xml": b"<a/>"}, tags_by=("sha512",))),
    Case("upper-case digests", bag() | {"manifest-sha256.txt": b"".join(
        part.upper() if number % 2 == 0 else part for number, part in enumerate(
            piece for row in (FIRST, SECOND) for piece in (row[:64], row[64:])))}),
    Case("asterisks of sha256sum --binary", bag(names=lambda name: f"*{name}") ),
    Case("tabs before the paths", bag() | {"manifest-sha256.txt": (FIRST + SECOND).replace(b"  ", b"\t")}),
    Case("lines that end in CR LF", bag(end="\r\n")),
    Case("lines that end in CR", bag(end="\r")),
    Case("no end of the last line", bag() | {"manifest-sha256.txt": (FIRST + SECOND).rstrip(),
        "bagit.txt": bag()["bagit.txt"].rstrip()}),
    Case("ISO-8859-1", bag({"data/grün.txt": b"x"}, charset="ISO-8859-1")),
    Case("UTF-16", bag({"data/grün.txt": b"x"}, charset="UTF-16")),
    Case("UTF-16 without a mark is big-endian", bag() | {
        "bagit.txt": bag(charset="UTF-16")["bagit.txt"],
        "manifest-sha256.txt": manifest(PAYLOAD, "sha256").encode("utf-16-be")},
        library="it takes the machine's byte order"),
    Case("UTF-16BE", bag({"data/grün.txt": b"x"}, charset="UTF-16BE")),
    Case("names with line ends, in hex",
        bag({"data/a\nb": b"1", "data/a\rb": b"2", "data/a\r\nb": b"3"}, names=encoded),
        ("3 names that not every system can write",)),
    Case("a name with a percent sign, in hex", bag({"data/50%.txt": b"1", "data/%0A": b"2"}, names=encoded),
        library="it does not read %25"),
    Case("a name with a percent sign in 0.97, as it is", bag({"data/50%25.txt": b"1"}, version="0.97")),
    Case("hex in lower case", bag({"data/a\nb": b"1"}, names=lambda name: name.replace("\n", "%0a")),
        library="it reads hex in capitals alone"),
    Case("names with blanks", bag({"data/read me now.txt": b"1", "data/ two  blanks ": b"2"}),
        library="it drops blanks at the end of a name"),
    Case("names that differ by case", bag({"data/A.txt": b"1", "data/a.txt": b"2"}), ("differs from data/A.txt",)),
    Case("a name kept for devices", bag({"data/con.txt": b"1"}), ("kept for a device",)),
    Case("a name of 230 characters", bag({"data/" + "x" * 230: b"1"}), ("longer than",)),
    Case("another Unicode form on the disk",
        bag({"data/e\u0301.txt": b"1"}, names=lambda name: name.replace("e\u0301", "é")),
        ("1 name in another Unicode form",)),
    Case("both Unicode forms", bag({"data/é.txt": b"1", "data/e\u0301.txt": b"2"}),
        ("by letter case or Unicode form",)),
    Case("0.97: each file in one of two manifests", bag(version="0.97") | {
        "manifest-sha256.txt": FIRST, "manifest-md5.txt": manifest({"data/deep/b.txt": b"two\n"}, "md5").encode()}),
    Case("0.97: a line twice", added(bag(version="0.97"), "manifest-sha256.txt", FIRST)),
    Case("0.97: a tag manifest without the manifest", bag(version="0.97") | {
        "tagmanifest-sha256.txt": line("bagit.txt", bag(version="0.97")["bagit.txt"])}),
    Case("fetch.txt with all files there", bag() | {"fetch.txt": FETCHED}, ("fetch.txt names 1 file, all",)),
    Case("fetch.txt without a length", bag() | {"fetch.txt": FETCHED.replace(b" 4 ", b" - ")}),
    Case("fetch.txt without a line", bag() | {"fetch.txt": b""}),
    Case("a label in other letters, and a folded line", bag(tags={
        "bag-info.txt": b"External-Description: a\n  folded: line\n\tand more\npayload-oxum: 8.2\n"})),
    Case("a label twice", bag(tags={"bag-info.txt": b"Contact-Name: FS-1\nContact-Name: LR-1\n"})),
    Case("provenance of another program", bag({"data/provenance.json": b'{"prefix": {}}'})),
)  # fmt: skip

INVALID_BAGS = (
    Case("no bagit.txt", without(bag(), "bagit.txt"), ("bagit.txt",)),
    Case("an empty bagit.txt", bag() | {"bagit.txt": b""}, ("bagit.txt: it is no declaration of a bag",)),
    Case("no version", bag() | {"bagit.txt": b"Tag-File-Character-Encoding: UTF-8\n"}, ("BagIt-Version: M.N",)),
    Case("no character set", bag() | {"bagit.txt": b"BagIt-Version: 1.0\n"}, ("Tag-File-Character-Encoding: NAME",)),
    Case("lines in the other order", bag() | {
        "bagit.txt": b"Tag-File-Character-Encoding: UTF-8\nBagIt-Version: 1.0\n"}, ("no declaration of a bag",),
        library="it reads the lines in any order"),
    Case("a third line", added(bag(), "bagit.txt", b"Colour: blue\n"), ("and no other",),
        library="it lets more lines be"),
    Case("1.0 with a blank before the colon", bag() | {
        "bagit.txt": b"BagIt-Version : 1.0\nTag-File-Character-Encoding: UTF-8\n"}, ("no declaration of a bag",),
        library="it takes blanks off"),
    Case("a version that is none", bag(version="one"), ("no declaration of a bag",)),
    Case("a version to come", bag(version="2.0"), ("it declares BagIt 2.0; expected one of 0.93",)),
    Case("a byte order mark in bagit.txt", bag() | {"bagit.txt": b"\xef\xbb\xbf" + bag()["bagit.txt"]},
        ("bagit.txt: it begins with a byte order mark",)),
    Case("bagit.txt in UTF-16", bag() | {"bagit.txt": bag()["bagit.txt"].decode().encode("utf-16")},
        ("bagit.txt: it is not text in UTF-8",), library="it raises UnicodeDecodeError"),
    Case("an unknown character set", bag() | {
        "bagit.txt": b"BagIt-Version: 1.0\nTag-File-Character-Encoding: KLINGON-1\n"},
        ("the character set KLINGON-1",)),
    Case("a codec that is no character set", bag() | {
        "bagit.txt": b"BagIt-Version: 1.0\nTag-File-Character-Encoding: unicode_escape\n"},
        ("the character set unicode_escape",), library="it takes any codec of Python"),
    Case("a manifest in another character set", bag({"data/grün.txt": b"x"}) | {
        "manifest-sha256.txt": line("data/grün.txt", b"x").decode().encode("latin-1")},
        ("manifest-sha256.txt: it is not text in UTF-8",), library="it raises UnicodeDecodeError"),
    Case("a byte order mark in a manifest", bag() | {"manifest-sha256.txt": b"\xef\xbb\xbf" + FIRST + SECOND},
        ("manifest-sha256.txt: it begins with a byte order mark",), library="it warns alone"),
    Case("no payload folder", {**without(bag({}), "data/")}, ("data/: the folder of the payload",)),
    Case("no manifest", without(bag(), "manifest-sha256.txt"),
        ("manifest-sha512.txt: no manifest of the payload, by",)),
    Case("a tag manifest alone", without(TAGGED, "manifest-sha256.txt"),
        ("manifest-sha512.txt: no manifest of the payload, by",)),
    Case("unknown algorithms alone", without(bag(), "manifest-sha256.txt") | {
        "manifest-crc99.txt": b"zz  data/a.txt\nyy  data/deep/b.txt\n"},
        ("by an algorithm that is known (md5, sha1, sha224, sha256",)),
    Case("an algorithm in capitals", without(bag(), "manifest-sha256.txt") | {"manifest-SHA256.txt": FIRST + SECOND},
        ("not written in lower-case letters",)),
    Case("a hyphen in the algorithm", bag() | {"manifest-sha-512.txt": b""}, ("not written in lower-case letters",),
        library="it does not see the file"),
    Case("a line without a path", added(bag(), "manifest-sha256.txt", b"f" * 64 + b"\n"), ("line 3 is not a digest",),
        library="it goes on"),
    Case("a blank line", added(bag(), "manifest-sha256.txt", b"\n"), ("line 3 is not a digest and a path",),
        library="it leaves blank lines out"),
    Case("a comment", added(bag(), "manifest-sha256.txt", b"# made by hand\n"), ("line 3 is not a digest and a path",),
        library="it leaves comments out"),
    Case("a digest that is too short", bag() | {"manifest-sha256.txt": FIRST[1:] + SECOND},
        ("line 1 is not a digest",)),
    Case("a digest that is not hex", bag() | {"manifest-sha256.txt": b"x" + FIRST[1:] + SECOND},
        ("line 1 is not a digest",)),
    Case("a file in no manifest", bag() | {"data/new.txt": b"x"}, ("data/new.txt: it is there and in no manifest",)),
    Case("0.97: a file in no manifest", bag(version="0.97") | {"data/new.txt": b"x"}, ("data/new.txt: it is there",)),
    Case("a hidden file in no manifest", bag() | {"data/.DS_Store": b"x"}, ("data/.DS_Store: it is there",)),
    Case("a listed file that is not there", without(bag(), "data/a.txt"), ("data/a.txt: it is listed and not there",)),
    Case("a listed folder", added(bag(), "manifest-sha256.txt", line("data/deep", b"")), ("data/deep: it is listed",)),
    Case("a name listed in other letters", bag(names=str.lower, payload={"data/A.txt": b"1"}),
        ("data/a.txt: it is listed and not there", "data/A.txt: it is there and in no manifest")),
    Case("both Unicode forms listed, one there", added(
        bag({"data/é.txt": b"1"}), "manifest-sha256.txt", line("data/e\u0301.txt", b"1")),
        ("data/e\u0301.txt: it is listed and not there",)),
    Case("two other Unicode forms listed, one file there", bag({"data/\u00c5": b"1"}) | {
        "manifest-sha256.txt": line("data/A\u030a", b"1") + line("data/\u212b", b"1")},
        ("data/\u212b: it is listed and not there",)),
    Case("other content", bag() | {"data/a.txt": b"0ne\n"},
        ("data/a.txt: its content is not what manifest-sha256.txt",)),
    *(Case(f"other content by {name}", bag(by=(name,)) | {"data/a.txt": b"0ne\n"},
        (f"not what manifest-{name}.txt says",))
      for name in ("md5", "sha1", "sha224", "sha384", "sha512")),
    Case("one of two digests is wrong", TWO | {"manifest-sha512.txt": manifest(
        PAYLOAD | {"data/a.txt": b"0ne\n"}, "sha512").encode()},
        ("data/a.txt: its content is not what manifest-sha512",)),
    Case("two manifests list other files", TWO | {"manifest-sha512.txt": ONLY_A},
        ("manifest-sha512.txt: it does not list data/deep/b.txt",), library="it asks for one manifest alone"),
    Case("an unknown manifest lists other files", bag() | {"manifest-crc99.txt": b"zz  data/a.txt\n"},
        ("manifest-crc99.txt: it does not list data/deep/b.txt",), library="it does not see the file"),
    Case("a line twice", added(bag(), "manifest-sha256.txt", FIRST), ("line 3 names data/a.txt: it is listed before",)),
    Case("0.97: a file with two digests", added(bag(version="0.97"), "manifest-sha256.txt", line("data/a.txt", b"x")),
        ("it is listed before, with another digest",)),
    Case("a tag file in a manifest", added(bag(), "manifest-sha256.txt", line("bagit.txt", bag()["bagit.txt"])),
        ("names bagit.txt: it is not below data/",), library="it does not look where a path leads"),
    *(Case(f"{path} in a manifest", added(bag(), "manifest-sha256.txt", line(path)), (f"names {path}: {said}",))
      for path, said in (
        ("../outside.txt", "it leads out of the archive"),
        ("data/../../outside.txt", "it leads out of the archive"),
        ("data/../bagit.txt", "it leads out of the archive"),
        ("/etc/passwd", "it is not relative"),
        ("~/.profile", "it is not relative"),
        ("~root/x", "it is not relative"),
        ("C:/x", "it begins with a drive letter"),
        ("data\\a.txt", "it holds a backslash"),
        ("./data/a.txt", "it has an empty step"),
        ("data//a.txt", "it has an empty step"))),
    Case(".. in a tag manifest", added(TAGGED, "tagmanifest-sha256.txt", line("../outside.txt")),
        ("tagmanifest-sha256.txt: line 4 names ../outside.txt: it leads out",)),
    Case("~ in a tag manifest", added(TAGGED, "tagmanifest-sha256.txt", line("~/.profile")), ("it is not relative",)),
    Case(".. behind hex that is none of the three", added(bag(), "manifest-sha256.txt", line("data/%2e%2e/x")),
        ("data/%2e%2e/x: it is listed and not there",)),
    Case("a percent sign that is not in hex", bag({"data/50%25.txt": b"1"}),
        ("data/50%.txt: it is listed and not there", "data/50%25.txt: it is there"), library="it does not read %25"),
    Case("another tag file than listed", TAGGED | oxum("8.2", "Payload-oxum"),
        ("bag-info.txt: its content is not what tagmanifest-sha256.txt says",)),
    Case("another manifest than listed", TAGGED | {"manifest-sha256.txt": SECOND + FIRST},
        ("manifest-sha256.txt: its content is not what tagmanifest-sha256.txt says",)),
    Case("a listed tag file that is not there", without(TAGGED, "bag-info.txt"),
        ("bag-info.txt: it is listed and not there",)),
    Case("a tag manifest without the manifest", bag() | {
        "tagmanifest-sha256.txt": line("bagit.txt", bag()["bagit.txt"])},
        ("tagmanifest-sha256.txt: it does not list manifest-sha256.txt",), library="it does not ask for it"),
    Case("a tag manifest in a tag manifest", added(TAGGED, "tagmanifest-sha256.txt", line("tagmanifest-sha256.txt")),
        ("a tag manifest lists no tag manifest",)),
    Case("payload in a tag manifest", added(TAGGED, "tagmanifest-sha256.txt", line("data/a.txt")),
        ("a tag manifest lists no payload",)),
    Case("a file to fetch", without(bag(), "data/a.txt") | {"fetch.txt": FETCHED},
        ("data/a.txt: it is to be fetched and not there",)),
    Case("a file to fetch in no manifest", added(bag(), "fetch.txt", b"https://example.invalid/x 1 data/x.txt\n"),
        ("fetch.txt: it names data/x.txt, which no manifest lists",), library="it looks for those in manifests alone"),
    Case("a tag file to fetch", bag() | {"fetch.txt": b"https://example.invalid/x 1 bagit.txt\n"},
        ("fetch.txt: line 1 names bagit.txt: it is not below data/",), library="it does not look where a path leads"),
    Case(".. in fetch.txt", bag() | {"fetch.txt": b"https://example.invalid/x 1 data/../../x\n"}, ("it leads out",)),
    Case("a line of fetch.txt without a length", bag() | {"fetch.txt": b"https://example.invalid/x data/a.txt\n"},
        ("fetch.txt: line 1 is not an address, a length and a path",), library="it raises ValueError"),
    Case("fetch.txt without an address", bag() | {"fetch.txt": b"somewhere 4 data/a.txt\n"}, ("fetch.txt: line 1",)),
    Case("other bytes than Payload-Oxum", bag(tags=oxum("9.2")),
        ("Payload-Oxum counts 9 bytes in 2 files; found 8 in 2",)),
    Case("other files than Payload-Oxum", bag(tags=oxum("8.3")), ("Payload-Oxum counts 8 bytes in 3 files",)),
    Case("0.95: other bytes than Payload-Oxum", bag(version="0.95", tags={"package-info.txt": b"Payload-Oxum: 9.2\n"}),
        ("package-info.txt: Payload-Oxum counts 9",)),
    Case("other letters in Payload-Oxum", bag(tags=oxum("9.2", "PAYLOAD-OXUM")), ("Payload-Oxum counts 9 bytes",),
        library="it reads one spelling of the label"),
    Case("a Payload-Oxum that is none", bag(tags=oxum("8")), ("line 2: Payload-Oxum is not bytes.files",),
        library="it raises ValueError"),
    Case("two Payload-Oxum", bag(tags=oxum("8.2\nPayload-Oxum: 8.2")), ("line 3: Payload-Oxum is there once more",),
        library="it warns alone"),
    Case("bag-info.txt without a colon", bag(tags={"bag-info.txt": b"Made by hand\n"}),
        ("bag-info.txt: line 1 is not a label, a colon and a value",)),
)  # fmt: skip
