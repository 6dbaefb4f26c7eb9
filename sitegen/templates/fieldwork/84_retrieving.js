// A sampler comes out: the time by one tap, its condition, the bag it goes into, the hole.

function outcomeCells(serial, condition) {
  return [["samplers", serial, "outcome", { "": "", not_recovered: "lost" }[condition] ?? "used"]];
}

function retrievingCard(row) {
  const name = `retrieve/${row.sampler_id}`;
  const blank = cellOf("samplers", row.sampler_id, "kind") === "field_blank";
  const role = roleField(`${name}/role`, blank ? "Closed by" : "Retrieved by");
  const accept = (cells, words) => {
    if (!passes([[role, [...roleProblems(role.read()), ...retrievalProblems(row)]]])) return;
    takeRole(role);
    if (!write([...cells, ["deployments", row.sampler_id, "retrieved_by", role.read()]])) return saved("");
    dropDrafts(name);
    saved(words);
    render();
  };
  const now = () => accept([["deployments", row.sampler_id, "retrieved_at", nowToTheMinute()]], `${row.sampler_id} ${blank ? "closed" : "retrieved"}.`);
  const lost = () => accept([["deployments", row.sampler_id, "condition", "not_recovered"], ...outcomeCells(row.sampler_id, "not_recovered")], `${row.sampler_id} recorded as not recovered.`);
  return [role.element, button(blank ? "Closed now" : "Retrieved now", now, { class: "main", id: domId(`${name}/now`) }),
    button("Not recovered", lost, { class: "quiet", id: domId(`${name}/lost`) })];
}

function retrievalProblems(row) {
  const now = nowToTheMinute();
  if (!row.placed_at) return [stop("No installation is recorded for this sampler. Record it first.")];
  return now < row.placed_at ? [stop(`According to the clock of this device it is before installation at ${plainTime(row.placed_at)}. Check both times.`)] : [];
}

function bagChoice(serial) {
  const known = [...new Set([...plannedBags(), ...rowsOf("return_bags").map((row) => row.bag_id)])];
  return cellChoice(["deployments", serial, "bag_id"], "Return bag", known.map((id) => [id, id]), {
    hint: known.length ? "Further bags are added on the page “Bags”." : "Add a bag on the page “Bags” first.",
    check: (bagId) => bagProblems(bagId, serial),
    with: (bagId) => (bagId && !rowOf("return_bags", bagId) ? [["return_bags", bagId, "bag_id", bagId]] : []),
  });
}

function retrievedFields(row) {
  const at = (column) => ["deployments", row.sampler_id, column];
  const point = pointOf.get(row.location_id);
  const lost = row.condition === "not_recovered" && !row.retrieved_at;
  const blank = cellOf("samplers", row.sampler_id, "kind") === "field_blank";
  const hole = !blank && point && point.ground !== "air";
  return [
    !lost && cellTime(at("retrieved_at"), blank ? "Closed at" : "Retrieved at", { from: () => row.placed_at || "" }),
    cellField(at("retrieved_by"), blank ? "Closed by" : "Retrieved by", { check: roleProblems, options: plan.roles }),
    wordChoice(at("condition"), "Condition on retrieval", { with: (condition) => outcomeCells(row.sampler_id, condition), after: () => lost && render() }),
    !lost && wordChoice(at("individually_bagged"), "Bagged individually"),
    !lost && bagChoice(row.sampler_id),
    hole && wordChoice(at("hole_restored"), "Hole restored"),
  ];
}
