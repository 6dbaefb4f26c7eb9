/* A second compound on a map of its own, which moves with the first: the same page once more, without chooser and
   legend. "with=" and a layer's id in the address open it; the page inside it has "second" in its address. */
(function () {
  "use strict";

  const { element } = sitegenPanel;
  const INNER = "second";

  function partsOf(hash) {
    return hash.slice(1).split("/");
  }

  /* Tell the other page of every move, and move as it does; words that are no view are left alone. */
  function joinMaps(map, other, source) {
    let following = false;
    const send = () => {
      const { lat, lng } = map.getCenter();
      if (!following && other()) other().postMessage({ view: [lat, lng, map.getZoom()] }, "*");
    };
    map.on("move", send);
    addEventListener("message", (event) => {
      if (!source() || event.source !== source() || !event.data) return;
      if (event.data.ready === true) send();
      const { view } = event.data;
      if (!Array.isArray(view) || view.length !== 3 || !view.every(Number.isFinite)) return;
      following = true;
      map.setView([view[0], view[1]], view[2], { animate: false });
      following = false;
    });
  }

  /* The page inside: the map and its sentence. */
  function attachInner(site) {
    document.documentElement.classList.add(INNER);
    const { writeHash } = site;
    site.writeHash = function () {
      writeHash.call(site);
      history.replaceState(null, "", location.hash + "/" + INNER);
    };
    joinMaps(site.map, () => window.parent, () => window.parent);
    window.parent.postMessage({ ready: true }, "*");
  }

  function chooser() {
    const box = element("select", { id: "second" });
    const label = element("label", { htmlFor: "second", textContent: "Second compound" });
    document.getElementById("layer").closest("p").after(element("p", {}, label, " ", box));
    return box;
  }

  function attach(site) {
    if (partsOf(location.hash).includes(INNER)) {
      attachInner(site);
      return;
    }
    const box = chooser();
    const sheet = document.querySelector(".sheet");
    const { fillBoxes, writeHash } = site;
    const readHash = site.readHash;
    let frame = null;

    function fill() {
      const chosen = box.value;
      box.replaceChildren(new Option("No second compound", ""), ...site.data.layers.map((layer) => new Option(layer.title, layer.id)));
      box.value = site.layerPlaces.has(chosen) ? chosen : "";
    }

    function place() {
      return `index.html#${encodeURIComponent(box.value)}${site.roundPart}/${INNER}`;
    }

    function show() {
      if (!box.value) {
        if (frame) frame.remove();
        frame = null;
      } else if (!frame) {
        frame = element("iframe", { className: "other", src: place() });
        document.querySelector(".ground").after(frame);
      } else frame.contentWindow.location.replace(place());
      if (frame) frame.title = `Map of ${box.selectedOptions[0].textContent}`;
      sheet.classList.toggle("paired", Boolean(frame));
    }

    site.fillBoxes = function () {
      fillBoxes.call(site);
      fill();
      show();
    };
    site.writeHash = function () {
      writeHash.call(site);
      const second = box.value ? `/with=${encodeURIComponent(box.value)}` : "";
      history.replaceState(null, "", location.hash + second);
    };
    site.readHash = function () {
      const named = partsOf(location.hash).find((part) => part.startsWith("with="));
      readHash.call(site);
      let id = "";
      try {
        id = named ? decodeURIComponent(named.slice(5)) : "";
      } catch (error) {
        id = "";
      }
      const wanted = site.layerPlaces.has(id) ? id : "";
      if (box.value === wanted) return;
      box.value = wanted;
      show();
      site.writeHash();
    };
    box.addEventListener("change", () => {
      show();
      site.writeHash();
    });
    joinMaps(site.map, () => frame && frame.contentWindow, () => frame && frame.contentWindow);
    fill();
  }

  window.sitegenSecond = { attach };
})();
