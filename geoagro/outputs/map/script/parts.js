// A large field comes as a page of the whole and one for each part: frames and names on the map, and ways to the other pages.
const isOverview = head.parts.length > 0 && !head.part;
const ownPart = head.parts.find((part) => part.name === head.part) || null;
const nearParts = head.parts.filter((part) => head.near.includes(part.name));
let chips = [];

function distanceTo([west, south, east, north], x, y) { return Math.hypot(Math.max(west - x, 0, x - east), Math.max(south - y, 0, y - north)); }
function middleOf(box) { return [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2]; }

// the middle of what two parts share in east and in north; where they share nothing, the middle of the first
function middleOfEdge(box, own) {
  return [0, 1].map((k) => {
    const from = Math.max(box[k], own[k]), to = Math.min(box[k + 2], own[k + 2]);
    return from < to ? (from + to) / 2 : (box[k] + box[k + 2]) / 2;
  });
}

// the part at a place, or the nearest within `reach` metres
function partAt(x, y, reach) {
  let best = null, least = reach;
  for (const part of head.parts) {
    const off = distanceTo(part.box, x, y);
    if (off === 0) return part;
    if (off <= least) { least = off; best = part; }
  }
  return best;
}

// the next page goes on showing the position, if this one does
function pageOf(name) { return (name ? `${head.pages}${name}.html` : "../map.html") + (place === null ? "" : "#locate"); }
function goTo(name) { location.href = pageOf(name); }

function wayTo(name, words, more = "") {
  const way = made("a", words, "way");
  way.href = pageOf(name);
  way.dataset.part = name;
  if (more) way.append(made("small", more));
  way.addEventListener("click", () => { way.href = pageOf(name); });
  return way;
}

function arrowTo(part) {
  const [x, y] = middleOf(part.box), [ox, oy] = middleOf(ownPart.box), turn = Math.round((Math.atan2(x - ox, y - oy) / Math.PI) * 4);
  return ["↑", "↗", "→", "↘", "↓", "↙", "←", "↖"][(turn + 8) % 8];
}

function plantsIn(part) { return `${plain.format(part.plants)} ${say.plants_there}`; }

function listParts() {
  const panel = document.getElementById("parts");
  panel.append(made("h2", isOverview ? say.parts : `${say.part} ${head.part}`));
  if (isOverview) {
    panel.append(made("p", say.parts_hint));
    for (const part of head.parts) panel.append(wayTo(part.name, part.name, plantsIn(part)));
    return;
  }
  panel.append(made("button", say.part_whole, "", () => { fit(head.box); toggleParts(); }), wayTo("", say.part_field), made("h2", say.part_near));
  for (const part of nearParts) panel.append(wayTo(part.name, `${arrowTo(part)} ${part.name}`, plantsIn(part)));
}

function toggleParts() {
  const panel = document.getElementById("parts"), layers = document.getElementById("layers");
  panel.hidden = !panel.hidden;
  layers.hidden = true;
  document.getElementById("layers-button").setAttribute("aria-pressed", "false");
  document.getElementById("parts-button").setAttribute("aria-pressed", !panel.hidden);
}

function showPart(part) {
  chosen = null;
  showCard(`${say.part} ${part.name}`, [[say.plants, plain.format(part.plants)]]);
  offerOnCard(part);
}

function offerOnCard(part) {
  if (!part || part === ownPart) return;
  const more = made("div", "", "more");
  more.append(wayTo(part.name, say.part_open.replace("{name}", part.name)));
  document.getElementById("card").append(more);
}

// A tap that the parts answer: on a name it opens the page, outside this part or far out over the field it shows the part.
function tapOnParts(x, y) {
  if (!head.parts.length || measuring || (book.open && book.steps.length)) return false;
  const [px, py] = pageAt(x, y), chip = chips.find(({ box }) => px >= box[0] && px <= box[2] && py >= box[1] && py <= box[3]);
  if (chip) { goTo(chip.name); return true; }
  const part = partAt(x, y, 0), far = isOverview && 2 ** map.getZoom() < ROW_ZOOM_PX / head.row_spacing_m;
  if (!part || part === ownPart || !(far || ownPart)) return false;
  showPart(part);
  return true;
}

