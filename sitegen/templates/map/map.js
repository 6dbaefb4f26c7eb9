/* One map for all compounds: the points are made once, a compound only changes their
   symbols. The address after "#" is a compound, a point, or compound/point, and the round
   on show where there are several (rounds.js). */
(function () {
  "use strict";

  const { element } = sitegenPanel;
  const { marksOf, isAir, popupBody, STATE_WORDS } = sitegenPopup;
  const NARROW_SCALE = 0.75; // symbols on a phone's width, legend included

  function symbolOf(data, point, value, scale) {
    const shape = point[4];
    const ring = marksOf(data, point, value).some((mark) => mark[2]);
    if (point[7] !== "retrieved") return { kind: point[7], shape, r: 6.5 * scale, ring };
    if (isAir(point) && point[12]) return { kind: "air_above", shape, r: 8 * scale, fill: data.look.ring, ring: false };
    if (isAir(point)) return { kind: "air", shape, r: 6 * scale, ring: false };
    if (value[1] === null) return { kind: "dot", shape, r: 2.5, ring };
    if (value[1] < 0) return { kind: "nondetect", shape, r: 5 * scale, ring };
    return { kind: "class", shape, r: data.look.radii[value[1]] * scale, fill: data.look.colours[value[1]], ring };
  }

  function countSymbols(data, symbols, values) {
    const none = { nondetect: 0, not_analysed: 0, air: 0, air_above: 0, marked: 0 };
    for (const state of Object.keys(STATE_WORDS)) none[state] = 0;
    const counts = { classes: data.classes.map(() => 0), ...none };
    symbols.forEach((symbol, i) => {
      if (symbol.ring) counts.marked += 1;
      if (symbol.kind === "class") counts.classes[values[i][1]] += 1;
      else counts[symbol.kind === "dot" ? "not_analysed" : symbol.kind] += 1;
    });
    counts.detected = counts.classes.reduce((a, b) => a + b, 0);
    return counts;
  }

  function summaryWords(layer, counts) {
    const analysed = counts.detected + counts.nondetect;
    const parts = [`${layer.title}: detected at ${counts.detected} of ${analysed} analysed soil points`];
    if (counts.marked) parts.push(`${counts.marked} with a sample- or result-specific qualification`);
    for (const [state, words] of Object.entries(STATE_WORDS)) {
      if (counts[state]) parts.push(`${counts[state]} ${words}`);
    }
    const air = counts.air + counts.air_above;
    if (air) parts.push(`${air} air point${air > 1 ? "s" : ""} shown separately`);
    if (counts.air_above) parts.push(`${counts.air_above} of them above a screening level (any compound)`);
    return parts.join("; ") + ". Mass in " + layer.unit + ".";
  }

  /* The chooser's entries under the names of their groups, in the order of the layers. */
  function addLayers(box, layers) {
    const groups = new Map();
    for (const layer of layers) {
      if (!layer.group) {
        box.append(new Option(layer.title, layer.id));
        continue;
      }
      if (!groups.has(layer.group)) {
        groups.set(layer.group, element("optgroup", { label: layer.group }));
        box.append(groups.get(layer.group));
      }
      groups.get(layer.group).append(new Option(layer.title, layer.id));
    }
  }

  /* A picture of what was just painted, in its place: a canvas painted while print is laid out does not reach the paper. */
  function pictureOf(canvas) {
    const { width, height } = canvas;
    const copy = element("canvas", { width, height, className: "picture", ariaHidden: "true" });
    copy.style.cssText = canvas.style.cssText;
    if (width && height) copy.getContext("2d").putImageData(canvas.getContext("2d").getImageData(0, 0, width, height), 0, 0);
    canvas.after(copy);
    return copy;
  }

  /* Leaflet paths of a GeoJSON feature, drawn on the points' canvas. */
  function featurePaths(feature, style, canvas, look) {
    const options = {
      renderer: canvas,
      color: style.stroke,
      weight: style.width,
      dashArray: style.dash.length ? style.dash.join(" ") : null,
      fill: Boolean(style.fill),
      fillColor: style.fill || null,
      fillOpacity: style.fill_opacity,
      interactive: feature.kind !== "site_boundary",
      bubblingMouseEvents: true,
    };
    const well = { kind: "well", shape: style.sign, r: 5, fill: style.fill || style.stroke };
    const paths = [];
    const make = L.geoJSON(feature.geometry, {
      style: () => options,
      pointToLayer: (_, at) => {
        const mark = new sitegenSymbols.Symbol(at, { ...options, look: { ...look, ink: style.stroke }, symbol: well });
        mark.setSymbol(well);
        return mark;
      },
    });
    make.eachLayer((layer) => {
      const line = style.arrow && layer instanceof L.Polyline && !(layer instanceof L.Polygon);
      paths.push(line ? new sitegenSymbols.Arrow(layer.getLatLngs(), options) : layer);
    });
    return paths;
  }

  function tooltipWords(feature, style) {
    const extra = feature.detail ? " (" + feature.detail + ")" : "";
    return (feature.name ? feature.name + ": " : "") + style.word + extra;
  }

  /* How masses are read: rounds.js has another way for what became of them. */
  const MASSES = {
    symbolOf,
    countSymbols,
    summaryWords,
    popupBody,
    fillLegend: (...parts) => sitegenPanel.fillLegend(...parts),
  };

  class SiteMap {
    constructor(map, data) {
      this.map = map;
      this.data = data;
      this.reader = MASSES;
      this.roundPart = ""; // of the address, where another round than the reported is on show
      this.canvas = L.canvas({ padding: 0.3, tolerance: 4 });
      const narrow = map.getSize().x < 480;
      this.popup = L.popup({ maxWidth: narrow ? 240 : 280, maxHeight: 340, autoPanPadding: [16, 16] });
      this.shown = { points: true, features: true };
      this.layerIndex = -1;
      this.selected = -1;
      this.scale = map.getSize().x < 480 ? NARROW_SCALE : 1;
      this.drawUnder();
      this.drawFeatures();
      this.drawPoints();
      this.buildControls();
      this.fit();
      this.followSize();
      this.followPrint();
    }

    /* The project's own picture, or tiles where the project asked for them. */
    drawUnder() {
      const { picture, tiles } = this.data.under;
      this.under = new Map();
      if (tiles) {
        const layer = L.tileLayer(tiles.url, { maxZoom: 24, maxNativeZoom: 19 });
        this.under.set("tiles", [layer.addTo(this.map), `map tiles from ${tiles.host}`]);
      }
      if (picture) {
        const layer = L.imageOverlay(picture.file, picture.edges, { pane: "tilePane", zIndex: 2 });
        this.under.set("picture", [layer.addTo(this.map), "background picture"]);
      }
    }

    toggleUnder(name, on) {
      const [layer] = this.under.get(name);
      if (on) layer.addTo(this.map);
      else layer.remove();
    }

    drawFeatures() {
      this.kinds = new Map();
      this.named = [];
      for (const feature of this.data.features) {
        const style = this.data.look.features[feature.kind];
        const paths = featurePaths(feature, style, this.canvas, this.data.look);
        if (!this.kinds.has(feature.kind)) this.kinds.set(feature.kind, L.featureGroup().addTo(this.map));
        for (const path of paths) {
          path.bindTooltip(element("span", { textContent: tooltipWords(feature, style) }), { sticky: true });
          this.kinds.get(feature.kind).addLayer(path);
        }
        if (feature.name && paths.length) this.named.push([feature, style, paths[0]]);
      }
    }

    drawPoints() {
      this.makeMarkers();
      this.labels = new sitegenLabels.Labels(() => this.labelItems(), (count) => this.reportLabels(count));
    }

    makeMarkers() {
      const blank = { kind: "dot", shape: "circle", r: 2.5 };
      this.markers = this.data.points.map((point, i) => {
        const options = { renderer: this.canvas, look: this.data.look, symbol: blank, bubblingMouseEvents: false };
        const marker = new sitegenSymbols.Symbol([point[2], point[3]], options).addTo(this.map);
        marker.on("click", () => this.select(i));
        marker.bindTooltip(element("span", { textContent: point[1] || point[0] }), { direction: "top" });
        return marker;
      });
    }

    /* Offer the layers and points there are, and know them by id. */
    fillBoxes() {
      const { layers, points } = this.data;
      const layerBox = document.getElementById("layer");
      const placeBox = document.getElementById("place");
      this.layerPlaces = new Map(layers.map((layer, i) => [layer.id, i]));
      this.pointPlaces = new Map(points.map((point, i) => [point[0], i]));
      layerBox.replaceChildren();
      while (placeBox.options.length > 1) placeBox.remove(1);
      addLayers(layerBox, layers);
      points.forEach((point) => placeBox.add(new Option(point[1] || point[0], point[0])));
    }

    /* Show other points and layers, read in their own way; compound and point stay where they are among them. */
    put(points, layers, reader, roundPart) {
      const layer = this.layerIndex >= 0 ? this.data.layers[this.layerIndex].id : this.data.first;
      const point = this.selected >= 0 ? this.data.points[this.selected][0] : "";
      this.map.closePopup(this.popup);
      for (const marker of this.markers) marker.remove();
      Object.assign(this, { data: { ...this.data, points, layers }, reader: reader || MASSES, roundPart });
      this.makeMarkers();
      this.fillBoxes();
      sitegenPanel.fillPoints(this.parts, this.data);
      this.show(this.layerPlaces.get(layer) || 0); // before the map moves: labels are laid for the points there are
      if (!this.moved) this.fit();
      if (this.pointPlaces.has(point)) this.select(this.pointPlaces.get(point));
    }

    buildControls() {
      const { data } = this;
      const layerBox = document.getElementById("layer");
      const placeBox = document.getElementById("place");
      this.fillBoxes();
      layerBox.addEventListener("change", () => this.show(this.layerPlaces.get(layerBox.value)));
      placeBox.addEventListener("change", () => this.select(placeBox.selectedIndex - 1));
      this.map.on("popupclose", () => this.deselect());
      this.parts = sitegenPanel.build(document.getElementById("panel-body"), data, {
        kind: (kind, on) => this.toggleKind(kind, on),
        under: (name, on) => this.toggleUnder(name, on),
        unders: [...this.under].map(([name, [, words]]) => [name, words]),
        labels: (what, on) => {
          this.shown[what] = on;
          this.labels.redraw();
        },
      });
      document.getElementById("panel").open = matchMedia("(min-width: 720px)").matches;
      this.writeMeta();
      const box = this.map.getContainer();
      box.setAttribute("role", "group");
      box.setAttribute("aria-label", "Map: arrow keys move it, plus and minus change the scale");
      box.addEventListener("keydown", (event) => this.closeByKey(event));
      this.nameControls();
      document.getElementById("north").textContent = "North is up (true north)";
    }

    /* Which issue of the report this is; notices too where no report page stands around the map. */
    writeMeta() {
      const { site, status, revision, date, digest, notices } = this.data.meta;
      document.getElementById("sheet-title").textContent = site;
      document.getElementById("issue").textContent = `${status} · revision ${revision} · ${date} · ${digest}`;
      const line = document.getElementById("notices");
      const { tiles } = this.data.under;
      const goes = tiles ? [`This map asks ${tiles.host} for its background over the network.`] : [];
      const said = [...(window.top === window ? notices : []), ...goes];
      line.textContent = said.join(" ");
      line.hidden = !said.length;
      document.getElementById("back").hidden = window.top !== window;
    }

    toggleKind(kind, on) {
      const group = this.kinds.get(kind);
      if (on) group.addTo(this.map);
      else group.remove();
      for (const other of [...this.kinds.values()].reverse()) other.bringToBack();
      this.labels.redraw();
    }

    /* Show all points and the site boundary (other features where there is neither). The
       map's size is read anew: the panel beside it may have opened since the map was made. */
    fit() {
      this.map.invalidateSize({ animate: false, pan: false });
      const bounds = L.latLngBounds(this.data.points.map((point) => [point[2], point[3]]));
      const boundary = this.kinds.get("site_boundary");
      if (boundary) bounds.extend(boundary.getBounds());
      if (!bounds.isValid()) for (const group of this.kinds.values()) bounds.extend(group.getBounds());
      if (!bounds.isValid() || !this.map.getSize().x) return;
      this.fitting = true;
      this.map.fitBounds(bounds, { padding: [28, 28], maxZoom: 20, animate: false });
      this.fitting = false;
    }

    /* Follow the size of the place given to the map: everything stays in sight until the
       reader moves the map, or opens a point. */
    followSize() {
      this.moved = false;
      this.map.on("movestart", () => {
        this.moved = this.moved || !this.fitting;
      });
      new ResizeObserver(() => {
        if (document.documentElement.classList.contains("printing")) return;
        if (this.moved) this.map.invalidateSize({ animate: false, pan: false });
        else this.fit();
        if (this.labels._map) this.labels.redraw();
      }).observe(this.map.getContainer());
    }

    /* On paper the legend lies open under the map, which is drawn anew for the width of a sheet. */
    followPrint() {
      const panel = document.getElementById("panel");
      const { retina } = L.Browser;
      let wasOpen = panel.open;
      let pictures = [];
      const lay = (printing) => {
        document.documentElement.classList.toggle("printing", printing);
        panel.open = printing || wasOpen;
        L.Browser.retina = printing || retina;
        if (this.moved) this.map.invalidateSize({ animate: false });
        else this.fit();
        this.canvas._update(); // Leaflet paints in the next frame, for which a printer does not wait.
        this.labels.redraw();
      };
      addEventListener("beforeprint", () => {
        if (pictures.length) return;
        wasOpen = panel.open;
        lay(true);
        pictures = [this.canvas._container, this.labels._canvas].map(pictureOf);
      });
      addEventListener("afterprint", () => {
        for (const picture of pictures.splice(0)) picture.remove();
        lay(false);
      });
    }

    show(index) {
      if (index < 0 || index >= this.data.layers.length) return;
      const { data } = this;
      this.layerIndex = index;
      const layer = data.layers[index];
      const values = layer.v.map((place) => data.values[place]);
      this.symbols = data.points.map((point, i) => this.reader.symbolOf(data, point, values[i], this.scale));
      this.markers.forEach((marker, i) => marker.setSymbol(this.symbols[i]));
      this.order = this.symbols.map((_, i) => i).sort((a, b) => this.symbols[b].r - this.symbols[a].r || a - b);
      this.order.forEach((i) => this.markers[i].bringToFront());
      this.counts = this.reader.countSymbols(data, this.symbols, values);
      document.getElementById("layer").value = layer.id;
      document.getElementById("summary").textContent = this.reader.summaryWords(layer, this.counts);
      document.documentElement.dataset.layer = layer.id;
      this.reader.fillLegend(this.parts, data, layer, this.counts, this.scale);
      const lone = document.getElementById("lone");
      lone.hidden = !layer.page;
      lone.href = `${data.lone}#page=${layer.page}`;
      if (!this.labels._map) this.labels.addTo(this.map);
      else this.labels.redraw();
      if (this.selected >= 0) this.popup.setContent(this.popupContent());
      this.writeHash();
    }

    popupContent() {
      const layer = this.data.layers[this.layerIndex];
      const value = this.data.values[layer.v[this.selected]];
      return this.reader.popupBody(this.data, this.data.points[this.selected], value, layer);
    }

    select(index) {
      if (this.layerIndex < 0) return;
      if (index < 0 || index >= this.data.points.length) {
        this.map.closePopup(this.popup);
        return;
      }
      this.selected = index;
      document.getElementById("place").selectedIndex = index + 1;
      const content = this.popupContent();
      this.popup.setContent(content);
      this.tell(content);
      this.popup.setLatLng(this.markers[index].getLatLng()).openOn(this.map);
      this.writeHash();
    }

    /* Say what the pop-up shows to those who do not see it open. */
    tell(content) {
      const parts = ["h2", ".value", ".mark", ".above"].flatMap((part) => [...content.querySelectorAll(part)]);
      document.getElementById("chosen").textContent = parts.map((part) => part.textContent).join("; ");
    }

    /* Escape closes the pop-up and leads back to where a point is chosen. */
    closeByKey(event) {
      if (event.key !== "Escape" || this.selected < 0) return;
      this.map.closePopup(this.popup);
      document.getElementById("place").focus();
    }

    /* Name the library's own controls in the language of the page. */
    nameControls() {
      const names = [
        [".leaflet-control-zoom-in", "Zoom in"],
        [".leaflet-control-zoom-out", "Zoom out"],
      ];
      for (const [place, name] of names) {
        const control = this.map.getContainer().querySelector(place);
        control?.setAttribute("title", name);
        control?.setAttribute("aria-label", name);
      }
      this.map.on("popupopen", ({ popup }) => {
        popup.getElement().querySelector(".leaflet-popup-close-button")?.setAttribute("aria-label", "Close the pop-up");
      });
    }

    deselect() {
      document.getElementById("chosen").textContent = "";
      this.selected = -1;
      document.getElementById("place").selectedIndex = 0;
      this.writeHash();
    }

    writeHash() {
      const layer = this.data.layers[this.layerIndex];
      const point = this.selected >= 0 ? "/" + encodeURIComponent(this.data.points[this.selected][0]) : "";
      history.replaceState(null, "", "#" + encodeURIComponent(layer.id) + point + this.roundPart);
    }

    /* Open what the address names; anything unknown is left alone. */
    readHash(hash = location.hash) {
      let parts = [];
      try {
        parts = hash.slice(1).split("/").filter(Boolean).map(decodeURIComponent);
      } catch (error) {
        parts = [];
      }
      const layer = parts.find((part) => this.layerPlaces.has(part));
      const point = parts.find((part) => part !== layer && this.pointPlaces.has(part));
      const first = this.layerPlaces.get(this.data.first) || 0;
      const current = this.layerIndex >= 0 ? this.layerIndex : first;
      this.show(layer === undefined ? current : this.layerPlaces.get(layer));
      if (point !== undefined) this.select(this.pointPlaces.get(point));
    }

    labelItems() {
      const at = (latlng) => this.map.latLngToContainerPoint(latlng);
      const { look, points } = this.data;
      const obstacles = [];
      const items = [];
      for (const i of this.order) {
        const { x, y } = at(this.markers[i].getLatLng());
        const gap = sitegenSymbols.reach(this.symbols[i]) + 1;
        obstacles.push([[x - gap + 1, y - gap + 1, x + gap - 1, y + gap - 1], i]);
        if (!this.shown.points) continue;
        const font = "600 11px system-ui, sans-serif";
        items.push({ x, y, gap, text: points[i][1] || points[i][0], font, colour: look.ink, halo: look.paper, owner: i });
      }
      const ground = getComputedStyle(this.map.getContainer()).backgroundColor;
      for (const [feature, style, path] of this.shown.features ? this.named : []) {
        if (!this.map.hasLayer(path)) continue;
        const { x, y } = at(path.getCenter ? path.getCenter() : path.getLatLng());
        const gap = path.getCenter ? 0 : 9;
        const font = "italic 11.5px system-ui, sans-serif";
        const colour = style.fill && feature.kind !== "well" ? "#4b4a44" : style.stroke;
        const plate = !gap && !style.fill ? ground : "";
        items.push({ x, y, gap, text: feature.name, font, colour, halo: look.paper, plate, owner: null });
      }
      return { items, obstacles };
    }

    reportLabels(count) {
      this.labelCount = count;
      this.parts.room.textContent = count.dropped
        ? `${count.dropped} of ${count.placed + count.dropped} labels omitted for clarity: zoom in to see them.`
        : "";
    }

    /* What the tests look at. */
    report() {
      return {
        layer: this.data.layers.length ? this.data.layers[this.layerIndex].id : "",
        selected: this.selected >= 0 ? this.data.points[this.selected][0] : "",
        points: this.markers.length,
        layers: this.data.layers.length,
        features: this.data.features.length,
        counts: this.counts,
        labels: this.labelCount,
        readyMs: this.readyMs,
        pixel: (id) => this.map.latLngToContainerPoint(this.markers[this.pointPlaces.get(id)].getLatLng()),
      };
    }
  }

  window.sitegenStart = function (map, data) {
    const site = new SiteMap(map, data);
    window.sitegenMap = { report: () => site.report() };
    if (!data.layers.length) {
      document.getElementById("summary").textContent = "No compound is mapped in this project.";
      return;
    }
    if (data.views) sitegenRounds.attach(site);
    if (data.layers.length > 1) sitegenSecond.attach(site);
    site.readHash();
    window.addEventListener("hashchange", () => site.readHash());
    site.readyMs = performance.now();
  };
})();
