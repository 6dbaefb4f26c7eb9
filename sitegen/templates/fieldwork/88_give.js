// The evening: an export that leaves the device, and exports that come in.

let made = null;
let offered = null;

function download(name, text, type) {
  const address = URL.createObjectURL(new Blob([text], { type }));
  const link = el("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 60000);
}

// The number is used up as soon as an export is made: no two exports of a device have one name.
async function exportNow() {
  if (!mayWrite()) return saved("");
  try {
    made = await makeExport();
  } catch (trouble) {
    say(`No export was made: ${trouble.message}.`);
    return;
  }
  record.exports += 1;
  record.exported = record.changes.length;
  record.exported_at = nowToTheMinute();
  save();
  download(made.name, made.text, "application/json");
  saved(`${made.name} created. Check that it is in the downloads, and copy it off this device.`);
  render();
}

async function copyText() {
  const area = document.getElementById("export-text");
  area.select();
  try {
    await navigator.clipboard.writeText(area.value);
  } catch {
    document.execCommand("copy");
  }
  say("Text copied. Paste it into a message or a file of the same name.");
}

function madeSection() {
  if (!made) return null;
  return el("section", { class: "panel", "aria-labelledby": "made-title" }, el("h2", { id: "made-title" }, made.name),
    el("p", {}, "If no file was saved, copy its text instead."),
    el("div", { class: "row" }, button("Save the file again", () => download(made.name, made.text, "application/json"), { id: "again" }), button("Copy the text", copyText, { id: "copy" })),
    el("label", { for: "export-text" }, "Text of the export"), areaFor("export-text", made.text));
}

function areaFor(id, text) {
  const area = el("textarea", { id, rows: 4, readonly: true, spellcheck: "false" });
  area.value = text;
  return area;
}

async function takeText(text) {
  try {
    const read = await readExport(text);
    offered = { read, as: standing(read) };
  } catch (trouble) {
    offered = { trouble: trouble.message };
  }
  say(offered.trouble || "The export was read.");
  render();
}

function take(act, words) {
  const count = act();
  offered = null;
  saved(words(count));
  render();
}

function offerSection() {
  if (!offered) return null;
  if (offered.trouble) return el("p", { class: "stop" }, el("strong", {}, "Error: "), offered.trouble);
  const { read, as } = offered;
  const name = `export ${read.number} of device ${read.device}, made ${plainTime(read.made_at)}`;
  const merge = button("Add it to this record", () => take(() => mergeExport(read), (count) => `${count} cells imported. Differences are listed below.`), { id: "merge" });
  const back = button("Restore this device from it", () => take(() => restore(read), () => `The record of device ${read.device} is restored.`), { id: "restore" });
  const words = {
    known: ["This record already contains all of it."],
    newer: ["It is from this device and newer than this record.", back],
    blank: ["No entries on this device yet. Restore from the export if the record of the other device was lost; add it if that device is still in use.", back, merge],
    other: ["Rows are added and blank cells filled. A cell with a different entry here is kept, and both are shown.", merge],
  }[as];
  return el("section", { class: "panel", "aria-label": "Export read" }, el("p", {}, el("strong", {}, name)), words.map((one) => (typeof one === "string" ? el("p", {}, one) : one)));
}

function importSection() {
  const file = el("input", { type: "file", id: "import-file", accept: ".json,application/json" });
  file.addEventListener("change", async () => { if (file.files[0]) takeText(await file.files[0].text()); });
  const area = el("textarea", { id: "import-text", rows: 3, spellcheck: "false" });
  return el("section", { class: "panel", "aria-labelledby": "import-title" }, el("h2", { id: "import-title" }, "Import an export"),
    el("div", { class: "field" }, el("label", { for: "import-file" }, "File of an export"), file),
    el("div", { class: "field" }, el("label", { for: "import-text" }, "Or its text"), area),
    button("Read the text", () => takeText(area.value), { id: "read-text" }), offerSection());
}

function conflictSection() {
  if (!record.conflicts.length) return null;
  return el("section", { class: "panel", "aria-labelledby": "conflict-title" }, el("h2", { id: "conflict-title" }, `Differences: ${record.conflicts.length}`),
    el("p", {}, "This device keeps its own entry. Correct it where the other is right; the office receives both."),
    record.conflicts.map((one) => el("dl", { class: "beside" },
      el("dt", {}, `${one.table} ${one.key}, ${one.column}`),
      el("dd", {}, el("span", { class: "small" }, "here"), one.mine), el("dd", {}, el("span", { class: "small" }, one.from), one.theirs))));
}

function csvSection() {
  const tables = TABLES.filter((name) => name !== "locations" && ownRows(name).length);
  return el("details", { class: "panel" }, el("summary", {}, "The same tables as CSV"),
    el("p", {}, "In the format of the project folder. Text that a spreadsheet would read as a formula is preceded by an apostrophe."),
    tables.length ? el("div", { class: "row" }, tables.map((name) => button(`${name}.csv`, () => download(`${record.device}-${name}.csv`, csvOf(name), "text/csv"), { id: `csv-${name}` }))) : el("p", {}, "Nothing is recorded yet."));
}

function showGive() {
  const last = record.exported_at ? `The last export, number ${record.exports}, was made ${plainTime(record.exported_at)}.` : "No export was made on this device yet.";
  return [
    el("h1", {}, "Export"),
    el("p", {}, `${unexported()} changes are not exported. ${last}`),
    button("Export now", exportNow, { class: "main", id: "export-now" }),
    madeSection(), conflictSection(), importSection(), csvSection(),
    el("section", { class: "panel", "aria-labelledby": "lose-title" }, el("h2", { id: "lose-title" }, "Risk of data loss"),
      el("p", {}, "The record is stored by this browser, on this device, for this file. It is lost if:"),
      list(["the browser's data, history or “site data” is cleared, by a person, or by the device when storage is short;", "the page was opened in a private window;",
        "the file is moved, renamed or opened in another browser: some browsers then start with an empty record;", "the device is lost, broken or reset;", "the browser or the device stops within seconds of an entry."]),
      el("p", {}, "Export each evening, and copy the file to a second location.")),
    facts([["Device", record.device], ["Project", plan.project.id], ["Plan of this form", plan.kit], ["Changes logged", String(record.changes.length)]]),
  ];
}
