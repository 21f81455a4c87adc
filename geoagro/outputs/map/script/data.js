// Unpacks the numbers: deflated, base64, each array as differences where it says so.
const head = JSON.parse(document.getElementById("data").textContent);
const say = head.words;
const plain = new Intl.NumberFormat(head.locale, { maximumFractionDigits: 0 });
const oneDecimal = new Intl.NumberFormat(head.locale, { minimumFractionDigits: 1, maximumFractionDigits: 1 });

const kinds = { i4: Int32Array, u2: Uint16Array, u1: Uint8Array };

async function unpack() {
  const packed = Uint8Array.from(atob(head.pack), (c) => c.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
  const buffer = await new Response(stream).arrayBuffer();
  const arrays = {};
  let at = 0;
  for (const { name, kind, length, delta } of head.arrays) {
    const array = new kinds[kind](buffer.slice(at, at + length * kinds[kind].BYTES_PER_ELEMENT));
    at += array.byteLength;
    if (delta) for (let k = delta; k < array.length; k++) array[k] += array[k - delta];
    arrays[name] = array;
  }
  return arrays;
}

// A layer of lines or polygons: parts (rings) with the feature that each belongs to, and boxes to find them by.
function shapesOf(arrays, layer) {
  const points = arrays[layer.key + ".points"], counts = arrays[layer.key + ".counts"], owner = arrays[layer.key + ".owner"];
  const path = new Path2D(), starts = new Int32Array(counts.length + 1);
  const boxes = Array.from({ length: layer.count }, () => [Infinity, Infinity, -Infinity, -Infinity]);
  for (let part = 0, at = 0; part < counts.length; part++) {
    starts[part] = at;
    const box = boxes[owner[part]];
    for (let k = at; k < at + counts[part]; k++) {
      const x = points[2 * k] / 100, y = points[2 * k + 1] / 100;
      if (k === at) path.moveTo(x, y); else path.lineTo(x, y);
      if (x < box[0]) box[0] = x;
      if (y < box[1]) box[1] = y;
      if (x > box[2]) box[2] = x;
      if (y > box[3]) box[3] = y;
    }
    if (layer.filled) path.closePath();
    at += counts[part];
    starts[part + 1] = at;
  }
  return { ...layer, points, starts, owner, path, boxes, coarse: coarseOf(arrays, layer), shown: layer.shown !== false };
}

// the same outlines thinned, for drawing far out
function coarseOf(arrays, layer) {
  const points = arrays[layer.key + ".coarse.points"], counts = arrays[layer.key + ".coarse.counts"];
  if (!points) return null;
  const path = new Path2D();
  let at = 0;
  for (const count of counts) {
    for (let k = at; k < at + count; k++) {
      const x = points[2 * k] / 100, y = points[2 * k + 1] / 100;
      if (k === at) path.moveTo(x, y); else path.lineTo(x, y);
    }
    if (layer.filled) path.closePath();
    at += count;
  }
  return path;
}

function partsOf(shapes, feature) {
  const parts = [];
  for (let part = 0; part < shapes.owner.length; part++) if (shapes.owner[part] === feature) parts.push(part);
  return parts;
}
