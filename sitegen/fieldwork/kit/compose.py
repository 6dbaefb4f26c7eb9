"""The kit as files in memory: each document of the crew, and what a later reader can prove it by."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass

from sitegen import glyphs
from sitegen.compute.design.fieldplan import FieldPlan
from sitegen.fieldwork.form.page import field_form
from sitegen.fieldwork.form.plandata import plan_data
from sitegen.fieldwork.kit.boxes import Node
from sitegen.fieldwork.kit.checklists import checklists
from sitegen.fieldwork.kit.contacts import contacts
from sitegen.fieldwork.kit.custodyforms import custody_forms
from sitegen.fieldwork.kit.labels import label_sheets, labels_pdf
from sitegen.fieldwork.kit.logsheets import log_sheets
from sitegen.fieldwork.kit.maps import kit_maps
from sitegen.fieldwork.kit.packing import packing_list
from sitegen.fieldwork.kit.prefilled import prefilled_tables
from sitegen.fieldwork.kit.proof import MARK, kit_record
from sitegen.fieldwork.kit.readme import readme
from sitegen.fieldwork.kit.stakeout import stakeout_files
from sitegen.fieldwork.kit.typeset import set_pdf
from sitegen.project.survey import Survey
from sitegen.project.voices import voice_of
from sitegen.render.print.strings import Words, strings, texts_of
from sitegen.voice import in_english, speaking

CONTACTS = "contacts.pdf"
_FORMAT = ("words", "product_words", "choices", "columns", "keys")
"""Parts of a document's data that are the words of the format, whatever the project."""


@dataclass(frozen=True, slots=True)
class Kit:
    """The files of a kit by their path in it, and of its documents the texts that are the project's."""

    files: Mapping[str, bytes]
    texts: Mapping[str, tuple[str, ...]]

    def private_words(self, words: Words) -> list[str]:
        """Return the files in which a private word stands, the sheet of contacts aside."""
        return [name for name in sorted(self.files) if name != CONTACTS and self._holds(name, words)]

    def _holds(self, name: str, words: Words) -> bool:
        texts = self.texts[name] if name in self.texts else texts_of(name, self.files[name])
        return any(words.found_in((name, *texts)))

    def undrawable(self) -> tuple[str, ...]:
        """Return the characters that its PDFs can't show, described; U+FFFD is printed for each."""
        printed = ("".join(texts) for name, texts in self.texts.items() if name.endswith(".pdf"))
        found = frozenset[str]().union(*map(glyphs.undrawable, printed))
        return tuple(map(glyphs.describe, sorted(found)))


def make(survey: Survey, plan: FieldPlan, *, with_contacts: bool) -> Kit:
    """Return the kit of a survey: documents to print, files for devices, a README and the record of all of them."""
    with speaking(in_english(voice_of(survey.folder))):
        return _made(survey, plan, with_contacts=with_contacts)


def _made(survey: Survey, plan: FieldPlan, *, with_contacts: bool) -> Kit:
    files: dict[str, bytes] = {}
    texts: dict[str, tuple[str, ...]] = {}
    for name, data in _documents(survey, plan, with_contacts=with_contacts):
        paper, day = survey.settings.publish.paper, survey.settings.project.report_date
        files[f"{name}.pdf"] = set_pdf(name, {"project": _project(survey), **data}, paper=paper, day=day)
        texts[f"{name}.pdf"] = _own_texts(survey, data)
    files["labels.pdf"] = labels_pdf(survey, plan)
    texts["labels.pdf"] = _own_texts(survey, asdict(label_sheets(survey, plan)))
    files["field_form.html"] = field_form(survey, plan)
    texts["field_form.html"] = _own_texts(survey, plan_data(survey, plan))
    files |= stakeout_files(survey, plan)
    files |= prefilled_tables(survey, plan)
    files["README.txt"] = readme(survey, plan, files)
    texts["README.txt"] = _own_texts(survey, {})
    files[MARK] = kit_record(survey, plan, files)
    return Kit(files, texts)


def _documents(survey: Survey, plan: FieldPlan, *, with_contacts: bool) -> Iterator[tuple[str, Node]]:
    """Yield each document that is set here, by the name of its template, with its data."""
    yield "maps", {"maps": [asdict(one) for one in kit_maps(survey, plan)]}
    yield "log_sheets", log_sheets(survey, plan)
    yield "custody_forms", custody_forms(survey, plan)
    yield "packing_list", packing_list(survey, plan)
    yield "checklists", checklists(survey, plan)
    known = contacts(survey.folder) if with_contacts else None
    if known:
        yield "contacts", known


def _own_texts(survey: Survey, data: Node) -> tuple[str, ...]:
    """Return what the project says in a document: a surname may be a word of the format, or of our own prose."""
    return tuple(strings([_project(survey), {name: part for name, part in data.items() if name not in _FORMAT}]))


def _project(survey: Survey) -> Node:
    """Return what head and foot of every page say."""
    part = survey.settings.project
    return {
        "id": part.id, "title": part.title, "prepared_by": part.prepared_by, "revision": part.revision,
        "digest8": survey.digest[:8],
    }  # fmt: skip
