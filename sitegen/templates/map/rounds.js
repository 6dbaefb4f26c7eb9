/* Several rounds on one map: a chooser of the round whose values are shown, and of what became of the masses from one to
   the next. "round=" or "change=" and a round's id in the address open one; the round that is reported needs neither. */
(function () {
  "use strict";

  const { element, row } = sitegenPanel;
  const { marksOf, isAir, factsOf, linkTo, markItem, AIR_WORDS } = sitegenPopup;
  const AIR = { kind: "air", shape: "hexagon", r: 6, ring: false };
  const RINGED = { kind: "nondetect", shape: "circle", r: 5, ring: true };

  function signOf(data, point, value, scale) {
    if (isAir(point)) return { ...AIR, r: AIR.r * scale };
    const { signs, factors, small } = data.change;
    const sign = signs[value[1]];
    const ring = marksOf(data, point, value).some((mark) => mark[2]);
    const sized = sign.shape.startsWith("arrow") ? factors[value[3]][0] : value[4] ? small : sign.r;
    return { ...sign, r: sized * scale, ring };
  }

  function countSigns(data, symbols, values) {
    const counts = { kinds: {}, air: 0, marked: 0, small: 0, words: data.change.words };
    for (const kind of Object.keys(data.change.words)) counts.kinds[kind] = 0;
    symbols.forEach((symbol, i) => {
      if (symbol.kind === "air") {
        counts.air += 1;
        return;
      }
      counts.kinds[values[i][1]] += 1;
      if (symbol.ring) counts.marked += 1;
      if (values[i][4]) counts.small += 1;
    });
    counts.points = Object.values(counts.kinds).reduce((a, b) => a + b, 0);
    return counts;
  }

  function changeWords(layer, counts) {
    const told = Object.entries(counts.words).filter(([kind]) => counts.kinds[kind]);
    const parts = told.map(([kind, words]) => `${words} at ${counts.kinds[kind]}`);
    return `${layer.title}: of ${counts.points} soil points ${parts.join("; ")}. Masses in ${layer.unit}.`;
  }

  function fillChanges(parts, data, layer, counts, scale) {
    const { look, change } = data;
    const { signs, words, factors, small } = change;
    const scaled = (symbol) => ({ ...symbol, r: symbol.r * scale });
    const kinds = Object.keys(words).filter((kind) => counts.kinds[kind] || kind !== "one_round");
    parts.title.textContent = layer.title;
    parts.unit.textContent = "Change in mass, with the number of soil points";
    parts.classes.replaceChildren(...kinds.map((kind) => row(scaled(signs[kind]), look, words[kind], counts.kinds[kind])));
    const others = [...factors].reverse().map(([r, label]) =>
      row(scaled({ kind: "class", shape: "arrow_up", r, fill: "#d9dedd" }), look, `size of an arrow: ${label}, up or down`)
    );
    const square = scaled({ kind: "nondetect", shape: "square", r: small });
    if (counts.small) others.push(row(square, look, "small square, of these: below the limit of the other round, change not assessed", counts.small));
    if (counts.marked) others.push(row(RINGED, look, "outer ring: sample- or result-specific qualification in either round; see the pop-up", counts.marked));
    if (counts.air) others.push(row(AIR, look, "hexagon with a dot: air point, see Air results", counts.air));
    parts.others.replaceChildren(...others);
  }

  function changeBody(data, point, value, layer) {
    const body = element("div", { className: "point" });
    body.append(element("h2", { textContent: point[1] || point[0] }));
    body.append(element("p", { className: "compound", textContent: layer.title }));
    if (isAir(point)) body.append(element("p", { textContent: AIR_WORDS }));
    else {
      body.append(element("p", { className: "value", textContent: value[0] }));
      for (const line of value[5]) body.append(element("p", { textContent: line }));
      const marks = marksOf(data, point, value);
      if (marks.length) body.append(element("ul", { className: "marks" }, ...marks.map(markItem)));
    }
    body.append(factsOf(point), ...linkTo(point));
    return body;
  }

  const CHANGES = {
    symbolOf: signOf,
    countSymbols: countSigns,
    summaryWords: changeWords,
    fillLegend: fillChanges,
    popupBody: changeBody,
  };

  function addressOf(view) {
    return `${view.kind}=${encodeURIComponent(view.id)}`;
  }

  /* The chooser, before those of compound and point. */
  function chooser(views) {
    const box = element("select", { id: "round" });
    const groups = new Map();
    views.forEach((view, i) => {
      if (!groups.has(view.group)) {
        groups.set(view.group, element("optgroup", { label: view.group }));
        box.append(groups.get(view.group));
      }
      groups.get(view.group).append(new Option(view.title, String(i)));
    });
    const label = element("label", { htmlFor: "round", textContent: "Round" });
    document.getElementById("chooser").prepend(element("p", {}, label, " ", box));
    return box;
  }

  /* Give a map its rounds: the first view is the one that is reported. */
  function attach(site) {
    const { views, points, layers } = site.data;
    const box = chooser(views);
    const readHash = site.readHash.bind(site);
    const report = site.report.bind(site);
    const showLayer = site.show.bind(site);
    let shown = 0;

    /* Which round is on show stands with the compound, in the sentence that is read out and in the legend. */
    site.show = function (index) {
      if (index < 0 || index >= site.data.layers.length) return;
      showLayer(index);
      const { title } = views[shown];
      for (const line of [document.getElementById("summary"), site.parts.unit]) line.prepend(`${title}. `);
    };

    function show(index) {
      shown = index;
      const view = views[index];
      box.value = String(index);
      const change = view.kind === "change";
      site.parts.shapeHead.hidden = site.parts.shapes.hidden = change;
      document.documentElement.dataset.round = addressOf(view);
      site.put(view.points || points, view.layers || layers, change && CHANGES, index ? "/" + addressOf(view) : "");
    }

    box.addEventListener("change", () => show(Number(box.value)));
    document.documentElement.dataset.round = addressOf(views[0]);
    /* The round is read off the address first, then compound and point among what it has; an address without one
       opens the round that is reported. */
    site.readHash = function () {
      const { hash } = location;
      const parts = hash.slice(1).split("/");
      const index = Math.max(0, views.findIndex((view) => parts.includes(addressOf(view))));
      if (index !== shown) show(index);
      readHash(hash);
    };
    site.report = () => ({ ...report(), round: addressOf(views[shown]) });
  }

  window.sitegenRounds = { attach };
})();
