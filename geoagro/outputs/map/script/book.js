// The notebook's screens: choose a row, plot or the stakes of a row, then step from one plant or stake to the next.
const book = { open: false, kind: "rows", crops: "trees", steps: [], at: 0, title: "" };

function made(tag, words, className, act) {
  const one = document.createElement(tag);
  if (words) one.textContent = words;
  if (className) one.className = className;
  if (act) { one.type = "button"; one.addEventListener("click", act); }
  return one;
}

function toggleBook(button) {
  book.open = !book.open;
  button.setAttribute("aria-pressed", book.open);
  document.getElementById("book").hidden = !book.open;
  document.documentElement.dataset.book = book.open ? "open" : "";
  document.getElementById("layers").hidden = document.getElementById("parts").hidden = true;
  for (const id of ["layers-button", "parts-button"]) document.getElementById(id)?.setAttribute("aria-pressed", "false");
  window.dispatchEvent(new Event("resize"));
  hideCard();
  if (book.open) chooseFrom(); else { chosen = null; picture.redraw(); }
}

// trees in tree beds, one crop, or everything
function isWanted(k) {
  const { plants } = field;
  if (book.crops === "all") return true;
  if (book.crops === "trees") return treeBeds().has(field.beds[plants.bed[k]]);
  return field.crops[plants.crop[k]].code === book.crops;
}
let treeBedNames = null;
function treeBeds() { return (treeBedNames ||= new Set(field.byKey.tree_beds ? field.byKey.tree_beds.columns.bed : [])); }

function stepsOf(kind, which) {
  if (kind === "stakes") return stakesOfRow(which).map((stake) => ({ stake }));
  const { plants } = field, inPlot = kind === "plots" ? field.plots[which] : null, out = [];
  if (inPlot) {
    const reach = inPlot.radius * 100, x = inPlot.x * 100, y = inPlot.y * 100;
    for (let k = 0; k < plants.x.length; k++) if (Math.hypot(plants.x[k] - x, plants.y[k] - y) <= reach && isWanted(k)) out.push(k);
  } else for (const k of plantsOfRow(which)) if (isWanted(k)) out.push(k);
  out.sort((a, b) => plants.row[a] - plants.row[b] || plants.bed[a] - plants.bed[b] || plants.line[a] - plants.line[b] || plants.station[a] - plants.station[b]);
  return out.map((plant) => ({ plant }));
}

function chooseFrom() {
  const panel = document.getElementById("book");
  book.steps = [];
  panel.replaceChildren();
  panel.dataset.screen = "choose";
  const tabs = made("div", "", "tabs");
  for (const [kind, words, there] of [["rows", say.book_rows, true], ["plots", say.book_plots, field.plots.length], ["stakes", say.book_stakes, field.stakes.names.length]]) {
    if (!there) continue;
    const tab = made("button", words, "", () => { book.kind = kind; chooseFrom(); });
    tab.setAttribute("aria-pressed", book.kind === kind);
    tab.dataset.kind = kind;
    tabs.append(tab);
  }
  panel.append(tabs);
  if (book.kind !== "stakes") panel.append(cropChoice());
  const list = made("div", "", "choices");
  for (const [which, words] of choices()) {
    const steps = stepsOf(book.kind, which);
    if (!steps.length) continue;
    const done = steps.filter((step) => noteOf(step)).length;
    const one = made("button", words, done === steps.length ? "done" : "", () => begin(which, words));
    one.append(made("small", `${plain.format(done)} / ${plain.format(steps.length)}`));
    one.dataset.which = which;
    list.append(one);
  }
  panel.append(list, exportLine());
  if (!notes.keeps) panel.append(made("p", say.book_keeps_nothing, "warn"));
}

function choices() {
  if (book.kind === "plots") return field.plots.map((plot, k) => [k, [plot.name, ...plot.on].join(" + ")]); // and parts that it reaches into
  const rows = [...new Set(book.kind === "stakes" ? field.stakes.row : field.plants.row)].sort((a, b) => a - b);
  return rows.map((row) => [row, `${say.row} ${row}`]);
}

function cropChoice() {
  const label = made("label", `${say.book_which} `, "which"), select = document.createElement("select");
  const options = [...(treeBeds().size ? [["trees", say.book_trees]] : []), ["all", say.book_all], ...field.crops.map((c) => [c.code, c.name])];
  if (!options.some(([value]) => value === book.crops)) book.crops = "all";
  for (const [value, words] of options) {
    const option = made("option", words);
    option.value = value;
    option.selected = value === book.crops;
    select.append(option);
  }
  select.addEventListener("change", () => { book.crops = select.value; chooseFrom(); });
  label.append(select);
  return label;
}

