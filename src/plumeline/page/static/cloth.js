// The cloth: fabrics, the puff between the lines, thread. Drawn once in tiles; moving only puts tiles in place.

import { boxOf } from "./data.js";

const TILE = 512;
const SETTLE_MS = 140; // while one zooms, tiles that are there are stretched; new ones are drawn when it rests
const MOST_TILES = 90;
const BUDGET_MS = 9; // for drawing tiles in one frame; the rest come in the next
export const RUN = 96; // points drawn as one path: long paths are slow without a graphics card
const THREAD_MM = 0.45;
const KINDS = ["stitch", "seam-travel", "edge-travel", "step"];

export class Cloth {
  constructor(canvas, camera) {
    this.canvas = canvas;
    this.context = canvas.getContext("2d");
    this.camera = camera;
    this.layers = { quilting: true, seams: true, fences: true, travel: false };
    this.tiles = new Map();
    this.waiting = false;
    this.scale = 0;
    this.changed = 0;
    this.quilt = null;
    this.after = () => {};
  }

  show(quilt) {
    this.quilt = quilt;
    this.tiles.clear();
    this.draw();
    if (quilt) this.loadAll(quilt);
  }

  loadAll(quilt) {
    for (const picture of picturesOf(quilt)) this.load(picture);
  }

  // Other lines in these boxes alone: tiles elsewhere stay.
  showPart(quilt, boxes) {
    this.quilt = quilt;
    for (const key of this.tiles.keys()) {
      const [level, i, j] = key.split("/").map(Number);
      const side = TILE / 2 ** level;
      if (boxes.some((box) => meets(box, [i * side, j * side, (i + 1) * side, (j + 1) * side], 3))) this.tiles.delete(key);
    }
    this.draw();
  }

  load(picture) {
    if (!picture || picture.image) return;
    const image = new Image();
    image.onload = () => {
      picture.image = copyOf(image, image.naturalWidth, image.naturalHeight); // unpacked once, not for every tile
      this.tiles.clear();
      this.draw();
    };
    image.src = picture.source;
  }

  set(layer, on) {
    this.layers[layer] = on;
    this.tiles.clear();
    this.draw();
  }

  // `data-painted` says whether all that is to be seen is on the screen.
  draw() {
    if (this.waiting) return;
    this.waiting = true;
    this.canvas.dataset.painted = "no";
    requestAnimationFrame(() => {
      this.waiting = false;
      this.paint();
    });
  }

  paint() {
    const { canvas, camera, context, quilt } = this;
    const ratio = Math.min(2, window.devicePixelRatio || 1);
    const [width, height] = camera.window;
    if (canvas.width !== Math.round(width * ratio) || canvas.height !== Math.round(height * ratio)) {
      canvas.width = Math.round(width * ratio);
      canvas.height = Math.round(height * ratio);
    }
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.clearRect(0, 0, canvas.width, canvas.height);
    if (!quilt || (quilt.light && picturesOf(quilt).some((picture) => !picture.image))) return; // nothing is drawn twice: they are here in a moment
    const wanted = camera.scale * ratio;
    const level = Math.ceil(Math.log2(wanted) * 2 - 0.001) / 2;
    const scale = 2 ** level;
    const side = TILE / scale;
    const [left, top] = camera.toQuilt(0, 0);
    const [right, bottom] = camera.toQuilt(width, height);
    const until = performance.now() + BUDGET_MS;
    const places = [];
    for (let j = Math.max(0, Math.floor(top / side)); j * side < Math.min(bottom, quilt.size[1]); j += 1) {
      for (let i = Math.max(0, Math.floor(left / side)); i * side < Math.min(right, quilt.size[0]); i += 1) places.push([i, j]);
    }
    const put = (tile, i, j, wide) => {
      const [x, y] = camera.toScreen(i * wide, j * wide);
      const size = wide * camera.scale * ratio;
      context.drawImage(tile, x * ratio, y * ratio, size + 0.6, size + 0.6);
    };
    // where tiles of this size are not drawn yet, those of other sizes stand in: nothing is ever blank on the way
    if (places.some(([i, j]) => !this.tiles.has(`${level}/${i}/${j}`))) {
      const others = [...this.tiles].map(([key, tile]) => [tile, ...key.split("/").map(Number)]).filter((one) => one[1] !== level);
      others.sort((a, b) => Math.abs(b[1] - level) - Math.abs(a[1] - level));
      for (const [tile, size, i, j] of others) {
        const wide = TILE / 2 ** size;
        if (i * wide < right && (i + 1) * wide > left && j * wide < bottom && (j + 1) * wide > top) put(tile, i, j, wide);
      }
    }
    const now = performance.now();
    if (camera.scale !== this.scale) [this.scale, this.changed] = [camera.scale, now];
    const resting = !this.tiles.size || now - this.changed > SETTLE_MS;
    let missing = false;
    let made = 0;
    for (const [i, j] of places) {
      const key = `${level}/${i}/${j}`;
      let tile = this.tiles.get(key);
      if (!tile && resting && (!made || performance.now() < until)) {
        tile = this.makeTile(scale, i, j, side);
        this.tiles.set(key, tile);
        made += 1;
      } else if (tile) {
        this.tiles.delete(key);
        this.tiles.set(key, tile);
      }
      if (tile) put(tile, i, j, side);
      else missing = true;
    }
    while (this.tiles.size > MOST_TILES) this.tiles.delete(this.tiles.keys().next().value);
    if (missing) this.draw();
    else performance.mark("cloth drawn");
    this.after(context, ratio);
    if (!this.waiting) canvas.dataset.painted = "yes";
  }

