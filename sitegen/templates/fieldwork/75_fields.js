// Fields: each with its label, its hint and its errors; what is typed is kept as a draft with every key.

function problemBox(id) {
  return el("div", { id, class: "problems" });
}

function showProblems(box, input, found) {
  const bad = found.some((one) => one.level === "stop");
  box.replaceChildren(...found.map((one) =>
    el("p", { class: one.level }, el("strong", {}, one.level === "stop" ? "Error: " : "Check: "), one.text)));
  if (bad) input.setAttribute("aria-invalid", "true");
  else input.removeAttribute("aria-invalid");
}

function labelled(id, label, hint, input, box) {
  return el("div", { class: "field" }, el("label", { for: id }, label),
    hint && el("p", { class: "hint", id: `${id}-hint` }, hint), input, box);
}

function inputFor(name, value, { hint, longest = 300, inputmode = "text", options, type = "text" }) {
  const id = domId(name);
  const input = el("input", {
    id, type, inputmode, autocomplete: "off", autocapitalize: "off", spellcheck: "false", maxlength: longest,
    list: options ? `${id}-list` : null, "aria-describedby": `${hint ? `${id}-hint ` : ""}${id}-problems`,
  });
  input.value = value;
  return input;
}

function optionsFor(id, options) {
  return options && el("datalist", { id: `${id}-list` }, options.map((one) => el("option", { value: one })));
}

// A field that is a draft until a button takes it; returns its element and ways to read and fault it.
function draftField(name, label, traits = {}) {
  const input = inputFor(name, drafts[name] || traits.first || "", traits);
  const box = problemBox(`${input.id}-problems`);
  input.addEventListener("input", () => {
    draft(name, input.value);
    showProblems(box, input, []);
    if (traits.changed) traits.changed();
  });
  const element = labelled(input.id, label, traits.hint, [input, optionsFor(input.id, traits.options)], box);
  return {
    element, input,
    read: () => clean(input.value),
    fill: (text) => { input.value = text; draft(name, text); },
    fault: (found) => showProblems(box, input, found),
  };
}

function roleField(name, label) {
  return draftField(name, label, { first: record.role, options: plan.roles, hint: "A role code such as FS-1, not a name.", longest: 40 });
}

function takeRole(field) {
  record.role = field.read();
}

// Show what is wrong in each [field, problems], go to the first that stops; true where nothing stops.
function passes(given) {
  const checked = given.map(([field, found]) => [field, [...textProblems(field.read()), ...found]]);
  for (const [field, found] of checked) field.fault(found);
  const first = checked.find(([, found]) => found.some((one) => one.level === "stop"));
  if (!first) return true;
  first[0].input.focus();
  say("Not saved. See the error below the entry.");
  return false;
}

// As passes(), and asks for a reason where an entry needs one.
function passesWithReason(checked, reason) {
  if (!passes(checked)) return false;
  const asked = checked.some(([, found]) => found.some((one) => one.level === "ask"));
  reason.element.hidden = !asked;
  if (!asked || reason.read()) return true;
  reason.fault([stop("Give a reason, or correct the entry.")]);
  reason.input.focus();
  say("Not saved. A reason is needed.");
  return false;
}

function reasonField(name) {
  const field = draftField(name, "Reason", { hint: "Stored with the entry.", longest: 300 });
  field.element.hidden = !drafts[name];
  return field;
}

function saved(words) {
  if (keeping.otherTab || keeping.trouble) say(keeping.trouble || "Not saved: another tab has the newer record.");
  else say(words);
  refresh();
}

// A cell of the record as a text field: kept as a draft while it is typed, and written when the field is left.
function cellField(at, label, traits = {}) {
  const [table, key, column] = at;
  const name = at.join("/");
  const check = (text) => [...textProblems(text), ...(traits.check ? traits.check(text) : [])];
  const longest = plan.longest[`${table}.${column}`] || 300;
  const input = inputFor(name, drafts[name] ?? cellOf(...at), { ...traits, longest });
  const box = problemBox(`${input.id}-problems`);
  input.addEventListener("input", () => draft(name, input.value));
  input.addEventListener("change", () => {
    const value = clean(input.value);
    if (check(value).some((one) => one.level === "stop")) say(`${label}: not saved. See the error below the entry.`);
    else if (write([[table, key, column, value]])) {
      draft(name, "");
      saved(`${label} saved.`);
    }
    refresh();
  });
  follow(() => showProblems(box, input, check(clean(input.value))));
  const element = labelled(input.id, label, traits.hint, [input, optionsFor(input.id, traits.options)], box);
  const fill = (text) => { input.value = text; input.dispatchEvent(new Event("change")); };
  return traits.offer ? [element, button(traits.offer[0], () => fill(traits.offer[1]), { class: "quiet" })] : element;
}

