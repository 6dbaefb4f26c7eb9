// A sampler goes in: its serial twice, the time by one tap, then what was met in the hole.

function serialPair(name, use) {
  const serial = draftField(`${name}/serial`, "Serial number of the sampler", { longest: 100 });
  const again = draftField(`${name}/again`, "Serial number, second reading", { longest: 100, hint: "Read it from the sampler a second time." });
  const both = (identity) => {
    if (slotOf.has(identity)) {
      say(`${identity} is the label of a planned position, not a serial number.`);
      return;
    }
    serial.fill(identity);
    again.fill(identity);
    say(`${identity} read from the label.`);
  };
  return {
    serial, again,
    element: [serial.element, again.element, scanButton("Scan the serial number", both)],
    problems: () => {
      const found = serialProblems(serial.read(), again.read(), use);
      const apart = serial.read() && serial.read() !== again.read();
      return [[serial, apart ? [] : found], [again, apart ? found : []]];
    },
  };
}

function placingProblems(slot, pointId) {
  if (!pointId) return [stop("Enter the point at which the blank is opened.")];
  if (!pointOf.has(pointId)) return [stop(`${pointId} is not a planned point.`)];
  if (slot.use !== "field_duplicate" || primaryAt(pointId)) return [];
  return [stop("Install the primary sampler of this point first.")];
}

function primaryAt(pointId) {
  const slot = plan.slots.find((one) => one.point === pointId && one.use === "sample");
  const rows = slot ? rowsAt(slot) : [];
  return rows.length ? rows[rows.length - 1].sampler_id : "";
}

function placedCells(slot, serial, pointId, role, replaces) {
  const parent = slot.use === "field_duplicate" ? primaryAt(pointId) : "";
  const label = replaces ? `${slot.label}-R${rowsOf("deployments").filter((row) => row.replaces).length + 1}` : slot.label;
  return [
    ["samplers", serial, "label", cellOf("samplers", serial, "label") || label],
    ["samplers", serial, "kind", slot.use],
    ["deployments", serial, "location_id", pointId],
    ["deployments", serial, "duplicate_of", parent],
    ["deployments", serial, "replaces", replaces],
    ["deployments", serial, "placed_at", nowToTheMinute()],
    ["deployments", serial, "placed_by", role],
  ];
}

// The card for a sampler that is to go in; ``replaces`` is the sampler whose place it takes, "" otherwise.
function placingCard(slot, replaces = "") {
  const name = `place/${slot.label}/${replaces}`;
  const opened = slot.use === "field_blank";
  const pair = serialPair(name, slot.use);
  const where = opened && draftField(`${name}/point`, "Point at which it is opened", { options: plan.points.map((one) => one.id), longest: 100 });
  const role = roleField(`${name}/role`, opened ? "Opened by" : "Installed by");
  const reason = reasonField(`${name}/reason`);
  const accept = () => {
    const pointId = where ? where.read() : slot.point;
    const placing = placingProblems(slot, pointId);
    const checked = [...pair.problems(), ...(where ? [[where, placing]] : []), [role, roleProblems(role.read())]];
    if (!where && placing.length) checked[0][1].push(...placing);
    if (!passesWithReason(checked, reason)) return;
    takeRole(role);
    if (!write(placedCells(slot, pair.serial.read(), pointId, role.read(), replaces), reason.element.hidden ? "" : reason.read())) return saved("");
    dropDrafts(name);
    saved(`${pair.serial.read()} ${opened ? "opened" : "installed"} at ${pointId}.`);
    render();
  };
  return [pair.element, where && where.element, role.element, reason.element,
    button(opened ? "Opened now" : "Installed now", accept, { class: "main", id: domId(`${name}/now`) })];
}

function depthField(serial, point) {
  const depth = plan.depth;
  const planned = point.depth && depth && depth.value;
  const unit = plan.depth_column.endsWith("_ft") ? "ft" : "m";
  return cellField(["deployments", serial, plan.depth_column], `Depth of the sampler (${unit})`, {
    inputmode: "decimal", check: point.depth ? depthProblems : (text) => numberProblems(text, 1000),
    hint: planned ? `As measured. Planned: ${depth.value} ${depth.unit}.` : "As measured, not as planned.",
    offer: planned && [`Measured as planned: ${depth.value} ${depth.unit}`, depth.value],
  });
}

function holeFields(serial, point) {
  const at = (column) => ["deployments", serial, column];
  return [
    depthField(serial, point),
    wordChoice(at("refusal"), "Refusal before target depth"),
    wordChoice(at("hole_method"), "Drilling method"),
    cellField(at("hole_diameter_in"), "Hole diameter (in)", { inputmode: "decimal", check: (text) => numberProblems(text, 1000) }),
    wordChoice(at("sleeve"), "Upper hole sleeved"),
    wordChoice(at("closure"), "Hole closure"),
    cellField(at("soil_type"), "Soil type", { options: plan.soils }),
    wordChoice(at("moisture"), "Soil moisture"),
    cellField(at("odour"), "Odour", { hint: "As noticed incidentally; “none” if none. Do not smell the hole." }),
  ];
}

// What is recorded of a sampler that went in, each cell to fill in or to correct.
function placedFields(row, point) {
  const serial = row.sampler_id;
  const at = (column) => ["deployments", serial, column];
  const air = !point || point.ground === "air";
  const blank = cellOf("samplers", serial, "kind") === "field_blank";
  return [
    cellTime(at("placed_at"), blank ? "Opened at" : "Installed at"),
    cellField(at("placed_by"), blank ? "Opened by" : "Installed by", { check: roleProblems, options: plan.roles }),
    !air && !blank && holeFields(serial, point),
    !blank && cellField(at("moved_ft"), "Moved from the planned position (ft)", { inputmode: "decimal", check: (text) => numberProblems(text, 100000), hint: "0 if not moved." }),
    cellField(at("comment"), "Remark", { hint: "As on the log sheet. No names or telephone numbers." }),
  ];
}
