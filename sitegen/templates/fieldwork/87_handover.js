// Who has what in hand, and what is sent: rows of custody, and shipments.

function subjects() {
  return [...allBags(), ...rowsOf("shipments").map((row) => row.shipment_id), ...rowsOf("deployments").map((row) => row.sampler_id)];
}

function subjectProblems(kind, id) {
  const found = idProblems(id, "the ID of the item transferred");
  if (found.length) return found;
  const known = { bag: allBags(), shipment: rowsOf("shipments").map((row) => row.shipment_id), sampler: rowsOf("samplers").map((row) => row.sampler_id) }[kind] || [];
  return known.includes(id) ? [] : [stop(`No ${kind || "bag, shipment or sampler"} with this ID is recorded here.`)];
}

// Choices of a draft as one list; a phone shows it over the whole screen.
function draftSelect(name, label, choices, changed = () => {}) {
  const id = domId(name);
  const select = el("select", { id, "aria-describedby": `${id}-problems` }, el("option", { value: "" }, "choose"), choices.map(([word, words]) => el("option", { value: word }, words)));
  const box = problemBox(`${id}-problems`);
  select.value = drafts[name] || "";
  select.addEventListener("change", () => { draft(name, select.value); showProblems(box, select, []); changed(); });
  return { element: labelled(id, label, "", select, box), input: select, read: () => select.value, fault: (found) => showProblems(box, select, found) };
}

const GIVES = ["released", "relinquished"];

function handoverFields() {
  const name = "custody";
  const fields = {
    subject_kind: draftSelect(`${name}/kind`, "Item", plan.choices.subject_kind),
    subject_id: draftField(`${name}/id`, "ID of the item", { options: subjects(), longest: 100 }),
    event: draftSelect(`${name}/event`, "Event", plan.choices.event),
    by_role: roleField(`${name}/by`, "By"),
    organisation: draftField(`${name}/organisation`, "Organisation of that person", { longest: 300 }),
    to_role: draftField(`${name}/to`, "Transferred to", { options: plan.roles, hint: "If released or relinquished. Acceptance is recorded separately.", longest: 40 }),
    signature: draftSelect(`${name}/signature`, "Type of signature", plan.choices.signature),
    seal_number: draftField(`${name}/seal`, "Seal number applied or read", { longest: 100 }),
    seal_condition: draftSelect(`${name}/state`, "Condition of the seal", plan.choices.seal_condition),
    place: draftField(`${name}/place`, "Place", { longest: 300 }),
    comment: draftField(`${name}/comment`, "Remark", { longest: 300 }),
  };
  return fields;
}

function handoverProblems(fields) {
  const read = Object.fromEntries(Object.entries(fields).map(([column, field]) => [column, field.read()]));
  const gives = GIVES.includes(read.event);
  return [
    [fields.subject_kind, read.subject_kind ? [] : [stop("Choose the type of item.")]],
    [fields.subject_id, subjectProblems(read.subject_kind, read.subject_id)],
    [fields.event, read.event ? [] : [stop("Choose the event.")]],
    [fields.by_role, roleProblems(read.by_role)],
    [fields.to_role, gives || read.to_role ? roleProblems(read.to_role) : []],
    ...[fields.organisation, fields.seal_number, fields.place, fields.comment].map((field) => [field, []]),
  ];
}

function handoverCard() {
  const fields = handoverFields();
  const accept = () => {
    if (!passes(handoverProblems(fields))) return;
    takeRole(fields.by_role);
    const id = nextId("custody");
    write([["custody", id, "at", nowToTheMinute()], ...Object.entries(fields).map(([column, field]) => ["custody", id, column, field.read()])]);
    dropDrafts("custody");
    saved("Custody event recorded.");
    render();
  };
  return el("section", { class: "panel", "aria-labelledby": "hand-title" }, el("h2", { id: "hand-title" }, "Record a custody event"),
    Object.values(fields).map((field) => field.element), button("Record now", accept, { class: "main", id: "record-custody" }));
}

function custodyWords(row) {
  const to = row.to_role ? ` to ${row.to_role}` : "";
  return `${wordFor("event", row.event)}: ${row.subject_kind} ${row.subject_id}, by ${row.by_role || "no role recorded"}${to}`;
}

