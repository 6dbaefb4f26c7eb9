// One point: where it is, what is planned there, and each of its samplers.

function facts(pairs) {
  return el("dl", {}, pairs.filter(([, text]) => text).map(([term, text]) => [el("dt", {}, term), el("dd", {}, text)]));
}

function pointFacts(point) {
  return facts([
    ["Medium", wordFor("medium", point.medium)],
    ["Surface", [wordFor("surface", point.surface), point.thickness && `${point.thickness} in thick`].filter(Boolean).join(", ")],
    ["Building", point.building],
    ["Planned depth", point.depth],
    ["Tie distances", point.ties.map((tie) => el("div", {}, tie))],
    ["Position", point.position],
    ["Purpose", point.rationale],
    ["Remark in the plan", point.comment],
  ].map(([term, text]) => [term, Array.isArray(text) && !text.length ? "" : text]));
}

// On the day of the placing it is folded, and below: a second tap on "Placed now" must not retrieve.
function comingOut(row, open) {
  return el("details", { class: "panel out", open: open || drafted(`retrieve/${row.sampler_id}/`) }, el("summary", {}, "Retrieval"), retrievingCard(row));
}

function samplerSection(row, point) {
  const serial = row.sampler_id;
  const today = (row.placed_at || "").slice(0, 10) === nowToTheMinute().slice(0, 10);
  const slot = plan.slots.find((one) => serves(row, one));
  const open = !isOut(row);
  return el("section", { "aria-label": `Sampler ${serial}` },
    el("h3", {}, sign(open ? "in_place" : "retrieved"), `Sampler ${serial}`),
    open && !today && comingOut(row, true),
    !open && el("div", { class: "panel" }, el("h4", {}, "Retrieval"), retrievedFields(row)),
    el("details", { open: (open && today) || drafted(`deployments/${serial}/`), class: "panel" }, el("summary", {}, "Installation"), placedFields(row, point)),
    open && today && comingOut(row, false),
    slot && el("details", { open: drafted(`place/${slot.label}/${serial}/`) },
      el("summary", {}, "Replace this sampler"), placingCard(slot, serial)),
    !open && takeBack(`unretrieve/${serial}`, "Withdraw the retrieval", (reason) => write(
      ["retrieved_at", "retrieved_by", "condition", "individually_bagged", "bag_id", "hole_restored"].map((column) => ["deployments", serial, column, ""]).concat([["samplers", serial, "outcome", ""]]), reason)),
    takeBack(`unplace/${serial}`, "Withdraw the installation (entered in error)", (reason) => unplace(serial, reason)));
}

function unplace(serial, reason) {
  const pair = rowsOf("deployments").find((row) => row.duplicate_of === serial || row.replaces === serial);
  if (pair) return `${pair.sampler_id} is recorded as duplicate or replacement of ${serial}. Withdraw that entry first.`;
  removeRow("deployments", serial, reason);
  if (!listed.has(serial)) return removeRow("samplers", serial, reason);
  return write(["label", "kind", "outcome"].map((column) => ["samplers", serial, column, listed.get(serial)[column] || ""]), reason);
}

function slotSection(slot, point) {
  const names = { sample: "Primary sampler", field_duplicate: "Field duplicate of the primary", field_blank: "Field blank" };
  const rows = rowsAt(slot);
  return el("section", { "aria-label": names[slot.use] },
    el("h2", {}, names[slot.use]),
    el("p", { class: "small" }, `Label: ${slot.label}`, slot.bag && ` · planned bag: ${slot.bag}`),
    rows.length > 1 && el("p", { class: "note" }, el("strong", {}, "Check: "), `${rows.length} samplers are recorded here. Withdraw one, or record one as the replacement of the other.`),
    rows.map((row) => samplerSection(row, point || pointOf.get(row.location_id))),
    !rows.length && el("div", { class: "panel" }, placingCard(slot)));
}

function notDone(point) {
  const name = `notdone/${point.id}`;
  const reason = draftField(`${name}/reason`, "Reason for no installation", { longest: 300 });
  const accept = () => {
    if (!passes([[reason, reason.read() ? [] : [stop("Give a reason.")]]])) return;
    const why = reason.read();
    if (write([["locations", point.id, "status", "not_done"], ["locations", point.id, "comment", why]], why)) dropDrafts(name);
    saved(`${point.id} recorded as not installed.`);
    render();
  };
  return el("details", { open: drafted(`${name}/`) }, el("summary", {}, "No sampler installed at this point"), reason.element,
    button("Not installed", accept, { class: "quiet", id: domId(`${name}/accept`) }));
}

