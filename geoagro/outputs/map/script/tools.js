// Measuring by tape on the map, own position, modes and the list of layers.
const measured = [];
let measuring = false;

function paintMeasure(pen, view, look) {
  if (!measured.length) return;
  onPage(pen, view);
  const spots = measured.map(([x, y]) => toPage(view, x, y));
  pen.strokeStyle = look.mark;
  pen.lineWidth = 3;
  pen.setLineDash([9, 6]);
  pen.beginPath();
  spots.forEach(([x, y], k) => (k ? pen.lineTo(x, y) : pen.moveTo(x, y)));
  pen.stroke();
  pen.setLineDash([]);
  pen.fillStyle = look.mark;
  for (const [x, y] of spots) { pen.beginPath(); pen.arc(x, y, 5, 0, 2 * Math.PI); pen.fill(); }
}

function measuredLength() {
  let sum = 0;
  for (let k = 1; k < measured.length; k++) sum += Math.hypot(measured[k][0] - measured[k - 1][0], measured[k][1] - measured[k - 1][1]);
  return sum;
}

function tellMeasure() {
  if (measured.length < 2) { tell(measured.length ? say.measure_next : say.measure_start); return; }
  tell("");
  const [a, b] = measured.slice(-2);
  const leg = oneDecimal.format(Math.hypot(b[0] - a[0], b[1] - a[1])), total = oneDecimal.format(measuredLength());
  showCard(say.measure, [[say.measure_leg, `${leg} m`], [say.measure_total, `${total} m`], [say.measure_kind, say.measure_horizontal]], [
    [say.measure_undo, () => { measured.pop(); picture.redraw(); tellMeasure(); }],
    [say.measure_clear, () => { measured.length = 0; picture.redraw(); hideCard(); }],
  ]);
}

function toggleMeasure(button) {
  measuring = !measuring;
  measured.length = 0;
  button.setAttribute("aria-pressed", measuring);
  map.getContainer().style.cursor = measuring ? "crosshair" : "";
  hideCard();
  picture.redraw();
  if (measuring) tellMeasure(); else tell("");
}

// longitude and latitude to metres on the map: a polynomial fitted to the projection over the field and 5 km around
let place = null, watch = null;

function fromLonLat(lon, lat) {
  const { lon0, lat0, x, y } = head.position;
  return cubics(lon - lon0, lat - lat0, x, y);
}

function toLonLat(x, y) {
  const { lon0, lat0, x0, y0, unit, lon, lat } = head.position, [u, v] = cubics((x - x0) / unit, (y - y0) / unit, lon, lat);
  return [lon0 + u, lat0 + v];
}

function cubics(u, v, first, second) {
  const terms = [1, u, v, u * u, u * v, v * v, u * u * u, u * u * v, u * v * v, v * v * v];
  return [terms.reduce((sum, t, k) => sum + t * first[k], 0), terms.reduce((sum, t, k) => sum + t * second[k], 0)];
}

function toggleLocate(button) {
  if (watch !== null) {
    navigator.geolocation.clearWatch(watch);
    watch = place = null;
    offerPage(null);
    button.setAttribute("aria-pressed", false);
    picture.redraw();
    return;
  }
  if (!navigator.geolocation) { tell(say.locate_none); return; }
  let first = true;
  button.setAttribute("aria-pressed", true);
  watch = navigator.geolocation.watchPosition(
    ({ coords }) => {
      const [x, y] = fromLonLat(coords.longitude, coords.latitude);
      place = { x, y, accuracy: coords.accuracy };
      const off = Math.hypot(x - (head.box[0] + head.box[2]) / 2, y - (head.box[1] + head.box[3]) / 2);
      if (first) {
        first = false;
        if (off > 3000 && !partAt(x, y, BESIDE_M)) tell(say.locate_far.replace("{km}", plain.format(off / 1000)));
        else if (!book.open) { map.setView([y, x], Math.max(map.getZoom(), 3)); tell(say.locate_accuracy.replace("{m}", plain.format(coords.accuracy))); }
      }
      followParts(x, y, coords.accuracy);
      picture.redraw();
    },
    () => { tell(say.locate_denied); watch = null; button.setAttribute("aria-pressed", false); },
    { enableHighAccuracy: true, maximumAge: 2000, timeout: 20000 },
  );
}

