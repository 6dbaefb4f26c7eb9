// Elements, built without HTML text: whatever a plan or a person writes is shown as text.

const DRAWN = "http://www.w3.org/2000/svg";

function fit(node, traits, kids) {
  for (const [name, value] of Object.entries(traits)) {
    if (name === "on") for (const [event, act] of Object.entries(value)) node.addEventListener(event, act);
    else if (value === true) node.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) node.setAttribute(name, value);
  }
  node.append(...kids.flat(Infinity).filter((kid) => kid !== null && kid !== undefined && kid !== false && kid !== ""));
  return node;
}

function el(tag, traits = {}, ...kids) {
  return fit(document.createElement(tag), traits, kids);
}

function svg(tag, traits = {}, ...kids) {
  return fit(document.createElementNS(DRAWN, tag), traits, kids);
}

function button(words, act, traits = {}) {
  return el("button", { type: "button", ...traits, on: { click: act } }, words);
}

function domId(name) {
  return `f-${encodeURIComponent(name).replace(/[%'()*!~.]/g, "_")}`;
}

// What follows the record without being built anew, so that the focus stays where it is.
let followers = [];

function follow(update) {
  followers.push(update);
  update();
}

// A message passes; what has to stay stands at its field or in the warnings.
const MESSAGE_MS = 8000;
let said = { at: 0, timer: 0 };

function say(words) {
  clearTimeout(said.timer);
  document.getElementById("said").textContent = words;
  said = { at: performance.now(), timer: setTimeout(hush, MESSAGE_MS) };
}

function hush() {
  document.getElementById("said").textContent = "";
}

function list(items, traits = {}) {
  return el("ul", traits, items.map((item) => el("li", {}, item)));
}

// Each state has a shape of its own: told apart in sunlight, and without colours.
const SHAPES = {
  to_place: () => svg("circle", { cx: 10, cy: 10, r: 7, class: "hollow" }),
  in_place: () => svg("path", { d: "M1.5 3.5h17L10 18.5z", class: "solid" }),
  retrieved: () => svg("path", { d: "M2.5 2.5h15v15h-15zM6 10l3 3.5 5-7", class: "ticked" }),
  not_done: () => svg("path", { d: "M3 3l14 14M17 3L3 17", class: "crossed" }),
};
const STATES = { to_place: "to install", in_place: "in place", retrieved: "retrieved", not_done: "not installed" };

function sign(state) {
  return svg("svg", { viewBox: "0 0 20 20", class: "sign", "aria-hidden": "true" }, SHAPES[state]());
}