function showPoint(id) {
  const point = pointOf.get(id);
  if (!point) return [el("h1", {}, "No such point"), el("p", {}, el("a", { class: "back", href: "#/points" }, "All points"))];
  const skipped = stateOf(id) === "not_done";
  const at = plan.points.indexOf(point);
  const next = plan.points[at + 1];
  return [
    el("h1", {}, sign(stateOf(id)), id),
    el("p", { class: "small" }, `Point ${at + 1} of ${plan.points.length} in walking order · ${STATES[stateOf(id)]}`),
    pointFacts(point),
    skipped && [el("p", { class: "note" }, `Not installed: ${cellOf("locations", id, "comment")}`),
      takeBack(`donelater/${id}`, "Return the point to the plan", (reason) => removeRow("locations", id, reason))],
    !skipped && slotsAt(id).map((slot) => slotSection(slot, point)),
    photosSection(id), point.ground === "air" && productsSection(id),
    !skipped && !slotsAt(id).some((slot) => rowsAt(slot).length) && notDone(point),
    next && el("p", {}, el("a", { class: "card", href: `#/point/${encodeURIComponent(next.id)}` }, sign(stateOf(next.id)), el("span", { class: "grow" }, `Next point: ${next.id}`))),
  ];
}

function showBlank(label) {
  const slot = slotOf.get(label);
  return slot ? [el("h1", {}, label), slotSection(slot, null)] : [el("h1", {}, "No such blank")];
}

function photosSection(pointId) {
  const name = `photo/${pointId}`;
  const file = draftField(`${name}/file`, "File name of a photograph", { hint: "As named by the camera; the image stays in the camera. No people or number plates.", longest: 200 });
  const direction = draftField(`${name}/direction`, "Direction of view", { longest: 100 });
  const caption = draftField(`${name}/caption`, "Caption", { longest: 300 });
  const add = (time) => {
    const path = `photos/${file.read()}`;
    const found = photoProblems(file.read());
    if (!found.length && rowOf("photos", path)) found.push(stop("This file name is recorded already."));
    if (!passes([[file, found], [direction, []], [caption, []]])) return;
    write([["photos", path, "location_id", pointId], ["photos", path, "taken_at", time], ["photos", path, "direction", direction.read()], ["photos", path, "caption", caption.read()]]);
    dropDrafts(name);
    saved(`${path} recorded.`);
    render();
  };
  const rows = rowsOf("photos").filter((row) => row.location_id === pointId);
  return el("details", { class: "panel", open: drafted(`${name}/`) }, el("summary", {}, `Photographs (${rows.length} recorded)`),
    list(rows.map((row) => [el("strong", {}, row.file), ` ${row.caption || ""} `, takeBack(`unphoto/${row.file}`, "Withdraw", (reason) => removeRow("photos", row.file, reason))])),
    file.element, direction.element, caption.element,
    button("Add, taken now", () => add(nowToTheMinute()), { id: domId(`${name}/now`) }), button("Add without a time", () => add(""), { class: "quiet", id: domId(`${name}/plain`) }));
}

function productsSection(pointId) {
  const name = `product/${pointId}`;
  const what = draftField(`${name}/what`, "Product found near the sampler", { hint: "Generic description, such as “paint thinner”; no brand.", longest: 300 });
  const add = () => {
    if (!passes([[what, what.read() ? [] : [stop("Enter a description.")]]])) return;
    const key = nextId("products", "P");
    write([["products", key, "location_id", pointId], ["products", key, "product", what.read()], ["products", key, "noted_at", nowToTheMinute()]]);
    dropDrafts(name);
    saved("Product recorded.");
    render();
  };
  const rows = rowsOf("products").filter((row) => row.location_id === pointId);
  return el("details", { class: "panel", open: drafted(`${name}/`) }, el("summary", {}, `Products in the room (${rows.length} recorded)`),
    rows.map((row) => el("section", { "aria-label": row.product }, el("h4", {}, row.product), wordChoice(["products", row.product_id, "state"], "As found"),
      takeBack(`unproduct/${row.product_id}`, "Withdraw", (reason) => removeRow("products", row.product_id, reason)))),
    what.element, button("Add", add, { id: domId(`${name}/add`) }));
}
