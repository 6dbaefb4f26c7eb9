/* Labels on a canvas of their own: placed one by one where nothing stands yet, left
   out (and counted) where there is no room. */
(function () {
  "use strict";

  const CELL = 64;

  /* Boxes [x0, y0, x1, y1] in a grid of cells, so that a test looks at neighbours only. */
  class Room {
    constructor() {
      this.cells = new Map();
    }

    keys(box) {
      const found = [];
      for (let i = Math.floor(box[0] / CELL); i <= Math.floor(box[2] / CELL); i += 1) {
        for (let j = Math.floor(box[1] / CELL); j <= Math.floor(box[3] / CELL); j += 1) {
          found.push(i + ":" + j);
        }
      }
      return found;
    }

    take(box, owner) {
      for (const key of this.keys(box)) {
        if (!this.cells.has(key)) this.cells.set(key, []);
        this.cells.get(key).push([box, owner]);
      }
    }

    isFree(box, owner) {
      return this.keys(box).every((key) =>
        (this.cells.get(key) || []).every(
          ([other, its]) =>
            (its !== null && its === owner) ||
            other[2] <= box[0] || other[0] >= box[2] || other[3] <= box[1] || other[1] >= box[3]
        )
      );
    }
  }

  /* A box beside a symbol: its middle lies in a direction (each of -1, 0, 1), clear of the symbol by the gap. */
  function beside({ x, y }, gap, [right, down], width, height) {
    const reach = right && down ? gap * 0.8 : gap;
    const left = x + right * reach + ((right - 1) / 2) * width;
    const top = y + down * reach + ((down - 1) / 2) * height;
    return [left, top, left + width, top + height];
  }

  const SIDES = [[1, 0], [-1, 0], [0, -1], [0, 1], [1, -1], [1, 1], [-1, -1], [-1, 1]];
  const STEPS_AWAY = [12, 24, 36, 48];

  /* Boxes a label may take, best first: right, left, above, below its symbol, at its corners, or on
     the spot; the name of a point may also stand further off, at the end of a line. */
  function choices(item, width, height) {
    const { x, y, gap } = item;
    if (!gap) return [[x - width / 2, y - height / 2, x + width / 2, y + height / 2]];
    const near = SIDES.map((side) => beside(item, gap, side, width, height));
    if (item.owner === null) return near;
    const far = STEPS_AWAY.flatMap((step) => SIDES.map((side) => beside(item, gap + step, side, width, height)));
    return [...near, ...far];
  }

  /* The thin line [from, to] from a symbol's edge to a label that stands away from it; null where none is needed. */
  function leader({ x, y, gap, owner }, [x0, y0, x1, y1]) {
    if (!gap || owner === null) return null;
    const end = [Math.min(Math.max(x, x0), x1), Math.min(Math.max(y, y0), y1)];
    const away = Math.hypot(end[0] - x, end[1] - y);
    if (away < gap + 6) return null;
    return [[x + ((end[0] - x) * gap) / away, y + ((end[1] - y) * gap) / away], end];
  }

  /* Small boxes along a label's line, which no other label or symbol may touch. */
  function way(item, box) {
    const line = leader(item, box);
    if (!line) return [];
    const [[x0, y0], [x1, y1]] = line;
    const count = Math.ceil(Math.hypot(x1 - x0, y1 - y0) / 5);
    return Array.from({ length: count }, (_, k) => {
      const share = (k + 0.5) / count;
      const [x, y] = [x0 + (x1 - x0) * share, y0 + (y1 - y0) * share];
      return [x - 1, y - 1, x + 1, y + 1];
    });
  }

  function paint(ctx, item, box) {
    const line = leader(item, box);
    if (line) {
      ctx.lineWidth = 1;
      ctx.strokeStyle = item.colour;
      ctx.beginPath();
      ctx.moveTo(...line[0]);
      ctx.lineTo(...line[1]);
      ctx.stroke();
    }
    if (item.plate) {
      ctx.fillStyle = item.plate;
      ctx.fillRect(box[0] - 2, box[1], box[2] - box[0] + 4, box[3] - box[1]);
    }
    ctx.lineJoin = "round";
    ctx.lineWidth = 3;
    ctx.strokeStyle = item.halo;
    ctx.strokeText(item.text, box[0], (box[1] + box[3]) / 2);
    ctx.fillStyle = item.colour;
    ctx.fillText(item.text, box[0], (box[1] + box[3]) / 2);
  }

  const Labels = L.Layer.extend({
    initialize: function (source, report) {
      this._source = source;
      this._report = report;
    },

    onAdd: function (map) {
      const pane = map.getPane("labels") || map.createPane("labels");
      pane.style.zIndex = 450;
      pane.style.pointerEvents = "none";
      this._canvas = L.DomUtil.create("canvas", "label-sheet", pane);
      this._canvas.setAttribute("aria-hidden", "true");
      map.on("moveend resize", this.redraw, this);
      map.on("zoomstart", this._hide, this);
      this.redraw();
    },

    onRemove: function (map) {
      map.off("moveend resize", this.redraw, this);
      map.off("zoomstart", this._hide, this);
      this._canvas.remove();
    },

    _hide: function () {
      this._canvas.style.visibility = "hidden";
    },

    redraw: function () {
      if (!this._map) return;
      const size = this._map.getSize();
      const scale = Math.max(window.devicePixelRatio || 1, L.Browser.retina ? 2 : 1);
      const canvas = this._canvas;
      canvas.width = size.x * scale;
      canvas.height = size.y * scale;
      canvas.style.width = size.x + "px";
      canvas.style.height = size.y + "px";
      canvas.style.visibility = "visible";
      L.DomUtil.setPosition(canvas, this._map.containerPointToLayerPoint([0, 0]));
      const ctx = canvas.getContext("2d");
      ctx.scale(scale, scale);
      ctx.textBaseline = "middle";
      this._report(this._place(ctx, size));
    },

    /* items: {x, y, gap, text, font, colour, halo, plate, owner}; obstacles: [box, owner]. */
    _place: function (ctx, size) {
      const { items, obstacles } = this._source(this._map);
      const room = new Room();
      obstacles.forEach(([box, owner]) => room.take(box, owner));
      const count = { placed: 0, dropped: 0, boxes: [], ways: [], without: [] };
      for (const item of items) {
        if (item.x < 0 || item.y < 0 || item.x > size.x || item.y > size.y) continue;
        ctx.font = item.font;
        const width = ctx.measureText(item.text).width;
        const inside = (b) => b[0] >= 2 && b[2] <= size.x - 2 && b[1] >= 2 && b[3] <= size.y - 2;
        const isFree = (b) => room.isFree(b, item.owner);
        const box = choices(item, width, 13).find((b) => inside(b) && isFree(b) && way(item, b).every(isFree));
        count[box ? "placed" : "dropped"] += 1;
        if (!box) {
          count.without.push(item.text);
          continue;
        }
        room.take(box, null);
        const steps = way(item, box);
        for (const step of steps) room.take(step, null);
        count.boxes.push(box);
        count.ways.push(steps);
        paint(ctx, item, box);
      }
      return count;
    },
  });

  window.sitegenLabels = { Labels };
})();
