// The points as planned, drawn to scale, with the device's own position where it may be asked for.

const view = { zoom: 1, chosen: "", here: null };

function mapPoints() {
  return plan.points.filter((point) => typeof point.x === "number");
}

function mapFrame() {
  const corners = plan.shapes.flatMap((shape) => shape.line);
  const xs = [...mapPoints().map((point) => point.x), ...corners.map(([x]) => x)];
  const ys = [...mapPoints().map((point) => point.y), ...corners.map(([, y]) => y)];
  const [west, east, south, north] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  const side = Math.max(east - west, north - south, 10) * 1.08;
  const chosen = pointOf.get(view.chosen);
  const centre = view.zoom > 1 && chosen ? chosen : { x: (west + east) / 2, y: (south + north) / 2 };
  return { x: centre.x - side / view.zoom / 2, y: centre.y + side / view.zoom / 2, side: side / view.zoom };
}

function roundLength(most) {
  const ten = 10 ** Math.floor(Math.log10(most));
  return [5, 2, 1].map((n) => n * ten).find((length) => length <= most) || ten;
}

function drawMap() {
  const frame = mapFrame();
  const scale = 1000 / frame.side;
  const at = (x, y) => [(x - frame.x) * scale, (frame.y - y) * scale];
  const shapes = plan.shapes.map((shape) => svg(shape.closed ? "polygon" : "polyline",
    { class: `ground ${shape.kind}`, points: shape.line.map(([x, y]) => at(x, y).map((n) => n.toFixed(1)).join(",")).join(" ") }));
  const points = mapPoints().map((point) => drawPoint(point, at(point.x, point.y)));
  const drawing = svg("svg", { viewBox: "0 0 1000 1000", class: "map", role: "img", "aria-label": "Map of the points. North is up." },
    shapes, points, drawHere(at), drawScale(frame, scale));
  drawing.addEventListener("click", (event) => chooseNear(event, drawing, at));
  return drawing;
}

function drawPoint(point, [x, y]) {
  const chosen = point.id === view.chosen;
  return svg("g", { transform: `translate(${x.toFixed(1)} ${y.toFixed(1)})` },
    chosen && svg("circle", { r: 44, class: "ring" }),
    svg("g", { transform: "scale(2.2) translate(-10 -10)" }, SHAPES[stateOf(point.id)]()),
    (chosen || view.zoom >= 4) && svg("text", { y: -50, "text-anchor": "middle" }, point.id));
}

function drawHere(at) {
  if (!view.here) return null;
  const [x, y] = at(view.here.x, view.here.y);
  return svg("g", { class: "here", transform: `translate(${x.toFixed(1)} ${y.toFixed(1)})` },
    svg("path", { d: "M0 -34L34 0L0 34L-34 0Z" }), svg("text", { y: 78, "text-anchor": "middle" }, "you"));
}

function drawScale(frame, scale) {
  const length = roundLength(frame.side / 3);
  const end = 40 + length * scale;
  return svg("g", { class: "scale" }, svg("path", { d: `M40 930v30h${(end - 40).toFixed(1)}v-30` }),
    svg("text", { x: end + 20, y: 962 }, `${length} m`));
}

function chooseNear(event, drawing, at) {
  const box = drawing.getBoundingClientRect();
  const [x, y] = [(event.clientX - box.left) * 1000 / box.width, (event.clientY - box.top) * 1000 / box.height];
  const far = (point) => { const [px, py] = at(point.x, point.y); return Math.hypot(px - x, py - y); };
  const nearest = mapPoints().reduce((best, point) => (far(point) < far(best) ? point : best));
  view.chosen = nearest.id;
  say(`${nearest.id} chosen.`);
  render();
}

function findHere() {
  if (!navigator.geolocation) {
    say("This device provides no position. The map can be used without it.");
    return;
  }
  say("Requesting the position of the device.");
  navigator.geolocation.getCurrentPosition(({ coords }) => {
    const t = plan.to_map;
    const [east, north] = [coords.longitude - t.lon, coords.latitude - t.lat];
    view.here = { x: t.x + t.x_lon * east + t.x_lat * north, y: t.y + t.y_lon * east + t.y_lat * north, within: coords.accuracy };
    say(`Position shown, within about ${Math.ceil(coords.accuracy)} m as stated by the device.`);
    render();
  }, () => say("The device provides no position to this page. The map can be used without it."), { enableHighAccuracy: true, timeout: 20000 });
}

function zoomBy(factor) {
  view.zoom = Math.min(16, Math.max(1, view.zoom * factor));
  render();
}

function showMap() {
  if (!mapPoints().length) return [el("h1", {}, "Map"), el("p", {}, "No planned point has a position on record.")];
  const chosen = pointOf.get(view.chosen);
  return [
    el("h1", {}, "Map"),
    el("p", { class: "hint" }, "Tap the map to choose the nearest point. The list shows the same points in walking order."),
    drawMap(),
    el("div", { class: "row" }, button("Zoom in", () => zoomBy(2), { id: "zoom-in" }), button("Zoom out", () => zoomBy(0.5), { id: "zoom-out" }),
      button("Show my position", findHere, { id: "here" })),
    view.here && el("p", { class: "hint" }, `Device position, within about ${Math.ceil(view.here.within)} m. Locate points by their tie distances, not by this position.`),
    chosen && pointCard(chosen),
    el("ul", { class: "key" }, Object.keys(STATES).map((state) => el("li", {}, sign(state), STATES[state]))),
  ];
}
