// Return bags: what is in each, its trip blank, its count and its seal.

function allBags() {
  return [...new Set([...plannedBags(), ...rowsOf("return_bags").map((row) => row.bag_id)])];
}

function bagCard(id) {
  const bag = rowOf("return_bags", id) || {};
  const words = [`${samplersIn(id).length} of ${plan.per_bag} samplers`, bag.trip_blank_id ? `trip blank ${bag.trip_blank_id}` : "no trip blank recorded",
    bag.sealed_at ? `sealed ${plainTime(bag.sealed_at)}` : "open"];
  return el("a", { class: "card", href: `#/bag/${encodeURIComponent(id)}` }, el("span", { class: "grow" }, el("strong", {}, id), el("span", { class: "small" }, words.join(" · "))));
}

function showBags() {
  const bag = draftField("bags/new", "ID of a further bag", { longest: 100 });
  const add = () => {
    const found = idProblems(bag.read(), "the bag ID");
    if (allBags().includes(bag.read())) found.push(stop("This bag is already listed."));
    if (!passes([[bag, found]])) return;
    const id = bag.read();
    if (write([["return_bags", id, "bag_id", id]])) dropDrafts("bags/new");
    saved(`Bag ${id} added.`);
    location.hash = `#/bag/${encodeURIComponent(id)}`;
  };
  return [
    el("h1", {}, "Bags"),
    el("p", { class: "hint" }, "Samplers are assigned to a bag on the page of their point, at retrieval."),
    list(allBags().map(bagCard), { class: "cards" }),
    el("section", { class: "panel", "aria-label": "A further bag" }, bag.element, button("Add the bag", add, { id: "add-bag" })),
    unusedSection(),
  ];
}

// Samplers that were never placed: spares that go back, and those that broke or were lost before.
function unusedSection() {
  const pair = serialPair("unused", "spare");
  const reason = reasonField("unused/reason");
  const add = (outcome) => {
    if (!passesWithReason(pair.problems(), reason)) return;
    const serial = pair.serial.read();
    const kind = cellOf("samplers", serial, "kind") || "spare";
    write([["samplers", serial, "kind", kind], ["samplers", serial, "outcome", outcome]], reason.element.hidden ? "" : reason.read());
    dropDrafts("unused");
    saved(`${serial}: ${wordFor("outcome", outcome)}.`);
    render();
  };
  const rows = rowsOf("samplers").filter((row) => row.outcome && !whereUsed(row.sampler_id));
  const outcomes = ["returned_unused", "lost", "destroyed"];
  return el("section", { class: "panel", "aria-labelledby": "unused-title" }, el("h2", { id: "unused-title" }, "Samplers not installed"),
    list(rows.map((row) => `${row.sampler_id}: ${wordFor("outcome", row.outcome)}`)),
    pair.element, reason.element,
    el("div", { class: "row" }, outcomes.map((outcome) => button(wordFor("outcome", outcome), () => add(outcome), { id: `unused-${outcome}` }))));
}

function tripBlankCard(id) {
  const name = `bag/${id}/blank`;
  const slot = plan.slots.find((one) => one.use === "trip_blank" && one.bag === id);
  const pair = serialPair(name, "trip_blank");
  const reason = reasonField(`${name}/reason`);
  const accept = () => {
    if (!passesWithReason(pair.problems(), reason)) return;
    const serial = pair.serial.read();
    write([["samplers", serial, "label", cellOf("samplers", serial, "label") || (slot ? slot.label : "")], ["samplers", serial, "kind", "trip_blank"],
      ["return_bags", id, "trip_blank_id", serial]], reason.element.hidden ? "" : reason.read());
    dropDrafts(name);
    saved(`Trip blank ${serial} recorded in bag ${id}.`);
    render();
  };
  return [el("p", { class: "hint" }, "It stays closed. Read its serial number through the bag."), pair.element, reason.element,
    button("Trip blank is in the bag", accept, { id: domId(`${name}/add`) })];
}

