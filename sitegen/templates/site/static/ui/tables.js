// Tables on screen: filters, order, cards on a phone. Without scripts and on paper they are complete and as listed.

const MAX_CHOICES = 24;
const MOST_CARDS = 8;
const VIEW = "#view:";
const TONES = ["stop", "hold", "major", "flag", "caution", "note", "info", "yes", "partly", "no", "no-record"];
const MONTHS = "January February March April May June July August September October November December".split(" ");
const MINUTES = { day: 1440, days: 1440, "día": 1440, "días": 1440, d: 1440, h: 60, min: 1, s: 1 / 60 };
const ORDER = new Intl.Collator(document.documentElement.lang, { numeric: true, sensitivity: "base" });

const shownText = (cell) => [...cell.childNodes].filter((node) => !node.classList?.contains("mark")).map((node) => node.textContent).join("").trim();

// What a text is ordered by where it is a time, a length of time or a number: value, then below (-1) or above (1) it.
function measure(text) {
  const day = text.match(/^(\d{1,2}) (?:de )?([A-Za-z]+) (?:de )?(\d{4})(?:,? (\d{1,2}):(\d{2}))?/);
  if (day && MONTHS.includes(day[2])) return [Date.UTC(day[3], MONTHS.indexOf(day[2]), day[1], day[4] ?? 0, day[5] ?? 0), 0];
  const iso = text.match(/^(\d{4})-(\d\d)-(\d\d)(?:[T ](\d\d):(\d\d))?/);
  if (iso) return [Date.UTC(iso[1], iso[2] - 1, iso[3], iso[4] ?? 0, iso[5] ?? 0), 0];
  const spans = [...text.matchAll(/([\d.,\u202f]+) (days?|días?|d|h|min|s)(?=$|[^a-z])/g)];
  if (spans.length && text.startsWith(spans[0][0])) {
    return [spans.reduce((sum, [, amount, unit]) => sum + Number(amount.replace(/[,\u202f]/g, "")) * MINUTES[unit], 0), 0];
  }
  const number = text.match(/^([<≤>≥~]?)\s*([-−+]?(?:\d[\d,\u202f]*(?:\.\d+)?|\.\d+)(?:[eE][-+]?\d+)?)(?=$|[\s%A-Za-z(×])/);
  if (!number) return null;
  return [Number(number[2].replace(/[,\u202f]/g, "").replace("−", "-")), { "<": -1, "≤": -1, ">": 1, "≥": 1 }[number[1]] ?? 0];
}

function rankOfTone(cell) {
  return TONES.findIndex((tone) => cell.classList.contains(`tone-${tone}`) || cell.querySelector(`:scope > .tone-${tone}`));
}

// The rows by a column; blanks and dashes come last either way, equal rows keep their order.
function ordered(rows, column, down) {
  const cells = rows.map((row) => row.cells[column]);
  const texts = cells.map(shownText);
  const filled = texts.map((text) => text !== "" && text !== "–");
  const tones = cells.map(rankOfTone);
  const measures = texts.map(measure);
  const all = (values, holds) => values.every((value, at) => !filled[at] || holds(value));
  let compare = (a, b) => ORDER.compare(texts[a], texts[b]);
  if (all(tones, (rank) => rank >= 0)) compare = (a, b) => tones[a] - tones[b];
  else if (all(measures, Boolean)) compare = (a, b) => measures[a][0] - measures[b][0] || measures[a][1] - measures[b][1];
  const turn = down ? -1 : 1;
  return rows.map((_, at) => at).sort((a, b) => filled[b] - filled[a] || (filled[a] ? turn * compare(a, b) : 0) || a - b).map((at) => rows[at]);
}

// Filters of a table: a list of what occurs in the column, or a text to look for.
function textOf(row, column) {
  return row.cells[column].textContent.trim();
}

function control(rows, heading, column, id, changed) {
  const values = [...new Set(rows.map((row) => textOf(row, column)))];
  const isList = values.length <= MAX_CHOICES;
  const field = isList ? element("select", { id }) : element("input", { id, type: "search", autocomplete: "off" });
  if (isList) {
    field.append(element("option", { value: "" }, "All"));
    for (const value of values) if (value) field.append(element("option", { value }, value));
  }
  let typed = false;
  field.addEventListener("focus", () => { typed = false; });
  field.addEventListener(isList ? "change" : "input", () => {
    changed(typed && !isList);
    typed = true;
  });
  const matches = (row) => {
    if (!field.value) return true;
    const text = textOf(row, column);
    return isList ? text === field.value : text.toLowerCase().includes(field.value.toLowerCase());
  };
  return { label: element("label", { for: id }, heading, field), field, matches };
}

// The address keeps order and filters of every table on the page: it can be sent, and Back takes a step back.
const views = new Map();

function addressOf() {
  const said = new URLSearchParams();
  for (const [name, view] of views) for (const [key, value] of view.said()) said.append(`${name}.${key}`, value);
  return [...said].length ? VIEW + said : "";
}

function keep(replaces) {
  const address = location.href.split("#")[0] + addressOf();
  if (replaces) history.replaceState(null, "", address);
  else history.pushState(null, "", address);
}

function fromAddress() {
  if (location.hash && !location.hash.startsWith(VIEW)) return null;
  const said = new URLSearchParams(location.hash.slice(VIEW.length));
  for (const [name, view] of views) view.take((key) => said.get(`${name}.${key}`) ?? "");
  const named = [...said.keys()];
  return [...views].find(([name]) => named.some((key) => key.startsWith(`${name}.`)))?.[1].block ?? null;
}

function bindTable(table, number) {
  const rows = [...table.tBodies[0].rows];
  if (rows.length < 2) return;
  const block = table.closest(".table-block");
  const region = table.closest(".table-region");
  const heads = [...table.tHead.rows[0].cells];
  const keys = heads.map((head) => head.dataset.key);
  const titles = heads.map((head) => [...head.childNodes].map((node) => node.textContent.trim()).filter(Boolean).join(", "));
  const state = { sort: "", whole: false };

  const changed = (replaces = false) => {
    refresh();
    keep(replaces);
  };
  const filtered = (table.dataset.filters ?? "").split(" ").filter(Boolean).map(Number);
  const controls = filtered.map((column) => ({ key: keys[column], ...control(rows, heads[column].textContent.trim(), column, `filter-${number}-${column}`, changed) }));

  const order = element("select", { id: `order-${number}` }, element("option", { value: "" }, "As listed"));
  for (const [at, key] of keys.entries()) order.append(element("option", { value: key }, `${titles[at]}, ascending`), element("option", { value: `-${key}` }, `${titles[at]}, descending`));
  order.addEventListener("change", () => {
    state.sort = order.value;
    changed();
  });
  const orderLabel = element("label", { for: order.id, class: "order" }, "Order", order);
  const count = element("p", { class: "filter-state", role: "status" });
  const clear = element("button", { type: "button" }, "Show all");
  clear.addEventListener("click", () => {
    for (const { field } of controls) field.value = "";
    changed();
  });
  const reset = element("a", { class: "table-reset", href: "#" }, controls.length ? "Reset order and filters" : "Reset order");
  reset.addEventListener("click", (event) => {
    event.preventDefault();
    for (const { field } of controls) field.value = "";
    state.sort = "";
    changed();
    (heads[0].querySelector("button") ?? order).focus();
  });
  const form = element("div", { class: controls.length ? "filters" : "filters only-order", role: "group", "aria-label": controls.length ? "Filter and order the rows" : "Order the rows" });
  form.append(...controls.map(({ label }) => label), orderLabel, ...(controls.length ? [clear, count] : []), reset);
  region.before(form);

  for (const [at, head] of heads.entries()) {
    const button = element("button", { type: "button", class: "sort" }, ...head.childNodes);
    button.addEventListener("click", () => {
      state.sort = { [keys[at]]: `-${keys[at]}`, [`-${keys[at]}`]: "" }[state.sort] ?? keys[at];
      changed();
    });
    head.append(button);
  }

  const more = element("button", { type: "button", class: "more-rows" });
  more.addEventListener("click", () => {
    const next = rows.find((row) => row.classList.contains("beyond"));
    state.whole = true;
    refresh();
    next?.querySelector("a")?.focus();
  });
  region.after(more);

  function refresh() {
    const down = state.sort.startsWith("-");
    const column = keys.indexOf(down ? state.sort.slice(1) : state.sort);
    const now = column < 0 ? rows : ordered(rows, column, down);
    if (now.some((row, at) => table.tBodies[0].rows[at] !== row)) table.tBodies[0].append(...now);
    for (const [at, head] of heads.entries()) {
      if (at === column) head.setAttribute("aria-sort", down ? "descending" : "ascending");
      else head.removeAttribute("aria-sort");
    }
    order.value = column < 0 ? "" : state.sort;
    for (const row of rows) row.hidden = !controls.every(({ matches }) => matches(row));
    const shown = now.filter((row) => !row.hidden);
    const folds = !state.whole && shown.length > MOST_CARDS + 3 && !shown.slice(MOST_CARDS).some((row) => row.matches(":target"));
    for (const [at, row] of shown.entries()) row.classList.toggle("beyond", folds && at >= MOST_CARDS);
    more.hidden = !folds;
    more.textContent = `Show all ${shown.length} rows`;
    const all = `${rows.length} rows`;
    count.textContent = shown.length === rows.length ? all : `${shown.length} of ${all}`;
    clear.disabled = shown.length === rows.length;
    reset.hidden = !state.sort && controls.every(({ field }) => !field.value);
  }

  const said = () => [["sort", state.sort], ...controls.map(({ key, field }) => [key, field.value])].filter(([, value]) => value);
  const take = (get) => {
    state.sort = keys.some((key) => [key, `-${key}`].includes(get("sort"))) ? get("sort") : "";
    for (const { key, field } of controls) {
      field.value = get(key);
      if (field.selectedIndex === -1) field.value = "";
    }
    refresh();
  };
  views.set(block.id, { block, said, take });
  addEventListener("hashchange", refresh);
  refresh();
}

// On a phone a row becomes a card: its head the title, each value beside its column's title. A browser
// takes rows that are laid out as blocks for no table, so that each part says what it is.
function stackTables() {
  for (const region of document.querySelectorAll("[data-stacks]")) {
    region.classList.add("stacks");
    const table = region.querySelector("table");
    const heads = [...table.tHead.rows[0].cells];
    const titles = heads.map((head) => [...head.childNodes].map((node) => node.textContent.trim()).filter(Boolean).join(", "));
    table.setAttribute("role", "table");
    for (const part of [table.tHead, ...table.tBodies]) part.setAttribute("role", "rowgroup");
    for (const row of table.rows) row.setAttribute("role", "row");
    for (const head of heads) head.setAttribute("role", "columnheader");
    for (const row of table.tBodies[0].rows) {
      [...row.cells].forEach((cell, column) => {
        cell.setAttribute("role", cell.tagName === "TH" ? "rowheader" : "cell");
        cell.dataset.title = titles[column];
      });
    }
  }
}

// A table of very many links is one stop of the Tab key: arrow keys move among them.
function roam(table) {
  table.setAttribute("role", "grid");
  const stop = (cell) => cell?.querySelector("a, button") ?? null;
  const stops = () => [...table.querySelectorAll("a, button")];
  for (const one of stops()) one.tabIndex = -1;
  (stop(table.tBodies[0].rows[0].cells[0]) ?? stops()[0]).tabIndex = 0;
  const steps = { ArrowRight: [0, 1], ArrowLeft: [0, -1], ArrowDown: [1, 0], ArrowUp: [-1, 0] };
  table.addEventListener("keydown", (event) => {
    const cell = event.target.closest("td, th");
    if (!(event.key in steps) || !cell) return;
    event.preventDefault();
    const rows = [...table.rows].filter((row) => !row.hidden);
    const [down, right] = steps[event.key];
    let [row, column] = [rows.indexOf(cell.parentElement) + down, cell.cellIndex + right];
    while (rows[row]?.cells[column] && !stop(rows[row].cells[column])) [row, column] = [row + down, column + right];
    stop(rows[row]?.cells[column])?.focus();
  });
  table.addEventListener("focusin", (event) => {
    for (const one of stops()) if (one.tabIndex === 0) one.tabIndex = -1;
    event.target.tabIndex = 0;
  });
}

// Only a table that is too wide for its frame is a stop of the Tab key.
function fitTables() {
  for (const region of document.querySelectorAll(".table-region")) {
    region.classList.remove("fits");
    const wide = region.scrollWidth > region.clientWidth + 1;
    region.classList.toggle("fits", !wide);
    const table = region.querySelector("table");
    const roles = { role: "region", tabindex: "0", "aria-labelledby": table.getAttribute("aria-labelledby") };
    for (const [name, value] of Object.entries(roles)) {
      if (wide && !table.matches("[data-roams]")) region.setAttribute(name, value);
      else region.removeAttribute(name);
    }
  }
}

stackTables();
document.querySelectorAll("table.data").forEach(bindTable);
document.querySelectorAll("table[data-roams]").forEach(roam);
fitTables();
addEventListener("resize", fitTables);
document.addEventListener("toggle", fitTables, true);
document.querySelectorAll(".origin-switch").forEach((box) => box.addEventListener("change", fitTables));
if (location.hash.startsWith(VIEW)) {
  const block = fromAddress();
  if (block) {
    for (let one = block.closest("details"); one; one = one.parentElement.closest("details")) one.open = true;
    block.scrollIntoView();
  }
}
addEventListener("popstate", fromAddress);
