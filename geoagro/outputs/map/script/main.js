// Puts the page together. Text is only ever set as text, so that no name in the data can become markup.
let field = null, map = null, picture = null, chosen = null, noticeTimer = null;

function tell(text) {
  const notice = document.getElementById("notice");
  clearTimeout(noticeTimer);
  notice.textContent = text;
  notice.hidden = !text;
  if (text) noticeTimer = setTimeout(() => { notice.hidden = true; }, 6000);
}

function hideCard() { document.getElementById("card").hidden = true; }

function showCard(title, lines, buttons = []) {
  const card = document.getElementById("card");
  card.replaceChildren();
  const top = document.createElement("header"), name = document.createElement("h3"), close = document.createElement("button");
  name.textContent = title;
  close.type = "button";
  close.textContent = say.close;
  close.addEventListener("click", () => { chosen = null; hideCard(); picture.redraw(); });
  top.append(name, close);
  const list = document.createElement("dl");
  for (const [term, meaning] of lines) {
    const dt = document.createElement("dt"), dd = document.createElement("dd");
    dt.textContent = term;
    dd.textContent = meaning;
    list.append(dt, dd);
  }
  card.append(top, list);
  if (buttons.length) {
    const more = document.createElement("div");
    more.className = "more";
    for (const [words, act] of buttons) {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = words;
      button.addEventListener("click", act);
      more.append(button);
    }
    card.append(more);
  }
  card.hidden = false;
}

function show(thing) {
  if (thing && thing.crop !== undefined) { showCrop(thing.crop); return; }
  chosen = thing;
  if (!thing) { hideCard(); picture.redraw(); return; }
  if (thing.stake !== undefined) showStake(thing.stake);
  else if (thing.plant !== undefined) showPlant(thing.plant);
  else showFeature(thing.layer, thing.feature);
  picture.redraw();
}

function showPlant(k) {
  const { plants, crops, beds } = field, info = crops[plants.crop[k]];
  showCard(info.name, [
    [say.plant, `# ${plants.number[k]}`],
    [say.row, String(plants.row[k])],
    [say.bed, beds[plants.bed[k]]],
    [say.line, String(plants.line[k])],
    [say.station, `${oneDecimal.format(plants.station[k] / 100)} m`],
    [say.stratum, info.stratum || "–"],
    ...cautions([plants.crop[k]]),
    [say.coordinates, `${(plants.x[k] / 100 + head.origin[0]).toFixed(2)}  ${(plants.y[k] / 100 + head.origin[1]).toFixed(2)}`],
  ]);
}

function showStake(i) {
  const { names, row, x, y } = field.stakes;
  showCard(`${say.stake} ${names[i]}`, [
    [say.row, String(row[i])],
    [say.coordinates, `${(x[i] / 100 + head.origin[0]).toFixed(2)}  ${(y[i] / 100 + head.origin[1]).toFixed(2)}`],
  ]);
}

function showFeature(layer, feature) {
  const lines = layer.lines.map(({ column, words, unit, decimals }) => {
    const value = layer.columns[column][feature];
    if (value === null) return [words, "–"];
    const text = typeof value === "number" && decimals !== null
      ? new Intl.NumberFormat(head.locale, { minimumFractionDigits: decimals, maximumFractionDigits: decimals }).format(value) : String(value);
    return [words, unit ? `${text} ${unit}` : text];
  });
  const title = layer.name ? `${layer.feature_title} ${layer.columns[layer.name][feature]}` : layer.feature_title;
  showCard(title, lines.concat(standingIn(layer, feature)));
}