function showHandover() {
  const rows = [...rowsOf("custody")].sort((one, other) => ((one.at || "") < (other.at || "") ? 1 : -1));
  return [
    el("h1", {}, "Chain of custody"),
    handoverCard(),
    el("h2", {}, `Recorded here: ${rows.length}`),
    list(rows.map((row) => [el("details", {}, el("summary", {}, `${plainTime(row.at || "")} · ${custodyWords(row)}`),
      cellTime(["custody", row.event_id, "at"], "Time of the event"), cellField(["custody", row.event_id, "comment"], "Remark"),
      takeBack(`uncustody/${row.event_id}`, "Withdraw this record", (reason) => removeRow("custody", row.event_id, reason)))]), { class: "cards" }),
    el("h2", {}, "Shipments"),
    list(rowsOf("shipments").map(shipmentCard), { class: "cards" }), newShipment(),
  ];
}

function shipmentCard(row) {
  const words = [row.direction && wordFor("direction", row.direction), row.packed_at && `packed ${plainTime(row.packed_at)}`, row.received_at && `received ${plainTime(row.received_at)}`];
  return el("a", { class: "card", href: `#/shipment/${encodeURIComponent(row.shipment_id)}` }, el("span", { class: "grow" }, el("strong", {}, row.shipment_id), el("span", { class: "small" }, words.filter(Boolean).join(" · "))));
}

function newShipment() {
  const id = draftField("shipment/id", "ID of the shipment", { longest: 100, hint: "As on the custody form, such as SH-R1." });
  const direction = draftSelect("shipment/direction", "Direction", plan.choices.direction);
  const add = () => {
    const found = idProblems(id.read(), "the shipment ID");
    if (rowOf("shipments", id.read())) found.push(stop("This shipment is already listed."));
    if (!passes([[id, found], [direction, direction.read() ? [] : [stop("Choose the direction.")]]])) return;
    const key = id.read();
    write([["shipments", key, "direction", direction.read()]]);
    dropDrafts("shipment/");
    saved(`Shipment ${key} added.`);
    location.hash = `#/shipment/${encodeURIComponent(key)}`;
  };
  return el("section", { class: "panel", "aria-label": "A further shipment" }, id.element, direction.element, button("Add the shipment", add, { id: "add-shipment" }));
}

function bagsSent(id) {
  return cellsOfBags(id).length ? el("div", { class: "field", role: "group", "aria-labelledby": "sent" }, el("p", { class: "label", id: "sent" }, "Bags in the shipment"), el("div", { class: "choices" }, cellsOfBags(id))) : el("p", {}, "No bag is recorded yet.");
}

function cellsOfBags(id) {
  return rowsOf("return_bags").map((bag) => {
    const inside = bag.shipment_id === id;
    const put = () => {
      if (write([["return_bags", bag.bag_id, "shipment_id", inside ? "" : id]])) saved(`Bag ${bag.bag_id} ${inside ? "removed" : "added"}.`);
      render();
    };
    const elsewhere = bag.shipment_id && !inside ? ` (in ${bag.shipment_id})` : "";
    return button(bag.bag_id + elsewhere, put, { class: "choice", "aria-pressed": String(inside), id: domId(`sent/${bag.bag_id}`), disabled: Boolean(elsewhere) });
  });
}

function showShipment(id) {
  const row = rowOf("shipments", id);
  if (!row) return [el("h1", {}, "No such shipment"), el("p", {}, el("a", { class: "back", href: "#/handover" }, "Chain of custody"))];
  const at = (column) => ["shipments", id, column];
  const back = row.direction === "return";
  return [
    el("h1", {}, `Shipment ${id}`), el("p", {}, wordFor("direction", row.direction)),
    back && bagsSent(id),
    cellField(at("carrier_ref"), "Carrier reference"),
    back && cellTime(at("packed_at"), "Packed at", { now: "Packed now" }),
    back && cellField(at("seal_outer"), "Outer seal number"),
    cellField(at("items_declared"), "Items declared", { inputmode: "numeric", check: wholeProblems, hint: "All contents, including trip blanks and spares." }),
    !back && [cellTime(at("received_at"), "Received at", { now: "Received now", from: () => row.packed_at || "" }),
      cellField(at("items_received"), "Items counted at receipt", { inputmode: "numeric", check: wholeProblems }),
      cellField(at("seal_received"), "Seal number read at receipt"), wordChoice(at("seal_condition"), "Condition of the seal at receipt"), cellField(at("receipt_note"), "Remark at receipt")],
    takeBack(`unshipment/${id}`, "Withdraw this shipment", (reason) => removeRow("shipments", id, reason)),
    el("p", {}, el("a", { class: "back", href: "#/handover" }, "All shipments")),
  ];
}
