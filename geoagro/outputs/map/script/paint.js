// One canvas draws everything; Leaflet moves and scales it while a finger does, and asks for a new picture afterwards.
const looks = {
  day: { ink: "#20262b", halo: "rgba(255,255,255,.85)", panel: "#ffffff", mark: "#b3261e", scale: 1 },
  dark: { ink: "#f2f5f6", halo: "rgba(10,14,16,.8)", panel: "#1d2428", mark: "#ffb454", scale: 1 },
  sun: { ink: "#000000", halo: "#ffffff", panel: "#ffffff", mark: "#c00000", scale: 1.7 },
};
let mode = "day";

const Picture = L.Renderer.extend({
  options: { padding: 0.25 },
  _initContainer() {
    this._container = document.createElement("canvas");
    this._container.className = "leaflet-zoom-animated";
    this._pen = this._container.getContext("2d");
  },
  _destroyContainer() { this._container.remove(); },
  _updatePaths() {},
  _update() {
    if (this._map._animatingZoom && this._bounds) return;
    L.Renderer.prototype._update.call(this);
    const size = this._bounds.getSize(), sharp = Math.min(window.devicePixelRatio || 1, 2);
    L.DomUtil.setPosition(this._container, this._bounds.min);
    this._container.width = size.x * sharp;
    this._container.height = size.y * sharp;
    this._container.style.width = size.x + "px";
    this._container.style.height = size.y + "px";
    const began = performance.now();
    const zoom = this._map.getZoom(), grow = 2 ** zoom, origin = this._map.getPixelOrigin();
    const view = { grow, sharp, left: -origin.x - this._bounds.min.x, top: -origin.y - this._bounds.min.y, width: size.x, height: size.y };
    paint(this._pen, view);
    this.view = view;
    document.documentElement.dataset.drawMs = (performance.now() - began).toFixed(1);
  },
  redraw() { if (this._map) this._update(); },
});

// pixels for a metre below which the thinned outlines are drawn: 0.2 m is then less than a pixel
const COARSE_BELOW = 4;

function toPage(view, x, y) { return [x * view.grow + view.left, -y * view.grow + view.top]; }

// where a place on the ground is in the picture that was painted last
function pageAt(x, y) { return toPage(picture.view, x, y); }

function paint(pen, view) {
  const look = looks[mode];
  pen.setTransform(1, 0, 0, 1, 0, 0);
  pen.clearRect(0, 0, pen.canvas.width, pen.canvas.height);
  const signed = [];
  for (const layer of field.layers) {
    if (!layer.shown) continue;
    if (layer.kind === "relief") { paintRelief(pen, view, layer); continue; }
    onGround(pen, view);
    const path = layer.coarse && view.grow < COARSE_BELOW ? layer.coarse : layer.path;
    if (layer.filled && layer.paint[mode]) {
      pen.fillStyle = layer.paint[mode];
      pen.fill(path, "evenodd");
      if (layer.sign) signed.push([layer, path]);
    }
    if (layer.ink[mode] && (layer.always || layer.least * view.grow > 3 || !layer.filled)) {
      pen.strokeStyle = layer.ink[mode];
      pen.lineWidth = Math.min((layer.width * look.scale) / view.grow, layer.widest_m || Infinity);
      pen.lineJoin = pen.lineCap = "round";
      pen.stroke(path);
    }
  }
  for (const [layer, path] of signed) paintSigns(pen, view, look, layer, path); // over beds and rows, which would cut them
  paintPlants(pen, view, look);
  paintNotes(pen, view);
  placeChips(pen, view);
  const numbers = rowNumbers(view);
  paintStakes(pen, view, look, numbers);
  if (chosen) paintChosen(pen, view, look);
  paintLabels(pen, view, look, numbers);
  paintParts(pen, view, look);
  paintMeasure(pen, view, look);
  paintPlace(pen, view, look);
}

