/* What opens at a point: the value with its unit and every mark, each with its reason. Every
   string from the data goes in as text, never as markup. */
(function () {
  "use strict";

  const { element } = sitegenPanel;
  const STATE_WORDS = {
    lost: "sampler lost",
    in_place: "in place",
    retrieval_not_recorded: "without a retrieval on record",
    not_installed: "not installed",
    planned: "planned, without a sampler on record",
  };
  const AIR_WORDS = "Air point, shown separately from soil gas: no mass class on this map. See Air results for concentrations.";

  function isAir(point) {
    return point[4] === "hexagon";
  }

  /* The sampler's marks, then the result's, each [word, reason, ring]. */
  function marksOf(data, point, value) {
    return [...new Set([...point[8], ...value[2]])].map((place) => data.marks[place]);
  }

  function valueWords(point, value, layer) {
    if (point[7] !== "retrieved") return `no result: ${STATE_WORDS[point[7]] || point[7]}`;
    if (value[1] === null) return value[0] || "not analysed for this compound";
    return layer.whole || value[0].endsWith(layer.unit) ? value[0] : value[0] + " " + layer.unit;
  }

  function facts(pairs) {
    const list = element("dl");
    for (const [term, words] of pairs) {
      if (words) list.append(element("dt", { textContent: term }), element("dd", { textContent: words }));
    }
    return list;
  }

  function markItem([word, reason]) {
    const item = element("li", {}, element("span", { className: "mark", textContent: word }));
    if (reason) item.append(" ", reason);
    return item;
  }

  function popupBody(data, point, value, layer) {
    const marks = marksOf(data, point, value);
    const body = element("div", { className: "point" });
    body.append(element("h2", { textContent: point[1] || point[0] }));
    body.append(element("p", { className: "compound", textContent: layer.title }));
    body.append(element("p", { className: "value", textContent: valueWords(point, value, layer) }));
    if (marks.length) body.append(element("ul", { className: "marks" }, ...marks.map(markItem)));
    if (point[12]) body.append(element("p", { className: "above", textContent: point[12] }));
    if (isAir(point)) body.append(element("p", { textContent: AIR_WORDS }));
    body.append(factsOf(point));
    body.append(...linkTo(point));
    return body;
  }

  function factsOf(point) {
    const [medium, surface, , , detected] = point.slice(5);
    return facts([["Medium", medium], ["Surface", surface], ["Supplement", point[11]], ["Compounds detected", detected]]);
  }

  /* The way to a point's page; nothing where the report has none. */
  function linkTo(point) {
    if (!point[10]) return [];
    const words = "Details of " + (point[1] || point[0]);
    return [element("p", {}, element("a", { href: point[10], target: "_top", textContent: words }))];
  }

  window.sitegenPopup = { marksOf, isAir, popupBody, factsOf, linkTo, markItem, AIR_WORDS, STATE_WORDS };
})();
