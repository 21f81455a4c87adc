// What lies under a finger, and what a search means.
function nearestPlant(x, y, reach) {
  const { plants, crops } = field;
  let best = -1, least = reach * reach;
  for (const info of crops) {
    if (!info.shown) continue;
    for (let k = info.span[0]; k < info.span[1]; k++) {
      const dx = plants.x[k] / 100 - x, dy = plants.y[k] / 100 - y, d = dx * dx + dy * dy;
      if (d < least) { least = d; best = k; }
    }
  }
  return best;
}

function inside(layer, feature, x, y) {
  let odd = false;
  for (const part of partsOf(layer, feature)) {
    const from = layer.starts[part], to = layer.starts[part + 1];
    for (let k = from, j = to - 1; k < to; j = k++) {
      const xk = layer.points[2 * k] / 100, yk = layer.points[2 * k + 1] / 100;
      const xj = layer.points[2 * j] / 100, yj = layer.points[2 * j + 1] / 100;
      if (yk > y !== yj > y && x < ((xj - xk) * (y - yk)) / (yj - yk) + xk) odd = !odd;
    }
  }
  return odd;
}

function polygonAt(layer, x, y) {
  for (let f = layer.count - 1; f >= 0; f--) {
    const b = layer.boxes[f];
    if (x >= b[0] && x <= b[2] && y >= b[1] && y <= b[3] && inside(layer, f, x, y)) return f;
  }
  return -1;
}

function nearestLine(layer, x, y, reach) {
  let best = -1, least = reach;
  for (let part = 0; part < layer.owner.length; part++) {
    const b = layer.boxes[layer.owner[part]];
    if (x < b[0] - reach || x > b[2] + reach || y < b[1] - reach || y > b[3] + reach) continue;
    for (let k = layer.starts[part]; k < layer.starts[part + 1] - 1; k++) {
      const ax = layer.points[2 * k] / 100, ay = layer.points[2 * k + 1] / 100;
      const bx = layer.points[2 * k + 2] / 100 - ax, by = layer.points[2 * k + 3] / 100 - ay;
      const t = Math.max(0, Math.min(1, ((x - ax) * bx + (y - ay) * by) / (bx * bx + by * by || 1)));
      const d = Math.hypot(ax + t * bx - x, ay + t * by - y);
      if (d < least) { least = d; best = layer.owner[part]; }
    }
  }
  return best;
}

function thingAt(x, y) {
  const metres = 1 / 2 ** map.getZoom();
  if (field.stakes.shown && 1 / metres >= field.stakes.from) {
    const { x: xs, y: ys } = field.stakes;
    for (let i = 0; i < xs.length; i++) if (Math.hypot(xs[i] / 100 - x, ys[i] / 100 - y) < 9 * metres) return { stake: i };
  }
  const plant = nearestPlant(x, y, 16 * metres);
  if (plant >= 0) return { plant };
  const rows = field.byKey.tree_rows;
  if (rows && rows.shown) {
    const feature = nearestLine(rows, x, y, 9 * metres);
    if (feature >= 0) return { layer: rows, feature };
  }
  for (const layer of [...field.layers].reverse()) {
    if (!layer.tapped || !layer.shown) continue;
    const feature = polygonAt(layer, x, y);
    if (feature >= 0) return { layer, feature };
  }
  return null;
}

// names as people type them: no blanks, no leading noughts
function bareName(name) { return name.toLowerCase().replace(/\s/g, "").replace(/(^|[^\d.])0+(?=\d)/g, "$1"); }

function search(text) {
  const wanted = text.trim().toLowerCase();
  if (!wanted) return null;
  const rows = field.byKey.tree_rows;
  const number = wanted.match(/^(?:r|row)?\s*0*(\d+)$/);
  if (number && rows) {
    const feature = rows.columns.row.indexOf(Number(number[1]));
    if (feature >= 0) return { layer: rows, feature };
  }
  const part = head.parts.find(({ name }) => name.toLowerCase() === wanted);
  if (part) return { part };
  for (const key of ["beds", "tree_beds"]) {
    const layer = field.byKey[key];
    const feature = layer ? layer.columns.bed.findIndex((bed) => bed.toLowerCase() === wanted) : -1;
    if (feature >= 0) return { layer, feature };
  }
  const stake = field.stakes.names.findIndex((name) => bareName(name) === bareName(wanted));
  if (stake >= 0) return { stake };
  const plant = wanted.match(/^[#p]\s*(\d+)$/);
  if (plant) {
    const at = field.plants.number.indexOf(Number(plant[1]));
    if (at >= 0) return { plant: at };
  }
  const crop = field.crops.findIndex((info) => info.name.toLowerCase().includes(wanted) || info.code.toLowerCase() === wanted);
  return crop >= 0 ? { crop } : null;
}

function boxOf(thing) {
  if (thing.plant !== undefined || thing.stake !== undefined) {
    const [x, y] = placeOf(thing);
    return [x - 8, y - 8, x + 8, y + 8];
  }
  return thing.part ? thing.part.box : thing.layer.boxes[thing.feature];
}
