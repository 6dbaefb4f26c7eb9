// The plan that this form was made from, and the look-ups in it.

const planText = document.getElementById("plan").textContent;
const plan = JSON.parse(planText);
const pointOf = new Map(plan.points.map((point) => [point.id, point]));
const slotOf = new Map(plan.slots.map((slot) => [slot.label, slot]));
const TABLES = Object.keys(plan.columns);
const listed = new Map((plan.tables.samplers || []).map((row) => [row.sampler_id, row]));

function wordFor(column, word) {
  const found = (plan.choices[column] || []).find(([name]) => name === word);
  return found ? found[1] : word;
}

function slotsAt(pointId) {
  return plan.slots.filter((slot) => slot.point === pointId);
}

function plannedBags() {
  return [...new Set(plan.slots.map((slot) => slot.bag).filter(Boolean))];
}