// A cell with words to choose from, as buttons: one tap sets a word, another tap on it clears it.
function cellChoice(at, label, choices, traits = {}) {
  const [table, key, column] = at;
  const id = domId(at.join("/"));
  const problems = traits.check || (() => []);
  const box = problemBox(`${id}-problems`);
  const buttons = choices.map(([word, words], i) => {
    const one = button(words, () => {
      const value = cellOf(...at) === word ? "" : word;
      const found = value ? problems(value) : [];
      showProblems(box, one, found);
      if (found.some((each) => each.level === "stop")) {
        say(`${label}: not saved. ${found[0].text}`);
        return;
      }
      if (write([[table, key, column, value], ...(traits.with ? traits.with(value) : [])])) saved(value ? `${label}: ${words}. Saved.` : `${label} cleared.`);
      if (traits.after) traits.after();
    }, { id: `${id}-${i}`, class: "choice" });
    follow(() => one.setAttribute("aria-pressed", String(cellOf(...at) === word)));
    return one;
  });
  return el("div", { class: "field", role: "group", "aria-labelledby": `${id}-label` },
    el("p", { class: "label", id: `${id}-label` }, label), traits.hint && el("p", { class: "hint" }, traits.hint),
    el("div", { class: "choices" }, buttons), box);
}

function wordChoice(at, label, traits) {
  return cellChoice(at, label, plan.choices[at[2]], traits);
}

// A time of the record: one tap for now; another time, or a correction, with its reason.
function cellTime(at, label, traits = {}) {
  const [table, key, column] = at;
  const name = `time/${at.join("/")}`;
  const check = (value) => timeProblems(value, traits.from ? traits.from() : "");
  const field = draftField(name, label, { type: "datetime-local", first: cellOf(...at) });
  const reason = draftField(`${name}/reason`, "Reason for the correction", { longest: 300 });
  const accept = () => {
    const value = field.read();
    if (!passes([[field, check(value)], [reason, reason.read() ? [] : [stop("Give a reason: the time was entered by hand.")]]])) return;
    if (write([[table, key, column, value]], reason.read())) {
      dropDrafts(name);
      saved(`${label} saved.`);
      render();
    }
  };
  const now = () => {
    if (write([[table, key, column, nowToTheMinute()]])) saved(`${label} saved.`);
    render();
  };
  const value = cellOf(...at);
  const warned = value ? timeProblems(value, traits.from ? traits.from() : "") : [];
  return el("div", { class: "field" },
    el("p", { class: "label" }, label), el("p", { class: "value" }, value ? plainTime(value) : "not recorded"),
    warned.map((one) => el("p", { class: "note" }, el("strong", {}, "Check: "), one.text)),
    !value && button(traits.now || "Now", now, { class: "main", id: domId(`${name}/now`) }),
    el("details", { open: drafted(name) }, el("summary", {}, value ? `Correct: ${label.toLowerCase()}` : "Enter another time"),
      field.element, reason.element, button("Save this time", accept, { id: domId(`${name}/save`) })));
}

// Something that is taken back with a reason; the log keeps what it was. ``act`` returns words where it can't be done.
function takeBack(name, words, act) {
  const reason = draftField(`${name}/reason`, "Reason", { longest: 300 });
  const accept = () => {
    if (!passes([[reason, reason.read() ? [] : [stop("Give a reason.")]]])) return;
    const trouble = act(reason.read());
    if (typeof trouble === "string") {
      reason.fault([stop(trouble)]);
      say(trouble);
      return;
    }
    dropDrafts(name);
    saved("Entry withdrawn.");
    render();
  };
  return el("details", { open: drafted(`${name}/`) }, el("summary", {}, words), reason.element,
    button("Withdraw", accept, { class: "quiet", id: domId(`${name}/accept`) }));
}