  makeTile(scale, i, j, side) {
    const tile = document.createElement("canvas");
    tile.width = TILE;
    tile.height = TILE;
    const context = tile.getContext("2d");
    context.setTransform(scale, 0, 0, scale, -i * TILE, -j * TILE);
    drawCloth(context, this.quilt, scale, [i * side, j * side, (i + 1) * side, (j + 1) * side], this.layers);
    return tile;
  }
}

export function trace(context, xy, at, count, step = 1) {
  context.moveTo(xy[2 * at], xy[2 * at + 1]);
  for (let i = at + step; i < at + count - 1; i += step) context.lineTo(xy[2 * i], xy[2 * i + 1]);
  context.lineTo(xy[2 * (at + count - 1)], xy[2 * (at + count - 1) + 1]);
}

export function traceRings(context, quilt, rings) {
  for (const [at, n] of rings) {
    trace(context, quilt.xy, at, n);
    context.closePath();
  }
}

function picturesOf(quilt) {
  return [quilt.photo, quilt.light, ...quilt.prints].filter((picture) => picture);
}

// A printed fabric repeated at its true size, in as many pixels as are seen: more of them would flicker.
function printed(context, fabric, scale) {
  const [wide, high] = fabric.size.map((mm, k) => Math.max(1, Math.min([fabric.image.width, fabric.image.height][k], Math.round(mm * scale))));
  if (fabric.wide !== wide) {
    fabric.wide = wide;
    fabric.repeat = document.createElement("canvas");
    fabric.repeat.width = wide;
    fabric.repeat.height = high;
    const own = fabric.repeat.getContext("2d");
    own.imageSmoothingQuality = "high";
    own.drawImage(fabric.image, 0, 0, wide, high);
  }
  const pattern = context.createPattern(fabric.repeat, "repeat");
  pattern.setTransform(new DOMMatrix([fabric.size[0] / wide, 0, 0, fabric.size[1] / high, 0, 0]));
  return pattern;
}

