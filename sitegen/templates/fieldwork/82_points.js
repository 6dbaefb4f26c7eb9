// The points in walking order, with their state, and the next one on top.

let searched = "";

function nextPoint(state) {
  return plan.points.find((point) => stateOf(point.id) === state);
}

function pointCard(point, lead) {
  const state = stateOf(point.id);
  const doubled = slotsAt(point.id).some((slot) => slot.use === "field_duplicate");
  return el("a", { class: "card", href: `#/point/${encodeURIComponent(point.id)}` }, sign(state),
    el("span", { class: "grow" }, lead && el("span", { class: "lead" }, lead), el("strong", {}, point.id),
      el("span", { class: "small" }, [STATES[state], wordFor("medium", point.medium), doubled && "with duplicate"].filter(Boolean).join(" · "))));
}

function blankCard(slot) {
  const state = slotState(slot);
  return el("a", { class: "card", href: `#/blank/${encodeURIComponent(slot.label)}` }, sign(state),
    el("span", { class: "grow" }, el("strong", {}, slot.label), el("span", { class: "small" },
      { to_place: "field blank · to open", in_place: "field blank · open", retrieved: "field blank · closed" }[state])));
}

function counted() {
  const counts = { to_place: 0, in_place: 0, retrieved: 0, not_done: 0 };
  for (const point of plan.points) counts[stateOf(point.id)] += 1;
  return Object.keys(STATES).map((state) => el("li", {}, sign(state), `${counts[state]} ${STATES[state]}`));
}

function matches(text) {
  return text.toLowerCase().includes(searched.toLowerCase());
}

function serialsAt(pointId) {
  return rowsOf("deployments").filter((row) => row.location_id === pointId).map((row) => row.sampler_id);
}

function fillList(place) {
  const points = plan.points.filter((point) => matches(point.id) || (searched && serialsAt(point.id).some(matches)));
  const blanks = plan.slots.filter((slot) => slot.use === "field_blank" && matches(slot.label));
  place.replaceChildren(...(points.length + blanks.length
    ? [list(points.map((point) => pointCard(point)), { class: "cards" }),
      blanks.length ? el("h2", {}, "Field blanks") : "", blanks.length ? list(blanks.map(blankCard), { class: "cards" }) : ""]
    : [el("p", {}, `No point and no sampler recorded here has “${searched}” in its id.`)]));
}

function searchField(place) {
  const input = el("input", { id: "search", type: "search", autocomplete: "off", maxlength: 100 });
  input.value = searched;
  input.addEventListener("input", () => {
    searched = clean(input.value);
    fillList(place);
  });
  return el("div", { class: "field" }, el("label", { for: "search" }, "Search by point or serial number"), input);
}

function openLabel(identity) {
  const row = rowOf("deployments", identity);
  const slot = slotOf.get(identity);
  const id = row ? row.location_id : slot && slot.point;
  if (id && pointOf.has(id)) location.hash = `#/point/${encodeURIComponent(id)}`;
  else if (slot && slot.use === "field_blank") location.hash = `#/blank/${encodeURIComponent(identity)}`;
  else say(`${identity} is no point of the plan, and no sampler recorded here.`);
}

function showPoints() {
  const place = el("div");
  fillList(place);
  const placing = nextPoint("to_place");
  const retrieving = nextPoint("in_place");
  return [
    el("h1", {}, "Points"),
    el("p", { class: "small" }, plan.project.title),
    el("ul", { class: "key" }, counted()),
    placing && pointCard(placing, "Next installation"),
    retrieving && (!placing || plan.points.some((point) => stateOf(point.id) === "retrieved")) && pointCard(retrieving, "Next retrieval"),
    el("h2", {}, "In walking order"),
    searchField(place), scanButton("Scan a label", openLabel), place,
  ];
}