// Where one has walked: out of this part by more than the position can err, or into one while the whole field is shown.
const DOUBT_M = 15, BESIDE_M = 100;
let offered = null;
function followParts(x, y, accuracy) {
  if (!head.parts.length) return;
  const stays = ownPart && distanceTo(ownPart.box, x, y) <= Math.min(accuracy, DOUBT_M);
  const here = stays ? ownPart : partAt(x, y, BESIDE_M);
  offerPage(here && here !== ownPart ? here.name : null);
}

function offerPage(name) {
  if (name === offered) return;
  offered = name;
  const offer = document.getElementById("offer");
  offer.replaceChildren();
  offer.hidden = name === null;
  if (name === null) return;
  offer.append(made("span", (ownPart ? say.part_left : say.part_here).replace("{part}", ownPart ? head.part : name).replace("{name}", name)), wayTo(name, say.part_open.replace("{name}", name)));
}

function paintParts(pen, view, look) {
  if (!head.parts.length) return;
  onGround(pen, view);
  pen.strokeStyle = look.ink;
  pen.lineJoin = "miter";
  for (const part of isOverview ? head.parts : [...nearParts, ownPart]) {
    const [west, south, east, north] = part.box, own = part === ownPart;
    pen.lineWidth = ((own ? 2 : 1.2) * look.scale) / view.grow;
    pen.setLineDash(own || isOverview ? [] : [6 / view.grow, 5 / view.grow]);
    pen.strokeRect(west, south, east - west, north - south);
  }
  pen.setLineDash([]);
  onPage(pen, view);
  for (const chip of chips) paintChip(pen, look, chip);
}

// names stand in the middle of parts on the whole field, outside the nearest edge on a part's own page; those that find no
// room wait until the map is closer
const CHIP = { high: 34, beside: 26 };
function placeChips(pen, view) {
  chips = [];
  for (const part of isOverview ? head.parts : nearParts) placeChip(pen, view, part);
}

function placeChip(pen, view, part) {
  let [x, y] = toPage(view, ...(ownPart ? middleOfEdge(part.box, ownPart.box) : middleOf(part.box)));
  const text = isOverview ? part.name : `${arrowTo(part)} ${part.name}`;
  pen.font = lettering(700, 15);
  const half = pen.measureText(text).width / 2 + 9;
  if (ownPart) {
    const [left, bottom] = toPage(view, ownPart.box[0], ownPart.box[1]), [right, top] = toPage(view, ownPart.box[2], ownPart.box[3]);
    x = Math.min(Math.max(x, left - half - 6), right + half + 6);
    y = Math.min(Math.max(y, top - CHIP.beside), bottom + CHIP.beside);
  }
  const box = [x - half, y - CHIP.high / 2, x + half, y + CHIP.high / 2];
  if (box[2] < 0 || box[3] < 0 || box[0] > view.width || box[1] > view.height) return;
  if (isUnderChip(...box)) return;
  chips.push({ name: part.name, text, x, y, half, box });
}

function isUnderChip(left, top, right, bottom) {
  return chips.some(({ box }) => left < box[2] && box[0] < right && top < box[3] && box[1] < bottom);
}

function paintChip(pen, look, { text, x, y, half, box }) {
  pen.font = lettering(700, 15);
  pen.beginPath();
  pen.rect(box[0], box[1], 2 * half, CHIP.high);
  pen.fillStyle = look.panel;
  pen.fill();
  pen.lineWidth = 1.5 * look.scale;
  pen.strokeStyle = look.ink;
  pen.stroke();
  pen.fillStyle = look.ink;
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.fillText(text, x, y);
}