function sealCard(id) {
  const name = `bag/${id}/seal`;
  const seal = draftField(`${name}/seal`, "Seal number", { longest: 100 });
  const again = draftField(`${name}/again`, "Seal number, second reading", { longest: 100 });
  const count = draftField(`${name}/count`, "Samplers counted in the bag", { hint: "By count, excluding the trip blank.", inputmode: "numeric", longest: 6 });
  const role = roleField(`${name}/role`, "Sealed by");
  const reason = reasonField(`${name}/reason`);
  const accept = () => {
    const inside = samplersIn(id).length;
    const counted = wholeProblems(count.read());
    if (!count.read()) counted.push(stop("Count the samplers in the bag."));
    else if (!counted.length && Number(count.read()) !== inside) counted.push(ask(`The record has ${inside} in this bag, the count is ${count.read()}. Count again; if correct, give a reason.`));
    const numbers = idProblems(seal.read(), "the seal number");
    const differ = seal.read() === again.read() ? [] : [stop("The two entries differ. Read the seal number again.")];
    const blank = cellOf("return_bags", id, "trip_blank_id") ? [] : [ask("No trip blank is recorded in this bag. If there is none, give a reason.")];
    if (!passesWithReason([[seal, [...numbers, ...blank]], [again, differ], [count, counted], [role, roleProblems(role.read())]], reason)) return;
    takeRole(role);
    write(sealCells(id, seal.read(), count.read(), role.read()), reason.element.hidden ? "" : reason.read());
    dropDrafts(name);
    saved(`Bag ${id} sealed.`);
    render();
  };
  return [seal.element, again.element, count.element, role.element, reason.element, button("Sealed now", accept, { class: "main", id: domId(`${name}/now`) })];
}

function sealCells(id, seal, count, role) {
  const now = nowToTheMinute();
  const event = nextId("custody");
  const blank = cellOf("return_bags", id, "trip_blank_id");
  return [
    ["return_bags", id, "seal_applied", seal], ["return_bags", id, "sealed_at", now], ["return_bags", id, "sealed_by", role], ["return_bags", id, "count_declared", count],
    ...(blank ? [["samplers", blank, "outcome", "used"]] : []),
    ["custody", event, "subject_kind", "bag"], ["custody", event, "subject_id", id], ["custody", event, "event", "sealed"],
    ["custody", event, "at", now], ["custody", event, "by_role", role], ["custody", event, "seal_number", seal],
  ];
}

function sealedFields(id, bag) {
  return [
    facts([["Seal", bag.seal_applied], ["Sealed by", bag.sealed_by], ["Counted", bag.count_declared]]),
    cellTime(["return_bags", id, "sealed_at"], "Sealed at"),
    takeBack(`bag/${id}/open`, "Reopen this bag", (reason) => write(["seal_applied", "sealed_at", "sealed_by", "count_declared"].map((column) => ["return_bags", id, column, ""]), reason)),
  ];
}

function showBag(id) {
  const bag = rowOf("return_bags", id) || {};
  const inside = samplersIn(id);
  return [
    el("h1", {}, `Bag ${id}`),
    el("p", {}, `${inside.length} of ${plan.per_bag} samplers recorded in this bag.`),
    inside.length > plan.per_bag && el("p", { class: "note" }, el("strong", {}, "Check: "), "More than planned for one bag."),
    list(inside.map((row) => [el("strong", {}, row.sampler_id), ` from ${row.location_id}`])),
    el("section", { class: "panel", "aria-labelledby": "blank-title" }, el("h2", { id: "blank-title" }, "Trip blank"),
      bag.trip_blank_id ? [el("p", { class: "value" }, bag.trip_blank_id),
        !bag.sealed_at && takeBack(`bag/${id}/unblank`, "Withdraw the trip blank", (reason) => write([["return_bags", id, "trip_blank_id", ""], ["samplers", bag.trip_blank_id, "outcome", ""]], reason))]
        : bag.sealed_at ? el("p", {}, "No trip blank is recorded.") : tripBlankCard(id)),
    el("section", { class: "panel", "aria-labelledby": "seal-title" }, el("h2", { id: "seal-title" }, "Count and seal"), bag.sealed_at ? sealedFields(id, bag) : sealCard(id)),
    cellField(["return_bags", id, "note"], "Remark"),
    el("p", {}, el("a", { class: "back", href: "#/bags" }, "All bags")),
  ];
}
