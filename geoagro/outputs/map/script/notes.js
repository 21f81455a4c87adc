// What was seen in the field: kept in the browser at once, row by row, and written out as CSV and GeoJSON.
const STATES = ["", "alive", "dead", "missing", "replaced", "not looked at"];
const SET = ["", "set", "not set"];
const STORE = "geoagro notes ";

const notes = { plants: new Map(), stakes: new Map(), state: null, indexOf: new Map(), keeps: true, earlier: [] };

function storeKey(kind, row) { return `${STORE}${head.name} ${head.notes_key} ${kind}${row}`; }

// all entries of this layout; those of an earlier layout of the field are left alone and can be written out
function openNotes() {
  const { plants } = field;
  notes.state = new Uint8Array(plants.number.length);
  try {
    const mine = `${STORE}${head.name} ${head.notes_key} `, field_ = `${STORE}${head.name} `;
    const others = head.parts.length ? `${field_}${head.notes_key.split("@")[0]}@` : null; // of this layout, on pages of other parts
    for (let i = 0; i < localStorage.length; i++) {
      const key = localStorage.key(i);
      if (key.startsWith(mine)) load(key.slice(mine.length)[0], JSON.parse(localStorage.getItem(key)));
      else if (key.startsWith(field_) && !(others && key.startsWith(others))) notes.earlier.push(key);
    }
    localStorage.setItem(`${STORE}probe`, "1");
    localStorage.removeItem(`${STORE}probe`);
  } catch (error) { notes.keeps = false; }
}

// built for the first note only: for half a million plants it takes more memory than all else
function placeOfNumber(number) {
  const numbers = field.plants.number;
  if (!notes.indexOf.size) for (let k = 0; k < numbers.length; k++) notes.indexOf.set(numbers[k], k);
  return notes.indexOf.get(number);
}

function load(kind, entries) {
  for (const [name, entry] of Object.entries(entries)) {
    if (kind === "s") { notes.stakes.set(name, entry); continue; }
    const k = placeOfNumber(Number(name));
    if (k === undefined) continue;
    notes.plants.set(k, entry);
    notes.state[k] = entry.s;
  }
}

// one small text per row, so that a tap never writes the whole field
function keep(kind, row) {
  const entries = {};
  if (kind === "p") {
    for (const k of plantsOfRow(row)) if (notes.plants.has(k)) entries[field.plants.number[k]] = notes.plants.get(k);
  } else for (const i of stakesOfRow(row)) if (notes.stakes.has(field.stakes.names[i])) entries[field.stakes.names[i]] = notes.stakes.get(field.stakes.names[i]);
  try {
    if (Object.keys(entries).length) localStorage.setItem(storeKey(kind, row), JSON.stringify(entries));
    else localStorage.removeItem(storeKey(kind, row));
  } catch (error) { notes.keeps = false; }
}

let rowsOfPlants = null;
function plantsOfRow(row) {
  if (!rowsOfPlants) {
    rowsOfPlants = new Map();
    for (let k = 0; k < field.plants.row.length; k++) {
      const mine = rowsOfPlants.get(field.plants.row[k]);
      if (mine) mine.push(k); else rowsOfPlants.set(field.plants.row[k], [k]);
    }
  }
  return rowsOfPlants.get(row) || [];
}
function stakesOfRow(row) {
  const found = [];
  for (let i = 0; i < field.stakes.names.length; i++) if (field.stakes.row[i] === row) found.push(i);
  return found;
}

function stamp(entry) {
  entry.t = Math.round(Date.now() / 1000);
  if (place) { entry.x = Math.round(place.x * 100) / 100; entry.y = Math.round(place.y * 100) / 100; entry.a = Math.round(place.accuracy * 10) / 10; }
  return entry;
}

function noteOf(thing) { return (thing.stake !== undefined ? notes.stakes.get(field.stakes.names[thing.stake]) : notes.plants.get(thing.plant)) || null; }

