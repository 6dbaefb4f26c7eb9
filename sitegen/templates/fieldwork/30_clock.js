// The device's wall clock, which a form without a network has to trust, and what it can say about it.

function two(number) {
  return String(number).padStart(2, "0");
}

function nowToTheSecond() {
  const now = new Date();
  const day = `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
  return `${day}T${two(now.getHours())}:${two(now.getMinutes())}:${two(now.getSeconds())}`;
}

function nowToTheMinute() {
  return nowToTheSecond().slice(0, 16);
}

function plainTime(text) {
  return text.replace("T", " ");
}

function isNight(text) {
  const hour = Number(text.slice(11, 13));
  const [begins, ends] = plan.night;
  return begins > ends ? hour >= begins || hour < ends : hour >= begins && hour < ends;
}

// Hours between two wall-clock times; both are read as the device's own, so that a change of its clocks counts.
function hoursBetween(from, to) {
  return (new Date(to) - new Date(from)) / 3600000;
}

// The time in the project's zone where the browser knows the zone, "" where it doesn't.
function projectTime() {
  try {
    const parts = new Intl.DateTimeFormat("en-CA", {
      timeZone: plan.project.zone, year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit", hourCycle: "h23",
    }).formatToParts(new Date());
    const of = Object.fromEntries(parts.map((part) => [part.type, part.value]));
    return `${of.year}-${of.month}-${of.day}T${of.hour}:${of.minute}`;
  } catch {
    return "";
  }
}