// plants by crop in the bed, or in the row's beds
function standingIn(layer, feature) {
  const by = layer.key === "tree_rows" ? "row" : layer.columns.bed ? "bed" : "";
  if (!by) return [];
  const wanted = by === "row" ? layer.columns.row[feature] : field.beds.indexOf(layer.columns.bed[feature]);
  const counts = new Map();
  for (let k = 0; k < field.plants.crop.length; k++) if (field.plants[by][k] === wanted) counts.set(field.plants.crop[k], (counts.get(field.plants.crop[k]) || 0) + 1);
  const standing = [...counts].sort((a, b) => a[0] - b[0]);
  return [...(ownPart ? [[say.part_counted.replace("{name}", head.part), ""]] : []), ...standing.map(([crop, count]) => [field.crops[crop].name, plain.format(count)]), ...cautions(standing.map(([crop]) => crop))];
}

// what can hurt people who touch or eat it, each said once
function cautions(crops) {
  return [...new Set(crops.map((crop) => field.crops[crop].caution).filter(Boolean))].map((text) => [say.caution, text]);
}

function showCrop(crop) {
  const info = field.crops[crop];
  chosen = null;
  if (isOverview) { showCard(info.name, cropLines(info, crop)); return; }
  for (const other of field.crops) other.shown = other === info;
  for (const box of document.querySelectorAll("#layers input")) {
    const other = field.crops.find((c) => c.code === box.dataset.key);
    if (other) box.checked = other.shown;
  }
  showCard(info.name, cropLines(info, crop), [
    [say.show_all, () => { for (const c of field.crops) c.shown = true; for (const box of document.querySelectorAll("#layers input")) box.checked = true; for (const l of field.layers) l.shown = true; hideCard(); picture.redraw(); }],
  ]);
  fit(head.box);
  picture.redraw();
}

// on a part's page: plants there and in the whole field
function cropLines(info, crop) {
  const counts = ownPart ? [[`${say.plants}, ${head.part}`, plain.format(info.count)], [`${say.plants}, ${say.in_field}`, plain.format(info.in_field)]] : [[say.plants, plain.format(info.count)]];
  return [...counts, [say.stratum, info.stratum || "–"], [say.share, `${oneDecimal.format(info.share)} m²`], ...cautions([crop])];
}

function fit(box) {
  const names = ownPart ? 24 : 0; // room for those of the parts beside it
  map.fitBounds([[box[1], box[0]], [box[3], box[2]]], { paddingTopLeft: [24 + names, document.getElementById("top").offsetHeight + 16 + names], paddingBottomRight: [window.innerWidth > 560 ? 120 : 24 + names, 60], maxZoom: 5 });
}

function tool(id, words, act, pressable = false) {
  const button = document.createElement("button");
  button.type = "button";
  button.id = id;
  button.textContent = words;
  if (pressable) button.setAttribute("aria-pressed", "false");
  button.addEventListener("click", () => act(button));
  document.getElementById("tools").append(button);
}

function makeTools() {
  if (isOverview) tool("parts-button", say.parts, toggleParts, true); else tool("book-button", say.book, toggleBook, true);
  tool("layers-button", say.layers, (button) => {
    const panel = document.getElementById("layers");
    panel.hidden = !panel.hidden;
    button.setAttribute("aria-pressed", !panel.hidden);
    if (head.parts.length && !panel.hidden && !document.getElementById("parts").hidden) { toggleParts(); panel.hidden = false; button.setAttribute("aria-pressed", "true"); }
  }, true);
  tool("measure", say.measure, toggleMeasure, true);
  tool("locate", say.locate, toggleLocate, true);
  tool("mode", say.mode_day, () => setMode(modes[(modes.indexOf(mode) + 1) % modes.length]));
  if (ownPart) tool("parts-button", say.parts, toggleParts, true); else tool("whole", say.whole, () => fit(head.box));
  const form = document.getElementById("search"), input = form.querySelector("input");
  const hint = isOverview ? say.search_hint_parts : say.search_hint;
  input.placeholder = hint;
  input.setAttribute("aria-label", hint);
  form.querySelector("button").textContent = say.search;
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const thing = search(input.value);
    if (!thing) { tell(isOverview ? say.search_nothing_parts : ownPart ? say.search_nothing_here.replace("{name}", head.part) : say.search_nothing); return; }
    input.blur();
    if (window.innerWidth < 900) document.getElementById("layers").hidden = true;
    document.getElementById("layers-button").setAttribute("aria-pressed", !document.getElementById("layers").hidden);
    if (thing.crop === undefined) fit(boxOf(thing));
    if (thing.part) showPart(thing.part); else show(thing);
  });
}