// letters, as in the list of layers, tell the reasons for ground left apart where colours don't: for colour-blind eyes, in the
// dark, and in bright sun, where all of it is one pale grey. A letter is never cut: where it has no room inside, it stands on the strip with a halo, and less often; hair-thin strips have none
const SIGN = { px: 34, size: 14, calm: 11, half_wide: 5, half_high: 6, least: 0.4, apart: 90 };
function paintSigns(pen, view, look, layer, path) {
  const s = view.sharp, inside = (x, y) => pen.isPointInPath(path, x * s, y * s, "evenodd");
  const round = (x, y, share) => [-1, 1].every((i) => [-1, 1].every((j) => inside(x + i * share * SIGN.half_wide, y + j * share * SIGN.half_high)));
  onGround(pen, view);
  const places = signPlaces(view, layer).filter(([x, y]) => round(x, y, SIGN.least)).map(([x, y]) => [x, y, round(x, y, 1)]);
  onPage(pen, view);
  pen.font = mode === "sun" ? lettering(700, SIGN.size) : lettering(500, SIGN.calm);
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.fillStyle = letterInk(layer.paint[mode], look.ink);
  const taken = [], near = (x, y, apart) => taken.some(([u, v]) => Math.abs(u - x) < apart && Math.abs(v - y) < apart);
  for (const [x, y] of places.filter((place) => place[2])) {
    if (near(x, y, SIGN.size)) continue; // a box's middle may lie beside a place of the lattice
    taken.push([x, y]);
    pen.fillText(layer.sign, x, y);
  }
  for (const [x, y] of places.filter((place) => !place[2])) {
    if (near(x, y, SIGN.apart)) continue;
    taken.push([x, y]);
    writeWithHalo(pen, look, layer.sign, x, y);
  }
}

// dark letters, and white ones in daylight where the paint is dark: 4.5:1 at least on every paint
function letterInk(paint, ink) {
  const parts = [1, 3, 5].map((k) => parseInt(paint.slice(k, k + 2), 16) / 255);
  const [r, g, b] = parts.map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
  return mode === "day" && 0.2126 * r + 0.7152 * g + 0.0722 * b < 0.18 ? "#ffffff" : ink;
}

// places for letters on the page: an even lattice within the box of each piece of ground, and each box's middle
function signPlaces(view, layer) {
  const places = new Map(), step = SIGN.px / 2, first = (from, at) => Math.ceil((from - at) / step);
  for (const [west, south, east, north] of layer.boxes) {
    const [left, top] = toPage(view, west, north), [right, bottom] = toPage(view, east, south);
    if (right < 0 || bottom < 0 || left > view.width || top > view.height) continue;
    places.set(`${west} ${south}`, [(left + right) / 2, (top + bottom) / 2]);
    for (let j = first(Math.max(top, 0), view.top); view.top + j * step < Math.min(bottom, view.height); j++)
      for (let i = first(Math.max(left, 0), view.left); view.left + i * step < Math.min(right, view.width); i++)
        if ((i + j) % 2 === 0) places.set(`${i},${j}`, [view.left + i * step, view.top + j * step]);
  }
  return [...places.values()];
}

// letters on the canvas are those of the page: the family is said once, in look.css
function lettering(weight, px) { return `${weight} ${px}px ${getComputedStyle(document.body).fontFamily}`; }

function onGround(pen, view) {
  const s = view.sharp;
  pen.setTransform(view.grow * s, 0, 0, -view.grow * s, view.left * s, view.top * s);
}
function onPage(pen, view) { pen.setTransform(view.sharp, 0, 0, view.sharp, 0, 0); }

function paintRelief(pen, view, layer) {
  if (!layer.image.complete || mode === "sun") return;
  onPage(pen, view);
  const [west, north] = toPage(view, layer.box[0], layer.box[3]), [east, south] = toPage(view, layer.box[2], layer.box[1]);
  pen.imageSmoothingEnabled = true;
  pen.drawImage(layer.image, west, north, east - west, south - north);
}

