// The search of the report: an index of pages and sections, ranked here, offline.

const MOST_SHOWN = 30;
const AROUND = 70;
const SUGGESTED = ["index.html", "air.html", "compounds.html", "locations.html", "findings.html", "glossary.html"];

// How well a place fits, best first. A code that is matched whole goes before words, a page before its sections.
const FITS = { name: 900, title: 800, code: 700, begins: 500, words: 300, starts: 200, within: 100 };

const folded = (text) => text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();
const plain = (html) => (html.includes("&") ? new DOMParser().parseFromString(html, "text/html").body.textContent : html);
const tokens = (text) => text.split(/[\s()[\]{};:"“”?!|]+|[.,](?=\s|$)/).filter(Boolean);

function prepared(entry) {
  const [title, text] = [plain(entry.title), plain(entry.text)];
  const names = folded(plain(entry.words)).split("|").filter(Boolean);
  const [low, body] = [folded(title), folded(text)];
  return {
    entry, title, text, names, low, body,
    titled: new Set(tokens(low)),
    held: new Set([...tokens(body), ...names.flatMap(tokens), ...tokens(low)]),
    isSection: entry.location.includes("#"),
    isListed: entry.kind === "page",
  };
}

function fit(place, words, whole) {
  const { names, low, titled, held, body, isSection, isListed } = place;
  const begins = (word) => low.startsWith(word) || names.some((name) => name.startsWith(word)) || [...titled].some((one) => one.startsWith(word));
  if (low === whole || names.includes(whole)) return FITS.name;
  if (words.every((word) => titled.has(word))) return FITS.title;
  if (!isSection && !isListed && /\d/.test(whole) && held.has(whole)) return FITS.code;
  if (words.every(begins)) return FITS.begins;
  if (words.every((word) => held.has(word))) return FITS.words;
  const all = [...held];
  if (words.every((word) => all.some((one) => one.startsWith(word)))) return FITS.starts;
  if (words.every((word) => word.length > 2 && (low.includes(word) || body.includes(word)))) return FITS.within;
  return 0;
}

function ranked(places, query) {
  const whole = folded(query.trim());
  const words = tokens(whole);
  if (!words.length) return [];
  const score = (place) => {
    const fits = fit(place, words, whole);
    return fits && fits + (place.isSection ? 0 : 50) + (place.isListed && !place.isSection ? 20 : 0);
  };
  return places
    .map((place, at) => ({ place, at, score: score(place) }))
    .filter((one) => one.score)
    .sort((a, b) => b.score - a.score || a.at - b.at)
    .map((one) => one.place);
}

// The words around the first that was looked for, which is marked.
function excerpt(place, words) {
  const named = place.names.some((name) => words.every((word) => name.includes(word)));
  const text = named ? place.names.join(", ") : place.text;
  const low = folded(text);
  const same = low.length === text.length;
  const [at, word] = words.map((one) => [low.indexOf(one), one]).filter(([found]) => found >= 0).sort(([a], [b]) => a - b)[0] ?? [-1, ""];
  if (at < 0 || !same) return [text.slice(0, 2 * AROUND)];
  const from = Math.max(0, at - AROUND);
  const end = at + word.length;
  return [
    (from ? "…" : "") + text.slice(from, at),
    element("mark", {}, text.slice(at, end)),
    text.slice(end, end + AROUND) + (end + AROUND < text.length ? "…" : ""),
  ];
}

function searchBox() {
  const box = document.querySelector(".find");
  const field = document.getElementById("find-words");
  if (!box || !field) return;
  const root = box.dataset.root;
  const output = document.getElementById("find-output");
  const state = output.querySelector(".find-state");
  const list = output.querySelector(".find-list");
  let places = null;
  let titles = new Map();

  const show = (open) => {
    output.hidden = !open;
  };
  const item = (place, words) => {
    const page = place.isSection ? titles.get(place.entry.location.split("#")[0]) : "";
    const link = element("a", { href: root + place.entry.location }, element("span", { class: "find-title" }, page ? `${page}: ${place.title}` : place.title));
    const around = excerpt(place, words);
    if (around.some((one) => one.textContent ?? one)) link.append(element("span", { class: "find-text" }, ...around));
    return element("li", {}, link);
  };
  const suggestions = () =>
    SUGGESTED.filter((name) => titles.has(name)).map((name) => element("li", {}, element("a", { href: root + name }, element("span", { class: "find-title" }, titles.get(name)))));
  const look = () => {
    const query = field.value.trim();
    show(Boolean(query));
    if (!query || !places) return;
    const words = tokens(folded(query));
    const found = ranked(places, query);
    const told = found.length === 1 ? "1 result" : `${found.length} results`;
    state.textContent = !found.length
      ? `No result for “${query}”. Enter a code in full (a location, a serial, a bag), one word of the trade, or start from a page below.`
      : found.length > MOST_SHOWN ? `${told}, the first ${MOST_SHOWN} shown` : told;
    list.replaceChildren(...(found.length ? found.slice(0, MOST_SHOWN).map((place) => item(place, words)) : suggestions()));
  };
  const ready = () => {
    places = __index.docs.map(prepared);
    titles = new Map(places.filter((place) => !place.isSection).map((place) => [place.entry.location, place.title]));
    look();
  };
  const load = () => {
    if (load.begun) return;
    load.begun = true;
    const script = element("script", { src: `${root}search/search_index.js` });
    script.addEventListener("load", ready);
    document.head.append(script);
  };
  const links = () => [...list.querySelectorAll("a")];
  const move = (step) => {
    const all = [field, ...links()];
    const at = all.indexOf(document.activeElement);
    all[Math.min(Math.max(at + step, 0), all.length - 1)].focus();
  };
  const steps = { ArrowDown: 1, ArrowUp: -1 };

  field.addEventListener("focus", load);
  field.addEventListener("focus", look);
  field.addEventListener("input", look);
  box.addEventListener("keydown", (event) => {
    if (event.key in steps && !output.hidden) {
      event.preventDefault();
      move(steps[event.key]);
    } else if (event.key === "Escape" && !output.hidden) {
      event.preventDefault();
      field.focus();
      show(false);
    } else if (event.key === "Enter" && event.target === field) {
      event.preventDefault();
      if (field.value.trim()) links()[0]?.click();
    }
  });
  list.addEventListener("click", (event) => {
    if (event.target.closest("a")) show(false);
  });
  document.addEventListener("click", (event) => {
    if (!box.contains(event.target)) show(false);
  });
  box.addEventListener("focusout", (event) => {
    if (event.relatedTarget && !box.contains(event.relatedTarget)) show(false);
  });
}

searchBox();
