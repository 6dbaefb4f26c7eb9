// Which page is shown, the line that says what is saved, and the warnings above it.

const PAGES = {
  points: showPoints, map: showMap, bags: showBags, handover: showHandover, export: showGive,
  point: showPoint, blank: showBlank, bag: showBag, shipment: showShipment,
};
const PARTS = { point: "points", blank: "points", bag: "bags", shipment: "handover" };

function route() {
  const [, page, id] = /^#\/([a-z]+)(?:\/(.*))?$/.exec(location.hash) || [];
  if (!Object.hasOwn(PAGES, page || "")) return ["points", ""];
  try {
    return [page, decodeURIComponent(id || "")];
  } catch {
    return ["points", ""];
  }
}

function warnings() {
  const found = [keeping.trouble];
  const there = projectTime();
  if (there && there !== nowToTheMinute()) {
    found.push(`The clock of this device shows ${plainTime(nowToTheMinute())}; in the project time zone, ${plan.project.zone}, it is ${plainTime(there)}. Set the device to that zone.`);
  }
  found.push(reminder());
  return found.filter(Boolean).map((words) => el("p", { class: "warning" }, words));
}

function otherTabWarning() {
  const again = () => { loadRecord(); render(); say("The newer record is loaded."); };
  return el("div", { class: "warning" }, el("p", {}, "This form is open in another tab with a newer record. No entries can be made here until it is loaded."), button("Load the newer record", again, { id: "load-newer" }));
}

function savedWords() {
  if (keeping.otherTab || keeping.trouble) return "NOT SAVED";
  if (keeping.at) return `Saved ${keeping.at.slice(11, 16)}`;
  return record.changes.length ? "All saved" : "No entries yet";
}

// What follows the record: the line of what is saved, the warnings, and the fields on show.
function refresh() {
  const line = document.getElementById("saved");
  line.textContent = savedWords();
  line.className = keeping.otherTab || keeping.trouble ? "bad" : "";
  const above = keeping.otherTab ? [otherTabWarning(), ...warnings()] : warnings();
  const place = document.getElementById("warnings");
  if (place.textContent !== above.map((one) => one.textContent).join("")) place.replaceChildren(...above);
  followers.forEach((update) => update());
}

function render() {
  const focused = document.activeElement && document.activeElement.id;
  const [page, id] = route();
  followers = [];
  const main = document.getElementById("main");
  main.replaceChildren(...PAGES[page](id).flat(Infinity).filter(Boolean));
  for (const link of document.querySelectorAll("nav a")) {
    if (link.dataset.page === (PARTS[page] || page)) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
  document.title = `${main.querySelector("h1").textContent} · ${plan.project.id}`;
  refresh();
  const again = focused && document.getElementById(focused);
  if (again) again.focus({ preventScroll: true });
  else if (focused) heading().focus({ preventScroll: true });
}

function heading() {
  const title = document.querySelector("#main h1");
  title.tabIndex = -1;
  return title;
}

function turnPage() {
  offered = null;
  made = null;
  if (performance.now() - said.at > 500) hush(); // a message said with the turn belongs to the new page
  render();
  scrollTo(0, 0);
  heading().focus({ preventScroll: true });
}

function start() {
  loadRecord();
  document.getElementById("device").textContent = `device ${record.device}`;
  addEventListener("hashchange", turnPage);
  addEventListener("storage", (event) => {
    if (event.key === STAMP || event.key === null) { mayWrite(); refresh(); }
  });
  setInterval(refresh, 30000);
  render();
  document.getElementById("closed").remove();
}

start();