// a crop whose plants would run into one another is left to the colour of its beds
const CLOSEST_PX = 2.5;
// side of a dot, of the width of its place: two dots corner to corner don't meet
const DOT_SHARE = 0.7;

// far out plants are dots, close in the shapes of the legend at about their crown's size; none is wider than its place
function paintPlants(pen, view, look) {
  onPage(pen, view);
  const { x, y, crop, place } = field.plants;
  const slack = 12, right = view.width + slack, bottom = view.height + slack;
  let drawn = 0;
  for (const c of field.cropOrder) {
    const info = field.crops[c];
    if (!info.shown || info.gap * view.grow < CLOSEST_PX) continue;
    const size = plantSize(info, view.grow) * (mode === "sun" ? 1.25 : 1);
    pen.fillStyle = info.paint;
    pen.strokeStyle = mode === "dark" ? "#f2f5f6" : "#20262b";
    pen.lineWidth = 0.8 * look.scale;
    const [from, to] = info.span;
    if (size < 5) {
      for (let k = from; k < to; k++) {
        const px = (x[k] / 100) * view.grow + view.left, py = (-y[k] / 100) * view.grow + view.top;
        if (px < -slack || py < -slack || px > right || py > bottom) continue;
        const dot = Math.min(size, DOT_SHARE * (place[k] / 100) * view.grow);
        pen.fillRect(px - dot / 2, py - dot / 2, dot, dot);
        drawn++;
      }
      continue;
    }
    const stamp = stampOf(info, size, view.sharp, pen.strokeStyle, pen.lineWidth), wide = stamp.width / view.sharp, round = 1.25 * size + pen.lineWidth;
    for (let k = from; k < to; k++) {
      const px = (x[k] / 100) * view.grow + view.left, py = (-y[k] / 100) * view.grow + view.top;
      if (px < -slack || py < -slack || px > right || py > bottom) continue;
      const printed = wide * Math.min(1, ((place[k] / 100) * view.grow) / round);
      pen.drawImage(stamp, px - printed / 2, py - printed / 2, printed, printed);
      drawn++;
    }
  }
  document.documentElement.dataset.plantsDrawn = drawn;
}

// a mark drawn once and then printed at every plant: one path of all plants would be filled far more slowly
function stampOf(info, size, sharp, ink, width) {
  const stamp = document.createElement("canvas"), pen = stamp.getContext("2d"), wide = Math.ceil((1.25 * size + 2 * width) * sharp);
  stamp.width = stamp.height = wide;
  pen.setTransform(sharp, 0, 0, sharp, wide / 2, wide / 2);
  pen.beginPath();
  shape(pen, info.shape, 0, 0, size / 2);
  pen.fillStyle = info.paint;
  pen.strokeStyle = ink;
  pen.lineWidth = width;
  pen.fill();
  pen.stroke();
  return stamp;
}

// marks grow with the scale, but never over the next plant of the crop
function plantSize(info, grow) {
  const wanted = Math.min(info.size * Math.sqrt(grow) * 0.9, 0.55 * info.gap * grow);
  return Math.max(1.4, Math.min(wanted, 7 + info.size * 2.4));
}

const CORNERS = {
  trapezoid: [[-1, 0.6], [1, 0.6], [0.5, -0.6], [-0.5, -0.6]],
  half_square: [[-0.5, 1], [0.5, 1], [0.5, -1], [-0.5, -1]],
  parallelogram: [[-1, 0.6], [0.5, 0.6], [1, -0.6], [-0.5, -0.6]],
};

