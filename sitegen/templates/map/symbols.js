/* Symbols on canvas. Shape is the surface, size and colour the mass class; hollow is a
   non-detect, an outer ring a mark, a hexagon with a dot an air point. A point without a retrieved sampler: crossed
   when lost, an upright stroke while in place, a level one without a retrieval on record, a bare cross when none was
   installed, an upright cross when it is planned. Broad arrows and a dash say what became of a mass (rounds.js). */
(function () {
  "use strict";

  // Corners and the turn of the first one; all shapes have the circle's area at equal r.
  const POLYGONS = {
    triangle: [3, -Math.PI / 2],
    square: [4, Math.PI / 4],
    diamond: [4, 0],
    hexagon: [6, 0],
    well: [3, Math.PI / 2],
  };

  // Corners of the broad arrow that points up, as shares of its reach.
  const UP = [[0, -1], [0.85, 0], [0.38, 0], [0.38, 0.9], [-0.38, 0.9], [-0.38, 0], [-0.85, 0]];
  const ARROWS = { arrow_up: UP, arrow_down: UP.map(([x, y]) => [x, -y]) };
  const ARROW_AREA = 0.85 + 2 * 0.38 * 0.9;

  // A star marks a suspected source: ten corners, every other one nearer to the middle.
  const STAR = Array.from({ length: 10 }, (_, i) => {
    const [r, turn] = [i % 2 ? 0.45 : 1, ((i * 36 - 90) * Math.PI) / 180];
    return [r * Math.cos(turn), r * Math.sin(turn)];
  });

  function stretch(shape) {
    if (shape === "star") return 1.5;
    if (ARROWS[shape]) return Math.sqrt(Math.PI / ARROW_AREA);
    const polygon = POLYGONS[shape];
    if (!polygon) return 1;
    const n = polygon[0];
    return Math.sqrt(Math.PI / ((n / 2) * Math.sin((2 * Math.PI) / n)));
  }

  function outline(ctx, shape, x, y, r) {
    ctx.beginPath();
    const corners = shape === "star" ? STAR : ARROWS[shape];
    if (corners) {
      for (const [dx, dy] of corners) ctx.lineTo(x + dx * r * stretch(shape), y + dy * r * stretch(shape));
      ctx.closePath();
      return;
    }
    const polygon = POLYGONS[shape];
    if (!polygon) {
      ctx.arc(x, y, r, 0, 2 * Math.PI);
      return;
    }
    const [n, turn] = polygon;
    const reach = r * stretch(shape);
    for (let i = 0; i < n; i += 1) {
      const angle = turn + (2 * Math.PI * i) / n;
      ctx.lineTo(x + reach * Math.cos(angle), y + reach * Math.sin(angle));
    }
    ctx.closePath();
  }

  /* Strokes through a point, each [dx, dy] from its middle. */
  const STROKES = {
    lost: [[0.6, 0.6], [0.6, -0.6]],
    in_place: [[0, 0.6]],
    retrieval_not_recorded: [[0.6, 0]],
    not_installed: [[0.8, 0.8], [0.8, -0.8]],
    planned: [[0.8, 0], [0, 0.8]],
    dash: [[1, 0]],
  };

  function strokes(ctx, x, y, symbol, ink, paper) {
    for (const [width, colour] of paper ? [[5, paper], [2, ink]] : [[1.8, ink]]) {
      ctx.beginPath();
      for (const [dx, dy] of STROKES[symbol.kind]) {
        ctx.moveTo(x - dx * symbol.r, y - dy * symbol.r);
        ctx.lineTo(x + dx * symbol.r, y + dy * symbol.r);
      }
      ctx.lineWidth = width;
      ctx.strokeStyle = colour;
      ctx.stroke();
    }
  }

  /* Half the width of what draw() paints, in pixels. */
  function reach(symbol) {
    const body = symbol.r * (symbol.kind === "dot" ? 1 : stretch(symbol.shape));
    return body + (symbol.ring ? 4.5 : 2);
  }

  function body(ctx, x, y, symbol, look) {
    outline(ctx, symbol.shape, x, y, symbol.r);
    ctx.lineWidth = 3.5;
    ctx.strokeStyle = look.paper;
    ctx.stroke();
    ctx.fillStyle = symbol.fill || look.paper;
    ctx.fill();
    ctx.lineWidth = symbol.fill ? 1.1 : symbol.kind === "nondetect" ? 1.5 : 2.2;
    ctx.strokeStyle = look.ink;
    ctx.stroke();
  }

  function dot(ctx, x, y, r, look) {
    ctx.beginPath();
    ctx.arc(x, y, r, 0, 2 * Math.PI);
    ctx.fillStyle = look.muted;
    ctx.fill();
  }

  function ring(ctx, x, y, r, colour, paper) {
    for (const [width, stroke] of [[4, paper], [2, colour]]) {
      ctx.beginPath();
      ctx.arc(x, y, r, 0, 2 * Math.PI);
      ctx.lineWidth = width;
      ctx.strokeStyle = stroke;
      ctx.stroke();
    }
  }

  function bare(symbol) {
    return ["not_installed", "planned", "dash"].includes(symbol.kind);
  }

  /* symbol: {kind: class | nondetect | dot | air | well | one of STROKES, shape, r, fill, ring} */
  function draw(ctx, x, y, symbol, look) {
    ctx.save();
    ctx.globalAlpha = 1;
    ctx.setLineDash([]);
    if (symbol.ring) ring(ctx, x, y, reach(symbol) - 1.5, look.ring, look.paper);
    if (symbol.kind === "dot") dot(ctx, x, y, symbol.r, look);
    else if (!bare(symbol)) body(ctx, x, y, symbol, look);
    if (symbol.kind === "air_above") strokes(ctx, x, y, { kind: "planned", r: symbol.r * 0.75 }, look.paper, "");
    if (symbol.kind === "air") dot(ctx, x, y, symbol.r * 0.35, { muted: look.ink });
    if (STROKES[symbol.kind]) strokes(ctx, x, y, symbol, look.ink, bare(symbol) ? look.paper : "");
    ctx.restore();
  }

  const Symbol = L.CircleMarker.extend({
    setSymbol: function (symbol) {
      this.options.symbol = symbol;
      this.setRadius(Math.max(reach(symbol), 7));
    },
    _updatePath: function () {
      if (!this._renderer._drawing || this._empty()) return;
      draw(this._renderer._ctx, this._point.x, this._point.y, this.options.symbol, this.options.look);
    },
  });

  /* A polyline with a head on its last segment. */
  const Arrow = L.Polyline.extend({
    _updatePath: function () {
      L.Polyline.prototype._updatePath.call(this);
      const part = this._rings && this._rings.length ? this._rings[this._rings.length - 1] : [];
      if (!this._renderer._drawing || part.length < 2) return;
      const [tail, tip] = part.slice(-2);
      const angle = Math.atan2(tip.y - tail.y, tip.x - tail.x);
      const ctx = this._renderer._ctx;
      ctx.beginPath();
      ctx.moveTo(tip.x, tip.y);
      for (const side of [-0.4, 0.4]) {
        ctx.lineTo(tip.x - 13 * Math.cos(angle + side), tip.y - 13 * Math.sin(angle + side));
      }
      ctx.closePath();
      ctx.fillStyle = this.options.color;
      ctx.fill();
    },
  });

  /* A small canvas with one symbol on it, for the legend. */
  function swatch(symbol, look) {
    const size = 34;
    const scale = Math.max(window.devicePixelRatio || 1, 2);
    const canvas = document.createElement("canvas");
    canvas.width = canvas.height = size * scale;
    canvas.className = "swatch";
    canvas.setAttribute("aria-hidden", "true");
    const ctx = canvas.getContext("2d");
    ctx.scale(scale, scale);
    draw(ctx, size / 2, size / 2, symbol, look);
    return canvas;
  }

  window.sitegenSymbols = { Symbol, Arrow, draw, reach, swatch };
})();
