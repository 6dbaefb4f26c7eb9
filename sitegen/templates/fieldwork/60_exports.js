// What leaves the device and comes back: one JSON file with its SHA-256, and the same tables as CSV.

const FORMAT = "sitegen field record 1";

function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
  if (typeof value === "string") return JSON.stringify(value);
  const names = Object.keys(value).sort();
  return `{${names.map((name) => `${JSON.stringify(name)}:${canonical(value[name])}`).join(",")}}`;
}

function sameRow(one, other) {
  return canonical(one) === canonical(other);
}

// Rows as this device has them, without those that the project folder has already, word for word.
function ownRows(table) {
  const name = plan.keys[table];
  const folder = new Map((plan.tables[table] || []).map((row) => [row[name], row]));
  return rowsOf(table).filter((row) => !folder.has(row[name]) || !sameRow(row, folder.get(row[name])));
}

function exportTables() {
  const filled = TABLES.filter((name) => name !== "locations" || rowsOf(name).length);
  return Object.fromEntries(filled.map((name) => [name, ownRows(name)]));
}

async function makeExport() {
  const made = {
    format: FORMAT, project: plan.project.id, kit: plan.kit, device: record.device, number: String(record.exports + 1),
    made_at: nowToTheMinute(), tables: exportTables(), changes: record.changes,
  };
  const text = canonical({ ...made, sha256: await sha256(canonical(made)) });
  return { name: `field-${made.device}-${made.number}.json`, text };
}

// A text that a spreadsheet would run as a formula gets an apostrophe; the JSON file has it as typed.
function csvCell(text) {
  const safe = /^[=+\-@\t\r]/.test(text) ? `'${text}` : text;
  return /[",\n\r]/.test(safe) ? `"${safe.replace(/"/g, '""')}"` : safe;
}

function csvOf(table) {
  const columns = plan.columns[table];
  const rows = ownRows(table).map((row) => columns.map((column) => csvCell(row[column] || "")).join(","));
  return `${[columns.join(","), ...rows].join("\n")}\n`;
}

function isTextMap(value, names) {
  return value && typeof value === "object" && !Array.isArray(value)
    && Object.entries(value).every(([name, text]) => names.includes(name) && typeof text === "string");
}

// What a form writes of itself; the office refuses anything else, and what this device then exports with it.
const FORMS = { device: /^[A-Za-z0-9]{4}$/, number: /^[1-9][0-9]{0,5}$/, kit: /^[0-9a-f]{16}$/, made_at: /^\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d)?$/ };
const CHANGE_PARTS = ["at", "table", "key", "column", "from", "to", "reason"];

function isTables(tables) {
  return tables && typeof tables === "object" && Object.entries(tables).every(([name, rows]) =>
    TABLES.includes(name) && Array.isArray(rows)
    && rows.every((row) => isTextMap(row, plan.columns[name]) && row[plan.keys[name]]));
}

// The export in a file's text; an Error in plain words where it is none of this project.
async function readExport(text) {
  let read = null;
  try {
    read = JSON.parse(text);
  } catch {
    throw new Error("This is not an export of a field form: it cannot be read.");
  }
  if (!read || read.format !== FORMAT) throw new Error("This is not an export of a field form, or it is of a different version.");
  if (read.project !== plan.project.id) throw new Error(`This export is of another project: ${String(read.project)}.`);
  const { sha256: stated, ...rest } = read;
  if (!isTables(read.tables) || !Array.isArray(read.changes) || !read.changes.every((one) => isTextMap(one, CHANGE_PARTS))
    || !Object.entries(FORMS).every(([name, form]) => typeof read[name] === "string" && form.test(read[name]))) {
    throw new Error("This export has tables or columns unknown to this form. It was not imported.");
  }
  if (stated !== await sha256(canonical(rest))) {
    throw new Error("The SHA-256 of this export does not match its content: it was altered or truncated. It was not imported.");
  }
  return read;
}

function startsWith(longer, shorter) {
  return shorter.length <= longer.length && shorter.every((one, i) => sameRow(one, longer[i]));
}

// How an export stands to the record here: "known", "newer" or "blank" (can be restored), or "other" (is merged).
function standing(read) {
  if (!record.changes.length) return "blank";
  if (read.device !== record.device) return "other";
  if (startsWith(record.changes, read.changes)) return "known";
  return startsWith(read.changes, record.changes) ? "newer" : "other";
}

function removedKeys(read, table) {
  const removed = new Set();
  for (const one of read.changes.filter((each) => each.table === table && each.column === plan.keys[table])) {
    if (one.to) removed.delete(one.key);
    else removed.add(one.key);
  }
  return removed;
}

// Put the record of an export in place of an empty or older one of the same device.
function restore(read) {
  if (!mayWrite()) return false;
  for (const table of TABLES) {
    const name = plan.keys[table];
    const theirs = read.tables[table] || [];
    const gone = removedKeys(read, table);
    for (const row of theirs) gone.add(row[name]);
    const folder = (plan.tables[table] || []).filter((row) => !gone.has(row[name]));
    record.tables[table] = [...folder, ...theirs].map((row) => ({ ...row }));
  }
  record.device = read.device;
  record.exports = Math.max(record.exports, Number(read.number) || 0);
  record.changes = read.changes.map((one) => ({ ...one }));
  record.exported = record.changes.length;
  record.exported_at = read.made_at;
  return save();
}

function mergeExport(read) {
  if (!mayWrite()) return 0;
  const added = mergeTables(read.tables, `device ${read.device}, export ${read.number}`, true);
  save();
  return added;
}

function unexported() {
  return record.changes.length - record.exported;
}

// The reminder that is due, "" where none is.
function reminder() {
  const count = unexported();
  if (count <= 0) return "";
  const oldest = record.changes[record.exported].at;
  const age = hoursBetween(oldest, nowToTheSecond());
  if (age <= 8 && nowToTheMinute().slice(11, 13) < "17") return "";
  const changes = count === 1 ? "1 change is" : `${count} changes are`;
  return `${changes} not exported, the oldest from ${plainTime(oldest.slice(0, 16))}. Export now: they exist only in this browser.`;
}