function shape(pen, kind, x, y, r) {
  if (kind === "circle") { pen.moveTo(x + r, y); pen.arc(x, y, r, 0, 2 * Math.PI); return; }
  if (kind === "square") { pen.rect(x - 0.88 * r, y - 0.88 * r, 1.76 * r, 1.76 * r); return; }
  if (kind === "cross") {
    const a = 0.38 * r;
    const c = [[-a, -r], [a, -r], [a, -a], [r, -a], [r, a], [a, a], [a, r], [-a, r], [-a, a], [-r, a], [-r, -a], [-a, -a]];
    c.forEach(([dx, dy], k) => (k ? pen.lineTo(x + dx, y + dy) : pen.moveTo(x + dx, y + dy)));
    pen.closePath();
    return;
  }
  if (CORNERS[kind]) {
    CORNERS[kind].forEach(([dx, dy], k) => (k ? pen.lineTo(x + dx * r, y + dy * r) : pen.moveTo(x + dx * r, y + dy * r)));
    pen.closePath();
    return;
  }
  if (kind === "semi_circle") { pen.arc(x, y + 0.4 * r, r, Math.PI, 2 * Math.PI); pen.closePath(); return; }
  const corners = { hexagon: 6, triangle: 3, diamond: 4, pentagon: 5, star: 10 }[kind];
  for (let k = 0; k < corners; k++) {
    const reach = kind === "star" && k % 2 ? 0.45 * r : 1.1 * r, angle = (2 * Math.PI * k) / corners - Math.PI / 2;
    const px = x + reach * Math.cos(angle), py = y + reach * Math.sin(angle);
    if (k) pen.lineTo(px, py); else pen.moveTo(px, py);
  }
  pen.closePath();
}

function paintChosen(pen, view, look) {
  const { layer, feature, plant, stake } = chosen;
  pen.strokeStyle = look.mark;
  if (plant !== undefined || stake !== undefined) {
    onPage(pen, view);
    const [px, py] = toPage(view, ...placeOf(chosen));
    pen.lineWidth = 3 * look.scale;
    pen.beginPath();
    pen.arc(px, py, 14, 0, 2 * Math.PI);
    pen.stroke();
    return;
  }
  onGround(pen, view);
  pen.lineWidth = (layer.filled ? 3 : 5) / view.grow;
  pen.beginPath();
  for (const part of partsOf(layer, feature)) {
    for (let k = layer.starts[part]; k < layer.starts[part + 1]; k++) {
      const x = layer.points[2 * k] / 100, y = layer.points[2 * k + 1] / 100;
      if (k === layer.starts[part]) pen.moveTo(x, y); else pen.lineTo(x, y);
    }
    if (layer.filled) pen.closePath();
  }
  pen.stroke();
}

function writeWithHalo(pen, look, text, x, y) {
  pen.lineWidth = 4;
  pen.strokeStyle = look.halo;
  pen.strokeText(text, x, y);
  pen.fillStyle = look.ink;
  pen.fillText(text, x, y);
}

// row numbers beside where rows start, as many as fit without touching
function rowNumbers(view) {
  const rows = field.byKey.tree_rows, size = mode === "sun" ? 17 : 13, placed = [];
  if (!rows || !rows.shown) return placed;
  for (let feature = 0; feature < rows.count; feature++) {
    const start = rows.starts[rows.first[feature]], x = rows.points[2 * start] / 100, y = rows.points[2 * start + 1] / 100;
    const dx = rows.points[2 * start + 2] / 100 - x, dy = rows.points[2 * start + 3] / 100 - y, far = Math.hypot(dx, dy) || 1;
    let [px, py] = toPage(view, x, y);
    px -= (dx / far) * 14;
    py += (dy / far) * 14;
    if (px < 0 || py < 0 || px > view.width || py > view.height) continue;
    const text = String(rows.columns.row[feature]), half = text.length * size * 0.32 + 3;
    if (placed.some((other) => Math.abs(other.px - px) < half + other.half && Math.abs(other.py - py) < size * 1.2)) continue;
    if (isUnderChip(px - half, py - size * 0.6, px + half, py + size * 0.6)) continue;
    placed.push({ text, px, py, half, high: size * 0.6 });
  }
  return placed;
}

function paintLabels(pen, view, look, numbers) {
  onPage(pen, view);
  pen.font = lettering(600, mode === "sun" ? 17 : 13);
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.lineJoin = "round";
  for (const { text, px, py } of numbers) writeWithHalo(pen, look, text, px, py);
}
