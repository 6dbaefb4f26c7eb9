// Small helps on top of pages that are complete without them.

const MAX_CHOICES = 24;

function element(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

// Colours: as the system, light or dark.
function bindColours() {
  const root = document.documentElement;
  const current = root.dataset.colours ?? "system";
  for (const input of document.querySelectorAll("input[name=colours]")) {
    input.checked = input.value === current;
    input.addEventListener("change", () => {
      if (input.value === "system") delete root.dataset.colours;
      else root.dataset.colours = input.value;
      try {
        localStorage.setItem("report-colours", input.value);
      } catch {
        // Storage is switched off: the choice holds for this page.
      }
    });
  }
  const box = document.querySelector(".colours");
  document.addEventListener("click", (event) => {
    if (box && !box.contains(event.target)) box.open = false;
  });
  box?.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    box.open = false;
    box.querySelector("summary").focus();
  });
}

// A long list of pages starts where the reader is.
function showCurrent() {
  const nav = document.getElementById("site-nav");
  const current = nav?.querySelector("[aria-current]");
  if (current) nav.scrollTop = Math.max(0, current.offsetTop - nav.clientHeight / 2);
}

// Narrow screens: the list of pages opens and closes.
function bindMenu() {
  const button = document.querySelector(".menu-button");
  const nav = document.getElementById("site-nav");
  if (!button || !nav) return;
  button.addEventListener("click", () => {
    const open = nav.classList.toggle("open");
    button.setAttribute("aria-expanded", String(open));
    if (open) nav.querySelector("a")?.focus();
  });
}

// A click beside the search closes its results.
function bindSearch() {
  const box = document.querySelector(".find");
  const toggle = document.getElementById("__search");
  document.addEventListener("click", (event) => {
    if (toggle?.checked && !box.contains(event.target)) toggle.click();
  });
}

// On a phone a row of long text becomes a block of values under their column's titles. A browser
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

// Only a table that is too wide for its frame is a stop of the Tab key.
function fitTables() {
  for (const region of document.querySelectorAll(".table-region")) {
    region.classList.remove("fits");
    const wide = region.scrollWidth > region.clientWidth + 1;
    region.classList.toggle("fits", !wide);
    const caption = region.querySelector("table").getAttribute("aria-labelledby");
    const roles = { role: "region", tabindex: "0", "aria-labelledby": caption };
    for (const [name, value] of Object.entries(roles)) {
      if (wide) region.setAttribute(name, value);
      else region.removeAttribute(name);
    }
  }
}

// A drawing that is wider than its box can be moved by keyboard too.
function fitDrawings() {
  for (const box of document.querySelectorAll(".drawing .paper")) {
    const wide = box.scrollWidth > box.clientWidth + 1;
    box.classList.toggle("fits", !wide);
    const caption = box.parentElement.querySelector("figcaption").textContent;
    const roles = { role: "region", tabindex: "0", "aria-label": caption };
    for (const [name, value] of Object.entries(roles)) {
      if (wide) box.setAttribute(name, value);
      else box.removeAttribute(name);
    }
  }
}

// Filters of a table: a list of what occurs in the column, or a text to look for.
function textOf(row, column) {
  return row.cells[column].textContent.trim();
}

function control(table, column, id, refresh) {
  const rows = [...table.tBodies[0].rows];
  const values = [...new Set(rows.map((row) => textOf(row, column)))];
  const heading = table.tHead.rows[0].cells[column].textContent.trim();
  const isList = values.length <= MAX_CHOICES;
  const field = isList ? element("select", { id }) : element("input", { id, type: "search", autocomplete: "off" });
  if (isList) {
    field.append(element("option", { value: "" }, "All"));
    for (const value of values) if (value) field.append(element("option", { value }, value));
  }
  field.addEventListener(isList ? "change" : "input", refresh);
  const matches = (row) => {
    if (!field.value) return true;
    const text = textOf(row, column);
    return isList ? text === field.value : text.toLowerCase().includes(field.value.toLowerCase());
  };
  return { label: element("label", { for: id }, heading, field), field, matches };
}

function bindFilters(table, number) {
  const rows = [...table.tBodies[0].rows];
  const state = element("p", { class: "filter-state", role: "status" });
  const clear = element("button", { type: "button" }, "Show all");
  const refresh = () => {
    for (const row of rows) row.hidden = !controls.every(({ matches }) => matches(row));
    const shown = rows.filter((row) => !row.hidden).length;
    const all = `${rows.length} ${rows.length === 1 ? "row" : "rows"}`;
    state.textContent = shown === rows.length ? all : `${shown} of ${all}`;
    clear.disabled = shown === rows.length;
  };
  const columns = table.dataset.filters.split(" ").map(Number);
  const controls = columns.map((column) => control(table, column, `filter-${number}-${column}`, refresh));
  clear.addEventListener("click", () => {
    for (const { field } of controls) field.value = "";
    refresh();
  });
  const form = element("div", { class: "filters", role: "group", "aria-label": "Filter the rows" });
  form.append(...controls.map(({ label }) => label), clear, state);
  table.closest(".table-region").before(form);
  refresh();
}

// The address of the map page may name a place: hand it on to the map.
function followAddress() {
  const frame = document.querySelector("iframe[data-follows-address]");
  if (!frame) return;
  const file = frame.getAttribute("src").split("#")[0];
  const follow = () => {
    if (location.hash) frame.src = file + location.hash;
  };
  addEventListener("hashchange", follow);
  follow();
}

// Print shows what is folded away on screen.
function openForPrint() {
  const folded = () => document.querySelectorAll("article details:not([open])");
  let opened = [];
  addEventListener("beforeprint", () => {
    opened = [...folded()];
    for (const details of opened) details.open = true;
  });
  addEventListener("afterprint", () => {
    for (const details of opened) details.open = false;
  });
}

bindColours();
bindMenu();
showCurrent();
bindSearch();
stackTables();
document.querySelectorAll("table[data-filters]").forEach(bindFilters);
fitTables();
fitDrawings();
addEventListener("resize", fitTables);
addEventListener("resize", fitDrawings);
document.addEventListener("toggle", fitTables, true);
document.querySelectorAll(".origin-switch").forEach((box) => box.addEventListener("change", fitTables));
followAddress();
openForPrint();