function paintPlace(pen, view, look) {
  if (!place) return;
  onPage(pen, view);
  const [x, y] = toPage(view, place.x, place.y);
  pen.beginPath();
  pen.arc(x, y, Math.max(place.accuracy * view.grow, 10), 0, 2 * Math.PI);
  pen.fillStyle = "rgba(29,105,150,.18)";
  pen.strokeStyle = "#724ba4";
  pen.lineWidth = 1.5 * look.scale;
  pen.fill();
  pen.stroke();
  pen.beginPath();
  pen.arc(x, y, 7, 0, 2 * Math.PI);
  pen.fillStyle = "#724ba4";
  pen.strokeStyle = "#ffffff";
  pen.lineWidth = 3;
  pen.fill();
  pen.stroke();
}

const modes = ["day", "dark", "sun"];
function setMode(next) {
  mode = next;
  document.documentElement.dataset.mode = next;
  const button = document.getElementById("mode");
  if (button) button.textContent = say["mode_" + next];
  for (const paintSwatch of swatches) paintSwatch();
  if (picture) picture.redraw();
}

const swatches = [];
function swatch(draw) {
  const canvas = document.createElement("canvas");
  canvas.width = 52;
  canvas.height = 36;
  const paintSwatch = () => {
    const pen = canvas.getContext("2d");
    pen.setTransform(2, 0, 0, 2, 0, 0);
    pen.clearRect(0, 0, 26, 18);
    draw(pen);
  };
  swatches.push(paintSwatch);
  paintSwatch();
  return canvas;
}

// without a thing to show or hide it is a line of the legend only
function layerLine(canvas, words, count, thing) {
  const label = document.createElement("label"), name = document.createElement("span");
  name.textContent = words;
  if (thing) label.append(showBox(thing));
  label.append(canvas, name);
  if (count !== null) {
    const number = document.createElement("em");
    number.textContent = plain.format(count);
    label.append(number);
  }
  return label;
}

function showBox(thing) {
  const box = document.createElement("input");
  box.type = "checkbox";
  box.checked = thing.shown;
  box.dataset.key = thing.key || thing.code;
  box.addEventListener("change", () => { thing.shown = box.checked; picture.redraw(); });
  return box;
}

function listLayers() {
  const panel = document.getElementById("layers"), title = document.createElement("h2"), plants = document.createElement("h2");
  title.textContent = say.layers_ground;
  plants.textContent = say.layers_plants;
  panel.append(plants);
  if (isOverview) panel.append(made("p", say.parts_hint));
  for (const info of field.crops) {
    const mark = swatch((pen) => { pen.beginPath(); shape(pen, info.shape, 13, 9, 7); pen.fillStyle = info.paint; pen.fill(); pen.lineWidth = 1; pen.strokeStyle = mode === "dark" ? "#eef2f3" : "#20262b"; pen.stroke(); });
    panel.append(layerLine(mark, info.name, info.count, isOverview ? null : info));
  }
  panel.append(title);
  if (field.stakes.names.length) panel.append(layerLine(swatch((pen) => { pen.strokeStyle = mode === "dark" ? "#eef2f3" : "#20262b"; pen.lineWidth = 2; pen.strokeRect(9, 5, 8, 8); }), say.stakes, field.stakes.names.length, field.stakes));
  for (const layer of [...field.layers].reverse()) {
    const mark = swatch((pen) => {
      if (layer.kind === "relief") { const g = pen.createLinearGradient(0, 0, 26, 18); g.addColorStop(0, "#fff"); g.addColorStop(1, "#777"); pen.fillStyle = g; pen.fillRect(1, 1, 24, 16); return; }
      if (layer.filled && layer.paint[mode]) { pen.fillStyle = layer.paint[mode]; pen.fillRect(1, 1, 24, 16); }
      if (layer.sign) { pen.fillStyle = letterInk(layer.paint[mode], looks[mode].ink); pen.font = lettering(700, SIGN.size); pen.textAlign = "center"; pen.textBaseline = "middle"; pen.fillText(layer.sign, 13, 9.5); }
      pen.strokeStyle = layer.ink[mode] || "transparent";
      pen.lineWidth = Math.max(layer.width, 1);
      if (layer.filled) pen.strokeRect(1, 1, 24, 16);
      else { pen.beginPath(); pen.moveTo(1, 13); pen.bezierCurveTo(9, 2, 17, 16, 25, 5); pen.stroke(); }
    });
    panel.append(layerLine(mark, layer.title, null, layer));
  }
}
