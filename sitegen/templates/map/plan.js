/* The map of a plan: no compound and no mass. Symbols are hollow in the shape of the surface, filled where a sampler
   was retrieved, with a stroke while it is in place. Loaded before map.js, in whose place it answers. */
(function () {
  "use strict";

  const { element } = sitegenPanel;
  const { Symbol } = sitegenSymbols;
  const FILL = "#1d5c63";
  const STATES = {
    planned: ["hollow: planned, no sampler on record", { kind: "nondetect" }],
    in_place: ["one upright stroke: sampler in place", { kind: "in_place" }],
    retrieved: ["filled: sampler retrieved", { kind: "class", fill: FILL }],
    lost: ["crossed: sampler lost", { kind: "lost" }],
    retrieval_not_recorded: ["one level stroke: retrieval not recorded", { kind: "retrieval_not_recorded" }],
    not_installed: ["bare cross: not installed", { kind: "not_installed" }],
  };
  const WORDS = {
    planned: "planned, no sampler on record",
    in_place: "sampler in place",
    retrieved: "sampler retrieved",
    lost: "sampler lost",
    retrieval_not_recorded: "retrieval not recorded",
    not_installed: "not installed",
  };
  const RADIUS = 6.5;

  /* A symbol of the map of results as the plan has it: a retrieved sampler comes as "dot" or "air" there. */
  function planned(symbol) {
    const state = symbol.kind === "dot" || symbol.kind === "air" ? "retrieved" : symbol.kind;
    const look = STATES[state];
    return look ? { ...symbol, r: Math.max(symbol.r, RADIUS * 0.75), ...look[1] } : symbol;
  }

  const setSymbol = Symbol.prototype.setSymbol;
  Symbol.include({
    setSymbol: function (symbol) {
      setSymbol.call(this, planned(symbol));
    },
  });

  function counted(points) {
    const counts = new Map();
    for (const point of points) counts.set(point[7], (counts.get(point[7]) || 0) + 1);
    return Object.keys(STATES).filter((state) => counts.has(state)).map((state) => [state, counts.get(state)]);
  }

  function row(symbol, look, words, count) {
    const swatch = sitegenSymbols.swatch({ shape: "circle", r: RADIUS, ...symbol }, look);
    const number = element("span", { className: "count", textContent: String(count) });
    return element("li", {}, swatch, element("span", { textContent: words }), number);
  }

  sitegenPanel.fillLegend = function (parts, data, layer) {
    const found = counted(data.points);
    parts.title.textContent = layer.title;
    parts.unit.textContent = "With the number of points of all media";
    parts.classes.replaceChildren(...found.map(([state, count]) => row(STATES[state][1], data.look, STATES[state][0], count)));
    parts.others.replaceChildren();
    const words = found.map(([state, count]) => `${count} ${WORDS[state]}`);
    document.getElementById("summary").textContent = `${layer.title}: ${words.join("; ")}.`;
    document.getElementById("layer").parentElement.style.display = "none";
  };

  function facts(pairs) {
    const list = element("dl");
    for (const [term, words] of pairs) {
      if (words) list.append(element("dt", { textContent: term }), element("dd", { textContent: words }));
    }
    return list;
  }

  sitegenPopup.popupBody = function (data, point, value) {
    const name = point[1] || point[0];
    const body = element("div", { className: "point" });
    body.append(element("h2", { textContent: name }));
    body.append(element("p", { className: "value", textContent: WORDS[point[7]] || point[7] }));
    body.append(element("p", { textContent: value[0] }));
    body.append(facts([["Medium", point[5]], ["Surface", point[6]]]));
    const link = element("a", { href: point[10], target: "_top", textContent: "Details of " + name });
    body.append(element("p", {}, link));
    return body;
  };
})();
