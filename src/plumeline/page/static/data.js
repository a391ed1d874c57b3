// A packed quilt: a head of names and figures, and one array of coordinates in millimetres.

export function unpack(buffer) {
  const length = new DataView(buffer).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  const xy = new Float32Array(buffer, 4 + length);
  return { ...head, xy, boxes: head.pieces.map((piece) => boxOf(xy, piece[0], piece[1])) };
}

// What a change has filled so far, laid over a quilt: the old lines of those spaces go, nothing else moves.
export function withFresh(quilt, buffer) {
  const length = new DataView(buffer).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  const added = new Float32Array(buffer, 4 + length);
  const xy = new Float32Array(quilt.xy.length + added.length);
  xy.set(quilt.xy);
  xy.set(added, quilt.xy.length);
  const places = head.labels.map((label) => quilt.zones.findIndex((zone) => zone.label === label));
  const gone = new Set(places);
  const kept = quilt.pieces.map((_, k) => k).filter((k) => !gone.has(quilt.pieces[k][2]));
  const fresh = head.pieces.filter(([, , place]) => places[place] >= 0)
    .map(([at, n, place, colour]) => [at + quilt.xy.length / 2, n, places[place], -1, quilt.colours.length + colour, 0]);
  return {
    ...quilt, xy, joined: false, colours: [...quilt.colours, ...head.colours],
    pieces: [...kept.map((k) => quilt.pieces[k]), ...fresh],
    boxes: [...kept.map((k) => quilt.boxes[k]), ...fresh.map(([at, n]) => boxOf(xy, at, n))],
    fresh: [...gone].filter((place) => place >= 0),
  };
}

export function boxOf(xy, at, count) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = at; i < at + count; i += 1) {
    const x = xy[2 * i];
    const y = xy[2 * i + 1];
    if (x < box[0]) box[0] = x;
    if (y < box[1]) box[1] = y;
    if (x > box[2]) box[2] = x;
    if (y > box[3]) box[3] = y;
  }
  return box;
}

export function boxOfRings(quilt, rings) {
  return rings.map(([at, n]) => boxOf(quilt.xy, at, n)).reduce((a, b) => [
    Math.min(a[0], b[0]), Math.min(a[1], b[1]), Math.max(a[2], b[2]), Math.max(a[3], b[3]),
  ]);
}

export function inside(quilt, rings, x, y) {
  let odd = false;
  for (const [at, n] of rings) {
    for (let i = at, j = at + n - 1; i < at + n; j = i, i += 1) {
      const [xi, yi, xj, yj] = [quilt.xy[2 * i], quilt.xy[2 * i + 1], quilt.xy[2 * j], quilt.xy[2 * j + 1]];
      if (yi > y !== yj > y && x < ((xj - xi) * (y - yi)) / (yj - yi) + xi) odd = !odd;
    }
  }
  return odd;
}

export function zoneAt(quilt, x, y) {
  let found = -1;
  quilt.zones.forEach((zone, i) => {
    // the smallest space under the finger: what lies over a larger one is meant
    if (inside(quilt, zone.rings, x, y) && (found < 0 || zone.area < quilt.zones[found].area)) found = i;
  });
  if (found < 0) return -1;
  const name = quilt.zones[found].name;
  const part = quilt.zones.findIndex((zone) => zone.name === name && inside(quilt, zone.inside, x, y));
  return part >= 0 ? part : found;
}

export function patchAt(quilt, x, y) {
  return quilt.patches.findIndex((patch) => inside(quilt, patch.rings, x, y));
}