function makeHead() {
  document.querySelector("h1").textContent = head.title;
  const facts = document.getElementById("facts");
  head.facts.forEach(([value, words], k) => {
    const strong = document.createElement("b");
    strong.textContent = value;
    facts.append(k ? " · " : "", strong, " " + words);
  });
  const top = document.getElementById("top"), tools = document.getElementById("tools");
  const room = () => {
    const sizes = { "--below-top": top.offsetHeight + 8, "--tools-wide": tools.offsetWidth, "--tools-high": tools.offsetHeight };
    for (const [name, size] of Object.entries(sizes)) document.documentElement.style.setProperty(name, `${size}px`);
  };
  room();
  const watch = new ResizeObserver(room); // words of buttons change with the display, and with them their size
  watch.observe(top);
  watch.observe(tools);
}

function gather(arrays) {
  const layers = head.layers.map((layer) => {
    if (layer.kind === "relief") {
      const image = new Image();
      image.onload = () => picture && picture.redraw();
      image.src = layer.source;
      return { ...layer, image, shown: true };
    }
    const shapes = shapesOf(arrays, layer);
    shapes.first = [];
    for (let part = shapes.owner.length - 1; part >= 0; part--) shapes.first[shapes.owner[part]] = part;
    return shapes;
  });
  const plants = Object.fromEntries(["x", "y", "place", "number", "crop", "row", "bed", "line", "station"].map((name) => [name, arrays["plants." + name]]));
  const crops = head.crops.map((info) => ({ ...info, shown: true }));
  const cropOrder = crops.map((_, k) => k).sort((a, b) => crops[a].size - crops[b].size);
  const stakes = { names: head.stakes, shown: true, from: ROW_ZOOM_PX / head.row_spacing_m, key: "stakes", x: arrays["stakes.x"] || [], y: arrays["stakes.y"] || [], row: arrays["stakes.row"] || [] };
  return { layers, plants, crops, cropOrder, stakes, plots: head.plots, beds: head.beds, byKey: Object.fromEntries(layers.map((l) => [l.key, l])) };
}

async function start() {
  setMode(window.matchMedia && matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "day");
  makeHead();
  if (typeof DecompressionStream === "undefined") { tell(say.too_old); return; }
  field = gather(await unpack());
  openNotes();
  map = L.map("map", { crs: L.CRS.Simple, minZoom: -5, maxZoom: 8, zoomSnap: 0.25, zoomDelta: 0.5, wheelPxPerZoomLevel: 90, zoomControl: false, attributionControl: false });
  L.control.scale({ imperial: false, maxWidth: 140, position: "bottomright" }).addTo(map);
  makeTools();
  listenForSwipes();
  listLayers();
  if (head.parts.length) listParts();
  fit(head.box);
  picture = new Picture().addTo(map);
  map.on("click", ({ latlng }) => {
    if (measuring) { measured.push([latlng.lng, latlng.lat]); picture.redraw(); tellMeasure(); return; }
    if (tapOnParts(latlng.lng, latlng.lat)) return;
    const thing = thingAt(latlng.lng, latlng.lat);
    if (book.open && book.steps.length) { stepToThing(thing); return; }
    show(thing);
    if (thing && isOverview) offerOnCard(partAt(latlng.lng, latlng.lat, 0));
  });
  setMode(mode);
  if (location.hash === "#locate") toggleLocate(document.getElementById("locate"));
  document.documentElement.dataset.ready = "yes";
}

start().catch((error) => { tell(`${say.broken} ${error.message}`); throw error; });
