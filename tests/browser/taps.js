// Taps and texts by a generator with a seed: the same in each run, as far as the form is the same.
const [count, seed, done] = arguments;
let state = seed;
const random = () => { state = (state * 1664525 + 1013904223) % 4294967296; return state / 4294967296; };
const pick = (list) => list[Math.floor(random() * list.length)];
const TEXTS = ["0047102", "0047102", "0047103", "0047104", "FS-1", "FS-1", "FS-2", "3.0", "12", "BAG-1", "SG-02", "SH-R1", "IMG_1.jpg", "=1+1",
  "Jane Doe", "<b>x</b>", "  ", "\u00e4\ud83e\uddea\ud83e", "a\tb\u0007c", "__proto__", "constructor", "NA", "x;y", "", "wet, \"very\" wet", "9".repeat(400)];
const TIMES = ["2025-10-23T07:55", "2025-10-24T12:00", "2025-10-23T02:00", ""];
const caught = [];
window.addEventListener("error", (event) => caught.push(event.message));
window.addEventListener("unhandledrejection", (event) => caught.push(String(event.reason)));
const shown = () => [...document.querySelectorAll("button, input:not([type=file]), select, summary, a, textarea, svg.map")].filter((one) => one.checkVisibility() && !one.disabled);
const enter = (one) => {
  if (one.tagName === "SELECT") one.value = pick([...one.options]).value;
  else {
    const twin = random() < 0.7 && [...document.querySelectorAll("#main input")].find((other) => other !== one && other.value);
    one.value = one.type === "datetime-local" ? pick(TIMES) : twin && random() < 0.5 ? twin.value : pick(TEXTS).slice(0, Math.max(one.maxLength, 1));
  }
  for (const event of ["input", "change"]) one.dispatchEvent(new Event(event, { bubbles: true }));
};
let serials = 0;
const LIKELY = [[/^Serial/, () => `00471${10 + serials}`], [/ by$|^By$/, () => pick(["FS-1", "FS-2"])], [/^Reason|^Why/, () => "as it was"], [/seal/, () => "4482"],
  [/counted/, () => String(Math.floor(random() * 4))], [/^Point at/, () => "SG-01"], [/^Given to/, () => "PM-1"], [/^Its id/, () => pick(["BAG-1", "BAG-2", "0047111"])],
  [/^File name/, () => `IMG_${Math.floor(random() * 99)}.jpg`], [/further bag/, () => "BAG-9"]];
const fillCard = (button) => {
  serials += random() < 0.9 ? 1 : 0;
  for (const one of (button.closest(".panel, details") || document.body).querySelectorAll("input:not([type=file]), select")) {
    if (!one.checkVisibility() || random() < 0.03) continue;
    const [label] = one.labels;
    const known = label && LIKELY.find(([words]) => words.test(label.textContent));
    if (one.tagName === "SELECT") one.value = pick([...one.options].slice(1)).value;
    else if (known) one.value = known[1]();
    else continue;
    for (const event of ["input", "change"]) one.dispatchEvent(new Event(event, { bubbles: true }));
  }
};
const step = (left) => {
  if (!left) { done(caught); return; }
  const parts = shown();
  const inside = parts.filter((one) => one.closest("main")).filter((one, at) => !one.matches(".cards a") || at < 8);
  const one = random() < 0.12 || !inside.length ? pick(parts) : pick(inside);
  if (["INPUT", "SELECT", "TEXTAREA"].includes(one.tagName)) enter(one);
  else {
    if (one.tagName === "BUTTON" && random() < 0.85) fillCard(one);
    one.dispatchEvent(new MouseEvent("click", { bubbles: true, cancelable: true, clientX: 100, clientY: 300 }));
  }
  setTimeout(() => step(left - 1), 0);
};
step(count);
