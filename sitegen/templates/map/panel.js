/* The panel beside the map: what is drawn and what the symbols mean, in words. Every
   string from the data goes in as text, never as markup. */
(function () {
  "use strict";

  const SURFACE_WORDS = { "interior slab": "interior slab (sub-slab)" };

  function element(name, properties, ...children) {
    const node = document.createElement(name);
    Object.assign(node, properties || {});
    node.append(...children);
    return node;
  }

  function row(symbol, look, words, count) {
    const item = element("li", {}, sitegenSymbols.swatch(symbol, look), element("span", { textContent: words }));
    if (count !== undefined) item.append(element("span", { className: "count", textContent: String(count) }));
    return item;
  }

  function classRows(data, counts, scale) {
    const { look, classes } = data;
    const rows = classes.map((label, i) =>
      row({ kind: "class", shape: "circle", r: look.radii[i] * scale, fill: look.colours[i] }, look, label, counts.classes[i])
    );
    return rows.slice(0, counts.classes.findLastIndex((count) => count > 0) + 1).reverse();
  }

  function otherRows(data, counts) {
    const { look } = data;
    const hollow = { kind: "nondetect", shape: "circle", r: 5 };
    return [
      [hollow, "hollow: not detected, below its reporting limit (not proof of absence)", counts.nondetect],
      [{ kind: "dot", shape: "circle", r: 2.5 }, "small dot: not analysed for this compound", counts.not_analysed],
      [{ ...hollow, ring: true }, "outer ring: sample- or result-specific qualification (condition, exposure, blank, calibration …); bag-wide qualifications (custody, seal) are not ringed; see the pop-up", counts.marked],
      [{ kind: "air", shape: "hexagon", r: 6 }, "hexagon with a dot: air point, see Air results", counts.air],
      [{ kind: "air_above", shape: "hexagon", r: 8, fill: look.ring }, "filled hexagon with a cross: air point above a screening level (any compound), see Air results", counts.air_above],
      [{ ...hollow, r: 6.5, kind: "lost" }, "crossed symbol: sampler lost, no result", counts.lost],
      [{ ...hollow, r: 6.5, kind: "in_place" }, "one upright stroke: sampler in place, no result yet", counts.in_place],
      [{ ...hollow, r: 6.5, kind: "retrieval_not_recorded" }, "one level stroke: retrieval not recorded", counts.retrieval_not_recorded],
      [{ ...hollow, r: 6.5, kind: "not_installed" }, "bare cross: not installed", counts.not_installed],
      [{ ...hollow, r: 6.5, kind: "planned" }, "upright cross: planned, no sampler on record", counts.planned],
    ]
      .filter(([symbol, , count]) => ["nondetect", "dot"].includes(symbol.kind) || count)
      .map(([symbol, words, count]) => row(symbol, look, words, count));
  }

  function shapeRows(data) {
    const found = new Map();
    for (const point of data.points) {
      const air = point[4] === "hexagon";
      const word = air ? point[5] : SURFACE_WORDS[point[6]] || point[6] || "surface not recorded";
      if (!found.has(point[4])) found.set(point[4], new Set());
      found.get(point[4]).add(word);
    }
    return [...found].map(([shape, words]) =>
      row({ kind: "class", shape, r: 7, fill: "#d9dedd" }, data.look, [...words].join(", "))
    );
  }

  /* Which points came with a supplement, in words: they are drawn as all others are. */
  function supplementWords(points) {
    const counts = new Map();
    for (const point of points) if (point[11]) counts.set(point[11], (counts.get(point[11]) || 0) + 1);
    return [...counts]
      .map(([words, count]) => `${count} point${count > 1 ? "s" : ""} of a supplement (${words}) ${count > 1 ? "are" : "is"} drawn with the round; see the pop-up.`)
      .join(" ");
  }

  /* What the legend says of the points, whatever is shown of them. */
  function fillPoints(parts, data) {
    parts.shapes.replaceChildren(...shapeRows(data));
    parts.supplement.textContent = supplementWords(data.points);
    parts.supplement.hidden = !parts.supplement.textContent;
  }

  /* The legend's list items for the layer on show. */
  function fillLegend(parts, data, layer, counts, scale) {
    parts.title.textContent = layer.title;
    parts.unit.textContent = "Mass in " + layer.unit + ", by size and colour, with the number of points";
    parts.classes.replaceChildren(...classRows(data, counts, scale));
    parts.others.replaceChildren(...otherRows(data, counts));
  }

  function featureSwatch(style, kind, single) {
    const canvas = sitegenSymbols.swatch({ kind: "none", shape: "circle", r: 0 }, { paper: "transparent", ink: "transparent" });
    const ctx = canvas.getContext("2d");
    ctx.clearRect(0, 0, 34, 34);
    ctx.lineWidth = style.width;
    ctx.strokeStyle = style.stroke;
    ctx.setLineDash(style.dash);
    if (single) return sitegenSymbols.swatch({ kind: "well", shape: style.sign, r: 5, fill: style.fill || style.stroke }, { paper: "#fff", ink: style.stroke });
    ctx.beginPath();
    if (style.fill || kind === "site_boundary") ctx.rect(4, 9, 26, 16);
    else {
      ctx.moveTo(3, 17);
      ctx.lineTo(31, 17);
    }
    ctx.globalAlpha = style.fill_opacity;
    ctx.fillStyle = style.fill || "transparent";
    ctx.fill();
    ctx.globalAlpha = 1;
    ctx.stroke();
    return canvas;
  }

  function toggle(id, words, checked, onChange, swatch) {
    const box = element("input", { type: "checkbox", id, checked });
    box.addEventListener("change", () => onChange(box.checked));
    return element("li", {}, element("label", {}, box, swatch || "", element("span", { textContent: words })));
  }

  function group(title, ...children) {
    return element("fieldset", {}, element("legend", { textContent: title }), ...children);
  }

  /* What lies under the points, each with its licence or source in words. */
  function underGroup(data, handlers) {
    const { picture, tiles } = data.under;
    const switches = handlers.unders.map(([name, words]) =>
      toggle("under-" + name, words, true, (on) => handlers.under(name, on))
    );
    const sources = [picture && picture.licence, tiles && tiles.attribution].filter(Boolean);
    const lines = sources.map((words) => element("p", { className: "hint source", textContent: words }));
    return group("Background", element("ul", { className: "key" }, ...switches), ...lines);
  }

  /* Build the panel; returns the parts that change with the layer. */
  function build(parent, data, handlers) {
    const parts = {
      title: element("h2"),
      unit: element("p", { className: "unit" }),
      classes: element("ul", { className: "key" }),
      others: element("ul", { className: "key" }),
      shapeHead: element("h3", { textContent: "Shape: surface at the point" }),
      shapes: element("ul", { className: "key" }),
      supplement: element("p", { className: "hint", id: "supplement" }),
      room: element("p", { className: "hint", id: "room" }),
    };
    const kinds = [...new Set(data.features.map((feature) => feature.kind))];
    const switches = kinds.map((kind) => {
      const style = data.look.features[kind];
      const single = data.features.some((feature) => feature.kind === kind && /Point$/.test(feature.geometry.type));
      const swatch = featureSwatch(style, kind, single);
      return toggle("kind-" + kind, style.word, true, (on) => handlers.kind(kind, on), swatch);
    });
    const labels = [
      toggle("labels-points", "point labels", true, (on) => handlers.labels("points", on)),
      toggle("labels-features", "feature names", true, (on) => handlers.labels("features", on)),
    ];
    parent.append(parts.title, parts.unit, parts.classes, parts.others);
    parent.append(parts.shapeHead, parts.shapes, parts.supplement);
    fillPoints(parts, data);
    if (switches.length) parent.append(group("Site features", element("ul", { className: "key" }, ...switches)));
    if (handlers.unders.length) parent.append(underGroup(data, handlers));
    parent.append(group("Labels", element("ul", { className: "key" }, ...labels), parts.room));
    parent.append(element("p", { className: "hint", textContent: frameWords(data.crs) }));
    return parts;
  }

  function frameWords(crs) {
    return (
      `Coordinates of the project: ${crs}. This map is drawn in web Mercator with true north up; ` +
      "its scale bar applies at the centre of the map."
    );
  }

  window.sitegenPanel = { build, fillLegend, fillPoints, row, element };
})();