function setNote(thing, change) {
  const entry = stamp({ ...(noteOf(thing) || { s: 0 }), ...change });
  const nothing = !entry.s && !entry.p && !entry.n;
  if (thing.stake !== undefined) {
    const name = field.stakes.names[thing.stake];
    if (nothing) notes.stakes.delete(name); else notes.stakes.set(name, entry);
    keep("s", field.stakes.row[thing.stake]);
  } else {
    if (nothing) notes.plants.delete(thing.plant); else notes.plants.set(thing.plant, entry);
    notes.state[thing.plant] = entry.s;
    keep("p", field.plants.row[thing.plant]);
  }
  return notes.keeps;
}

const COLUMNS = ["name", "status", "crop", "row", "bed", "lon", "lat", "position", "accuracy_m", "date", "photo", "note"];

// where a position was measured it is written, else the place of the design, and which of the two it is
function record(name, words, entry, x, y, more) {
  const measured = entry.x !== undefined, [lon, lat] = toLonLat(measured ? entry.x : x, measured ? entry.y : y);
  return {
    name, status: words[entry.s] || "", ...more, lon: lon.toFixed(8), lat: lat.toFixed(8), position: measured ? "measured" : "design",
    accuracy_m: measured ? entry.a : "", date: new Date(entry.t * 1000).toISOString(), photo: entry.p || "", note: entry.n || "",
  };
}

function records(kind) {
  if (kind === "stakes") return field.stakes.names.flatMap((name, i) => (notes.stakes.has(name)
    ? [record(name, SET, notes.stakes.get(name), field.stakes.x[i] / 100, field.stakes.y[i] / 100, { crop: "", row: field.stakes.row[i], bed: "" })] : []));
  const { plants } = field;
  return [...notes.plants.keys()].sort((a, b) => plants.number[a] - plants.number[b]).map((k) => record(String(plants.number[k]), STATES, notes.plants.get(k),
    plants.x[k] / 100, plants.y[k] / 100, { crop: field.crops[plants.crop[k]].code, row: plants.row[k], bed: field.beds[plants.bed[k]] }));
}

// a text that a spreadsheet would take for a formula gets an apostrophe before it
function cell(value) {
  let text = String(value);
  if (/^[=+\-@\t\r]/.test(text) && Number.isNaN(Number(text))) text = `'${text}`;
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

function asCsv(lines) { return [COLUMNS.join(","), ...lines.map((line) => COLUMNS.map((name) => cell(line[name])).join(","))].join("\r\n") + "\r\n"; }

function asGeoJson(lines) {
  const features = lines.map(({ lon, lat, ...properties }) => ({ type: "Feature", geometry: { type: "Point", coordinates: [Number(lon), Number(lat)] }, properties }));
  return JSON.stringify({ type: "FeatureCollection", features });
}

function save(name, text, type) {
  const link = document.createElement("a"), url = URL.createObjectURL(new Blob([text], { type }));
  link.href = url;
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), 60_000);
}

function writeOut(kind, form) {
  const lines = records(kind);
  if (!lines.length) { tell(say.book_empty); return; }
  const name = `${kind}_${head.part ? `${head.part}_` : ""}${new Date().toISOString().slice(0, 10)}.${form}`;
  if (form === "csv") save(name, asCsv(lines), "text/csv"); else save(name, asGeoJson(lines), "application/geo+json");
  if (ownPart) tell(say.part_join);
}

// entries of an earlier layout: its numbers may mean other plants now, so they are only written out, without places
function writeEarlier() {
  const lines = ["name,status,date,photo,note"];
  for (const key of notes.earlier) {
    const words = key.slice(key.lastIndexOf(" ") + 1)[0] === "s" ? SET : STATES;
    for (const [name, entry] of Object.entries(JSON.parse(localStorage.getItem(key)))) lines.push([name, words[entry.s] || "", new Date(entry.t * 1000).toISOString(), entry.p || "", entry.n || ""].map(cell).join(","));
  }
  save("earlier_layout.csv", lines.join("\r\n") + "\r\n", "text/csv");
}