function exportLine() {
  const line = made("div", "", "export"), kind = book.kind === "stakes" ? "stakes" : "plants";
  for (const form of ["csv", "geojson"]) {
    const button = made("button", say.book_export.replace("{form}", form === "csv" ? "CSV" : "GeoJSON"), "", () => writeOut(kind, form));
    button.dataset.form = form;
    line.append(button);
  }
  if (notes.earlier.length) line.append(made("button", say.book_earlier, "", writeEarlier));
  return line;
}

function begin(which, words) {
  book.steps = stepsOf(book.kind, which);
  book.title = words;
  const first = book.steps.findIndex((step) => !noteOf(step));
  book.at = Math.max(first, 0);
  stepTo(book.at);
}

function stepTo(at) {
  if (at < 0 || at >= book.steps.length) { tell(at < 0 ? say.book_first : say.book_last); return; }
  book.at = at;
  const thing = book.steps[at], [x, y] = placeOf(thing);
  chosen = thing.stake === undefined ? { plant: thing.plant } : { stake: thing.stake };
  drawStep(thing);
  const zoom = Math.max(map.getZoom(), 4), panel = document.getElementById("book").offsetHeight;
  map.setView([y - (panel / 2 - document.getElementById("top").offsetHeight / 2) / 2 ** zoom, x], zoom, { animate: false });
  picture.redraw();
}

function placeOf(thing) {
  const from = thing.stake === undefined ? field.plants : field.stakes, k = thing.stake === undefined ? thing.plant : thing.stake;
  return [from.x[k] / 100, from.y[k] / 100];
}

function drawStep(thing) {
  const panel = document.getElementById("book"), entry = noteOf(thing) || { s: 0 }, stake = thing.stake !== undefined;
  panel.replaceChildren();
  panel.dataset.screen = "step";
  const top = made("header", ""), name = made("h3", stake ? field.stakes.names[thing.stake] : `${field.crops[field.plants.crop[thing.plant]].name} # ${field.plants.number[thing.plant]}`);
  name.append(made("small", stepWords(thing)));
  top.append(name, made("button", say.book_list, "", () => { chosen = null; chooseFrom(); picture.redraw(); }));
  const states = made("div", "", "states");
  (stake ? [say.book_set, say.book_not_set] : [say.book_alive, say.book_dead, say.book_missing, say.book_replaced, say.book_unseen]).forEach((words, k) => {
    const button = made("button", words, "", () => mark(thing, k + 1));
    button.setAttribute("aria-pressed", entry.s === k + 1);
    button.dataset.state = (stake ? SET : STATES)[k + 1];
    states.append(button);
  });
  const texts = made("div", "", "texts");
  texts.append(textLine("photo", say.book_photo, entry.p, (value) => setNote(thing, { p: value })), textLine("note", say.book_note, entry.n, (value) => setNote(thing, { n: value })));
  const ways = made("div", "", "ways");
  ways.append(made("button", `◀ ${say.book_back}`, "back", () => stepTo(book.at - 1)), made("button", `${say.book_next} ▶`, "next", () => stepTo(book.at + 1)));
  if (place) ways.append(made("button", say.book_nearest, "nearest", toNearest));
  panel.append(top, states, texts, ways);
  if (!notes.keeps) panel.append(made("p", say.book_keeps_nothing, "warn"));
}

function stepWords(thing) {
  const parts = [book.title, `${plain.format(book.at + 1)} / ${plain.format(book.steps.length)}`];
  if (thing.stake === undefined) parts.push(field.beds[field.plants.bed[thing.plant]], `${oneDecimal.format(field.plants.station[thing.plant] / 100)} m`);
  if (place) parts.push(`± ${plain.format(place.accuracy)} m`);
  return parts.join(" · ");
}

function textLine(id, words, value, change) {
  const input = document.createElement("input");
  input.type = "text";
  input.inputMode = id === "photo" ? "numeric" : "text";
  input.id = `book-${id}`;
  input.placeholder = words;
  input.setAttribute("aria-label", words);
  input.value = value || "";
  input.addEventListener("input", () => { if (!change(input.value.trim())) tell(say.book_keeps_nothing); });
  return input;
}

// a second tap on the same state takes it back; otherwise on to the next
function mark(thing, state) {
  const again = (noteOf(thing) || {}).s === state;
  setNote(thing, { s: again ? 0 : state });
  if (again) { drawStep(thing); picture.redraw(); return; }
  if (book.at + 1 < book.steps.length) stepTo(book.at + 1);
  else { drawStep(thing); picture.redraw(); tell(say.book_last); }
}

