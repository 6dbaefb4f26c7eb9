// What is wrong with an entry, in words for the person who makes it.
// "stop": it isn't taken; "ask": it is taken with a reason, which is kept; "note": it is shown and stays.

function stop(text) {
  return { level: "stop", text };
}

function ask(text) {
  return { level: "ask", text };
}

function clean(text) {
  return text.replace(/[\p{Cc}\p{Cs}]+/gu, " ").trim();
}

// A spreadsheet would run such a text; the office refuses an export that has one.
function textProblems(text) {
  return /^([=@＝＠]|[+\-＋－].*[=(|!@])/.test(text) ? [stop("A spreadsheet would read this as a formula. Begin with a word.")] : [];
}

function isRole(text) {
  return plan.roles.includes(text) || /^[A-Z]{1,4}(-?[0-9]{1,3})?$/.test(text);
}

function roleProblems(text) {
  if (!text) return [stop("Enter the role code of the person responsible.")];
  return isRole(text) ? [] : [stop("Enter a role code such as FS-1, not a name.")];
}

function samplerRow(serial) {
  return rowOf("samplers", serial);
}

// Samplers recorded for a slot of the plan that no other has replaced, the oldest first.
function rowsAt(slot) {
  const replaced = new Set(rowsOf("deployments").map((row) => row.replaces).filter(Boolean));
  return rowsOf("deployments").filter((row) => !replaced.has(row.sampler_id) && serves(row, slot));
}

function serves(row, slot) {
  const sampler = samplerRow(row.sampler_id) || {};
  if (slot.use === "field_blank") return sampler.kind === "field_blank" && sampler.label === slot.label;
  if (row.location_id !== slot.point || sampler.kind === "field_blank") return false;
  return (slot.use === "field_duplicate") === Boolean(row.duplicate_of);
}

function isOut(row) {
  return Boolean(row.retrieved_at) || row.condition === "not_recovered";
}

// "to_place", "in_place", "retrieved" or "not_done", of all samplers planned at a point.
function stateOf(pointId) {
  if (cellOf("locations", pointId, "status") === "not_done") return "not_done";
  return worstState(slotsAt(pointId));
}

function slotState(slot) {
  const rows = rowsAt(slot);
  if (!rows.length) return "to_place";
  return rows.every(isOut) ? "retrieved" : "in_place";
}

function worstState(slots) {
  const states = slots.map(slotState);
  return ["to_place", "in_place"].find((state) => states.includes(state)) || "retrieved";
}

function whereUsed(serial) {
  const row = rowOf("deployments", serial);
  if (row) return `recorded at ${row.location_id}, installed ${plainTime(row.placed_at || "")}`;
  const bag = rowsOf("return_bags").find((one) => one.trip_blank_id === serial);
  return bag ? `the trip blank of bag ${bag.bag_id}` : "";
}

function serialProblems(serial, again, use) {
  if (!serial) return [stop("Enter the serial number of the sampler.")];
  if (/[;\s]/.test(serial) || serial === "NA") return [stop("A serial number has no spaces or semicolons and is not NA.")];
  if (serial !== again) return [stop("The two entries differ. Read the serial number again and enter it twice.")];
  const used = whereUsed(serial);
  if (used) return [stop(`${serial} is already ${used}. Read the serial number again.`)];
  const known = listed.get(serial);
  if (known && known.kind === "trip_blank" && use !== "trip_blank") {
    return [stop(`${serial} is listed as a trip blank. A trip blank stays closed in its bag: use another sampler.`)];
  }
  if (listed.size && !known) return [ask(`${serial} is not in the list of samplers. Read it again; if correct, give a reason.`)];
  if (known && known.kind !== use && known.kind !== "spare") {
    return [ask(`${serial} is listed as ${wordFor("kind", known.kind)}, not as ${wordFor("kind", use)}. If used as such, give a reason.`)];
  }
  return [];
}

function timeProblems(text, from = "") {
  if (!/^\d{4}-\d\d-\d\dT\d\d:\d\d$/.test(text)) return [stop("Enter a date and time.")];
  if (text > nowToTheMinute()) return [stop("This time is in the future according to the clock of this device.")];
  if (from && text < from) return [stop(`This is before installation at ${plainTime(from)}.`)];
  return isNight(text) ? [ask("This time is at night. Check morning or afternoon.")] : [];
}

function numberProblems(text, most) {
  if (!text) return [];
  if (!/^\d+(\.\d+)?$/.test(text)) return [stop("Enter a number such as 3.0, with a decimal point and without a unit.")];
  return Number(text) > most ? [stop(`More than ${most}: check the unit.`)] : [];
}

function depthProblems(text) {
  const found = numberProblems(text, 1000);
  const depth = plan.depth;
  if (found.length || !text || !depth || !depth.value) return found;
  const off = Math.abs(Number(text) - Number(depth.value));
  if (off <= Number(depth.tolerance) + 1e-9) return [];
  return [{ level: "note", text: `Planned: ${depth.value} ${depth.unit}, within ${depth.tolerance} ${depth.unit}. `
    + "Check the number; if correct, state the reason in the remark." }];
}

function wholeProblems(text) {
  return text && !/^\d{1,6}$/.test(text) ? [stop("Enter a whole number.")] : [];
}

function samplersIn(bagId) {
  return rowsOf("deployments").filter((row) => row.bag_id === bagId);
}

function bagProblems(bagId, serial) {
  if (!bagId) return [];
  if (cellOf("return_bags", bagId, "sealed_at")) return [stop(`Bag ${bagId} is sealed. Use another bag, or reopen it on its page.`)];
  const others = samplersIn(bagId).filter((row) => row.sampler_id !== serial);
  return others.length >= plan.per_bag ? [stop(`Bag ${bagId} is full: ${others.length} of ${plan.per_bag} samplers. Use another bag.`)] : [];
}

function photoProblems(name) {
  if (!name) return [stop("Enter the name of the file.")];
  return /^[\w][\w .-]*\.(jpe?g|png)$/i.test(name) ? [] : [stop("Enter a file name such as IMG_0042.jpg, without a folder.")];
}

function idProblems(text, what) {
  if (!text) return [stop(`Enter ${what}.`)];
  return /;/.test(text) || text === "NA" ? [stop("An ID has no semicolon and is not NA.")] : [];
}