export function drawCloth(context, quilt, scale, box, layers) {
  context.lineJoin = "round";
  context.lineCap = "round";
  const prints = quilt.prints.map((fabric) => (fabric.image ? printed(context, fabric, scale) : null));
  for (const patch of quilt.patches) {
    context.beginPath();
    traceRings(context, quilt, patch.rings);
    const look = prints[patch.print] || patch.colour;
    context.fillStyle = look;
    context.strokeStyle = look;
    context.lineWidth = 0.6 / scale;
    context.fill("evenodd");
    context.stroke();
  }
  if (quilt.photo && quilt.photo.image) {
    context.save();
    context.beginPath();
    for (const patch of quilt.patches) traceRings(context, quilt, patch.rings);
    context.clip("nonzero");
    context.drawImage(quilt.photo.image, 0, 0, ...quilt.photo.size);
    context.restore();
  }
  const light = quilt.light && quilt.light.image && layers.quilting;
  if (light) lay(context, quilt);
  if (layers.seams) {
    context.strokeStyle = "rgba(30, 20, 10, 0.28)";
    context.lineWidth = Math.max(0.5, 0.8 / scale);
    for (const [at, n] of quilt.seams) {
      context.beginPath();
      trace(context, quilt.xy, at, n);
      context.stroke();
    }
  }
  if (layers.fences) {
    context.strokeStyle = "rgba(40, 60, 140, 0.7)";
    context.setLineDash([1 / scale, 5 / scale]);
    context.lineWidth = 2 / scale;
    for (const [at, n] of quilt.fences) {
      context.beginPath();
      trace(context, quilt.xy, at, n);
      context.stroke();
    }
    context.setLineDash([]);
  }
  if (!layers.quilting) return;
  const near = quilt.pieces.map((_, k) => k).filter((k) => meets(quilt.boxes[k], box, 3) && seen(quilt.pieces[k], layers));
  // without a relief: the groove first, for all lines, so that no groove darkens a thread; then light on its lower right
  // edge; then thread
  if (!light && scale > 0.35) {
    const soft = Math.max(2.4, 2.2 / scale);
    strokes(context, quilt, near, scale, box, soft, () => "rgba(45, 30, 15, 0.12)", 0, 0);
    strokes(context, quilt, near, scale, box, soft / 2.2, () => "rgba(45, 30, 15, 0.16)", -0.25, -0.25);
    strokes(context, quilt, near, scale, box, soft / 3, () => "rgba(255, 255, 255, 0.30)", 0.75, 0.85);
  }
  const thread = light ? THREAD_MM * Math.min(1, 0.6 + 0.4 * scale) : THREAD_MM;
  const colour = (piece) => (layers.travel && piece[5] ? quilt.looks[KINDS[piece[5]]] : quilt.colours[piece[4]]);
  strokes(context, quilt, near, scale, box, Math.max(thread, (light ? 0.55 : 0.9) / scale), colour, 0, 0);
  if (layers.travel) {
    const travel = near.filter((k) => quilt.pieces[k][5]);
    strokes(context, quilt, travel, scale, box, Math.max(0.7, 1.8 / scale), colour, 0, 0);
  }
}

// thread in a ditch is not seen, unless travel is asked for
function seen(piece, layers) {
  return layers.travel || KINDS[piece[5]] !== "seam-travel";
}

// Lay the light of the relief over the fabrics: hollows go dark, what faces the light shines.
function lay(context, quilt) {
  context.save();
  context.beginPath();
  for (const patch of quilt.patches) traceRings(context, quilt, patch.rings);
  context.clip("nonzero");
  context.globalCompositeOperation = "hard-light";
  context.imageSmoothingQuality = "medium";
  context.drawImage(quilt.light.image, ...quilt.light.box);
  context.restore();
}

function meets(a, b, margin) {
  return a[0] - margin < b[2] && a[2] + margin > b[0] && a[1] - margin < b[3] && a[3] + margin > b[1];
}

export function copyOf(source, width = source.width, height = source.height) {
  const copy = document.createElement("canvas");
  copy.width = width;
  copy.height = height;
  copy.getContext("2d").drawImage(source, 0, 0);
  return copy;
}

function strokes(context, quilt, near, scale, box, width, colour, dx, dy) {
  const step = Math.min(4, Math.max(1, Math.floor(1.6 / scale))); // stitches that are nearer than a pixel or two are one
  context.save();
  context.lineCap = "butt"; // round ends of two runs would show as dots where half-clear strokes overlap
  context.translate(dx, dy);
  context.lineWidth = width;
  for (const k of near) {
    const piece = quilt.pieces[k];
    context.strokeStyle = colour(piece);
    const end = piece[0] + piece[1];
    for (let at = piece[0]; at < end - 1; at += RUN) {
      const n = Math.min(RUN + 1, end - at);
      if (!runMeets(quilt.xy, piece, (at - piece[0]) / RUN, box)) continue;
      context.beginPath();
      trace(context, quilt.xy, at, n, step);
      context.stroke();
    }
  }
  context.restore();
}

// boxes of runs are worked out once for each piece
const runBoxes = new WeakMap();

function runMeets(xy, piece, run, box) {
  let boxes = runBoxes.get(piece);
  if (!boxes) {
    boxes = [];
    for (let at = 0; at < piece[1] - 1; at += RUN) boxes.push(boxOf(xy, piece[0] + at, Math.min(RUN + 1, piece[1] - at)));
    runBoxes.set(piece, boxes);
  }
  return meets(boxes[run], box, 3);
}