// a tap on the map goes to that plant or stake if it is among those being stepped through
function stepToThing(thing) {
  const at = thing ? book.steps.findIndex((step) => step.plant === thing.plant && step.stake === thing.stake) : -1;
  if (at >= 0) stepTo(at);
}

function toNearest() {
  let best = book.at, least = Infinity;
  book.steps.forEach((step, k) => { const [x, y] = placeOf(step), d = Math.hypot(x - place.x, y - place.y); if (d < least) { least = d; best = k; } });
  stepTo(best);
}

function listenForSwipes() {
  const panel = document.getElementById("book");
  let from = null;
  panel.addEventListener("touchstart", ({ touches }) => { from = touches.length === 1 ? [touches[0].clientX, touches[0].clientY] : null; }, { passive: true });
  panel.addEventListener("touchend", ({ changedTouches }) => {
    if (!from || panel.dataset.screen !== "step") return;
    const dx = changedTouches[0].clientX - from[0], dy = changedTouches[0].clientY - from[1];
    from = null;
    if (Math.abs(dx) > 50 && Math.abs(dx) > 1.5 * Math.abs(dy)) stepTo(book.at + (dx < 0 ? 1 : -1));
  }, { passive: true });
}

// states beside colour also by shape: disc, cross, hollow square, diamond, dot
const STATE_INKS = ["", "#1f6f5c", "#000000", "#b3261e", "#1d4f91", "#6b7280"];
function paintNotes(pen, view) {
  if (!notes.state || (!notes.plants.size && !book.open)) return;
  onPage(pen, view);
  const size = Math.max(3, Math.min(9, 0.6 * view.grow)), { x, y } = field.plants;
  for (const [k, { s }] of notes.plants) {
    const px = (x[k] / 100) * view.grow + view.left, py = (-y[k] / 100) * view.grow + view.top;
    if (!s || px < -20 || py < -20 || px > view.width + 20 || py > view.height + 20) continue;
    paintMark(pen, ["", "circle", "cross", "square", "diamond", "circle"][s], px, py, size * (s === 5 ? 0.6 : 1), STATE_INKS[s], s !== 3);
  }
}
function paintMark(pen, kind, px, py, size, ink, filled) {
  pen.beginPath();
  shape(pen, kind, px, py, size);
  pen.fillStyle = filled ? ink : "#ffffff";
  pen.fill();
  pen.lineWidth = 2;
  pen.strokeStyle = filled ? "#ffffff" : ink;
  pen.stroke();
}

// stakes are drawn from where a row can be followed by itself; over the whole field their marks would hide it
const ROW_ZOOM_PX = 22;
// names stand beside their stakes, the nearest free corner first; one that would run into another or a row's number waits
// until the map is closer
const NAME_CORNERS = [[8, -8], [-8, -8], [8, 8], [-8, 8]];
function paintStakes(pen, view, look, numbers) {
  const { names, x, y } = field.stakes, named = view.grow >= Math.max(6, field.stakes.from), size = mode === "sun" ? 15 : 12;
  field.stakes.marks = 0;
  if (!names.length || !field.stakes.shown || view.grow < field.stakes.from) return;
  onPage(pen, view);
  pen.font = lettering(600, size);
  pen.textAlign = "start";
  pen.textBaseline = "middle";
  const taken = numbers.map(({ px, py, half, high }) => [px - half, py - high, px + half, py + high]), wanted = [];
  for (let i = 0; i < names.length; i++) {
    const [px, py] = toPage(view, x[i] / 100, y[i] / 100);
    if (px < -80 || py < -20 || px > view.width + 20 || py > view.height + 20) continue;
    const set = (notes.stakes.get(names[i]) || {}).s === 1;
    paintMark(pen, "square", px, py, 4, look.ink, set);
    field.stakes.marks++;
    if (named) wanted.push([names[i], px, py]);
  }
  let drawn = 0;
  for (const [name, px, py] of wanted) {
    const wide = pen.measureText(name).width, high = 0.6 * size;
    const boxes = NAME_CORNERS.map(([dx, dy]) => [dx > 0 ? px + dx : px + dx - wide, py + dy - high, dx > 0 ? px + dx + wide : px + dx, py + dy + high]);
    const free = boxes.find((box) => !taken.some((other) => box[0] < other[2] && other[0] < box[2] && box[1] < other[3] && other[1] < box[3]));
    if (!free) continue;
    taken.push(free);
    writeWithHalo(pen, look, name, free[0], (free[1] + free[3]) / 2);
    drawn++;
  }
  field.stakes.named = { drawn, wanted: wanted.length, boxes: taken };
}
