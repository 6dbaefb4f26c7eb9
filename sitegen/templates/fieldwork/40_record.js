// The record of this device: rows of the folder's tables, each change to a cell, and drafts; kept after every change.

const STORE = `field-record/${plan.project.id}`;
const STAMP = `${STORE}/stamp`;
const DRAFTS = `${STORE}/drafts`;

let record = null;
let drafts = {};
const keeping = { trouble: "", otherTab: false, at: "" };

function newDevice() {
  const letters = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"; // without 0, 1, I and O, which are misread
  return Array.from(crypto.getRandomValues(new Uint8Array(4)), (byte) => letters[byte % letters.length]).join("");
}

function emptyTables() {
  return Object.fromEntries(TABLES.map((name) => [name, []]));
}

function newRecord() {
  return { device: newDevice(), stamp: 0, kit: "", role: "", exports: 0, exported: 0, exported_at: "",
    tables: emptyTables(), changes: [], conflicts: [] };
}

function stored(name) {
  try {
    return localStorage.getItem(name);
  } catch {
    keeping.trouble = "This browser does not store data for this page. All entries are lost when the page is closed: "
      + "export before closing it, or open the form in another browser.";
    return null;
  }
}

function loadRecord() {
  keeping.otherTab = false;
  const text = stored(STORE);
  record = text ? { ...newRecord(), ...JSON.parse(text) } : newRecord();
  record.tables = { ...emptyTables(), ...record.tables };
  record.stamp = Number(stored(STAMP) || record.stamp);
  drafts = JSON.parse(stored(DRAFTS) || "{}");
  if (record.kit !== plan.kit) {
    mergeTables(plan.tables, "project folder", false);
    record.kit = plan.kit;
    save();
    keeping.at = "";
  }
}

function put(name, text) {
  try {
    localStorage.setItem(name, text);
    return true;
  } catch {
    keeping.trouble = "NOT SAVED: the browser storage is full or not permitted. Export now, before closing this page.";
    return false;
  }
}

function mayWrite() {
  const stamp = stored(STAMP);
  if (stamp !== null && stamp !== String(record.stamp)) keeping.otherTab = true;
  return !keeping.otherTab;
}

function save() {
  if (!mayWrite()) return false;
  record.stamp += 1;
  if (!put(STORE, JSON.stringify(record)) || !put(STAMP, String(record.stamp))) {
    record.stamp -= 1;
    return false;
  }
  keeping.trouble = "";
  keeping.at = nowToTheSecond();
  return true;
}

function draft(name, text) {
  if (!mayWrite()) return;
  if (text) drafts[name] = text;
  else delete drafts[name];
  put(DRAFTS, JSON.stringify(drafts));
}

// Whether something is typed and not yet taken: what folds such a field away is opened.
function drafted(start) {
  return Object.keys(drafts).some((name) => name.startsWith(start));
}

function dropDrafts(prefix) {
  for (const name of Object.keys(drafts)) if (name.startsWith(prefix)) delete drafts[name];
  put(DRAFTS, JSON.stringify(drafts));
}

function rowsOf(table) {
  return record.tables[table];
}

function rowOf(table, key) {
  return rowsOf(table).find((row) => row[plan.keys[table]] === key);
}

function cellOf(table, key, column) {
  const row = rowOf(table, key);
  return (row && row[column]) || "";
}

function note(table, key, column, from, to, reason) {
  record.changes.push({ at: nowToTheSecond(), table, key, column, from, to, reason });
}

function setCell(table, key, column, value, reason) {
  const name = plan.keys[table];
  let row = rowOf(table, key);
  if (!row) {
    row = { [name]: key };
    rowsOf(table).push(row);
    note(table, key, name, "", key, reason);
  }
  const from = row[column] || "";
  if (from === value) return;
  if (value) row[column] = value;
  else delete row[column];
  note(table, key, column, from, value, reason);
}

// Write cells, each [table, key, column, value], together; false where another tab has the newer record.
function write(cells, reason = "") {
  if (!mayWrite()) return false;
  for (const [table, key, column, value] of cells) setCell(table, key, column, value, reason);
  return save() || !keeping.otherTab;
}

function removeRow(table, key, reason) {
  const row = rowOf(table, key);
  if (!row || !mayWrite()) return;
  const name = plan.keys[table];
  for (const column of [...Object.keys(row).filter((one) => one !== name), name]) note(table, key, column, row[column], "", reason);
  record.tables[table] = rowsOf(table).filter((one) => one !== row);
  save();
}

// The next free id of this device, also after rows were taken back or a record was restored.
function nextId(table, mark = "") {
  const start = `${record.device}-${mark}`;
  const used = [...rowsOf(table).map((row) => row[plan.keys[table]]),
    ...record.changes.filter((one) => one.table === table).map((one) => one.key)];
  const numbers = used.filter((id) => id.startsWith(start)).map((id) => Number(id.slice(start.length)) || 0);
  return `${start}${Math.max(0, ...numbers) + 1}`;
}

// Rows are added and blank cells filled; a cell that has another text already is a conflict, and stays.
function mergeTables(tables, from, logged) {
  const changesBefore = record.changes.length;
  let added = 0;
  for (const table of TABLES) {
    for (const row of tables[table] || []) {
      const key = row[plan.keys[table]];
      for (const [column, value] of Object.entries(row)) {
        const mine = cellOf(table, key, column);
        if (mine === value) continue;
        if (mine) conflict(table, key, column, mine, value, from);
        else {
          setCell(table, key, column, value, `imported from ${from}`);
          added += 1;
        }
      }
    }
  }
  if (!logged) record.changes.length = changesBefore;
  return added;
}

function conflict(table, key, column, mine, theirs, from) {
  const known = record.conflicts.some((one) =>
    one.table === table && one.key === key && one.column === column && one.theirs === theirs && one.from === from);
  if (!known) record.conflicts.push({ table, key, column, mine, theirs, from });
}
