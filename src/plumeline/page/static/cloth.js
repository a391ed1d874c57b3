// The cloth: fabrics, the puff between the lines, thread. Drawn once in tiles; moving only puts tiles in place.

const TILE = 512;
const MOST_TILES = 90;
const RUN = 96; // points drawn as one path: long paths are slow without a graphics card
const THREAD_MM = 0.45;

export class Cloth {
  constructor(canvas, camera) {
    this.canvas = canvas;
    this.context = canvas.getContext("2d");
    this.camera = camera;
    this.layers = { quilting: true, seams: true, fences: true };
    this.tiles = new Map();
    this.waiting = false;
    this.quilt = null;
    this.after = () => {};
  }

  show(quilt) {
    this.quilt = quilt;
    this.tiles.clear();
    this.draw();
    const photo = quilt && quilt.photo;
    if (!photo || photo.image) return;
    const image = new Image();
    image.onload = () => {
      photo.image = image;
      this.tiles.clear();
      this.draw();
    };
    image.src = photo.source;
  }

  set(layer, on) {
    this.layers[layer] = on;
    this.tiles.clear();
    this.draw();
  }

  draw() {
    if (this.waiting) return;
    this.waiting = true;
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
    if (!quilt) return;
    const wanted = camera.scale * ratio;
    const level = Math.ceil(Math.log2(wanted) * 2 - 0.001) / 2;
    const scale = 2 ** level;
    const side = TILE / scale;
    const [left, top] = camera.toQuilt(0, 0);
    const [right, bottom] = camera.toQuilt(width, height);
    const until = performance.now() + 24;
    let missing = false;
    for (let j = Math.max(0, Math.floor(top / side)); j * side < Math.min(bottom, quilt.size[1]); j += 1) {
      for (let i = Math.max(0, Math.floor(left / side)); i * side < Math.min(right, quilt.size[0]); i += 1) {
        const key = `${level}/${i}/${j}`;
        let tile = this.tiles.get(key);
        if (!tile && performance.now() < until) {
          tile = this.makeTile(scale, i, j, side);
          this.tiles.set(key, tile);
        } else if (tile) {
          this.tiles.delete(key);
          this.tiles.set(key, tile);
        }
        const [x, y] = camera.toScreen(i * side, j * side);
        const size = side * camera.scale * ratio;
        if (tile) context.drawImage(tile, x * ratio, y * ratio, size + 0.6, size + 0.6);
        else missing = true;
      }
    }
    while (this.tiles.size > MOST_TILES) this.tiles.delete(this.tiles.keys().next().value);
    if (missing) this.draw();
    this.after(context, ratio);
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

export function drawCloth(context, quilt, scale, box, layers) {
  context.lineJoin = "round";
  context.lineCap = "round";
  for (const patch of quilt.patches) {
    context.beginPath();
    traceRings(context, quilt, patch.rings);
    context.fillStyle = patch.colour;
    context.strokeStyle = patch.colour;
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
  if (layers.seams) {
    context.strokeStyle = "rgba(30, 20, 10, 0.34)";
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
  const near = quilt.pieces.map((_, k) => k).filter((k) => meets(quilt.boxes[k], box, 3));
  // the groove first, for all lines, so that no groove darkens a thread; then light on its lower right edge; then thread
  if (scale > 0.35) {
    const soft = Math.max(2.4, 2.2 / scale);
    strokes(context, quilt, near, scale, box, soft, () => "rgba(45, 30, 15, 0.12)", 0, 0);
    strokes(context, quilt, near, scale, box, soft / 2.2, () => "rgba(45, 30, 15, 0.16)", -0.25, -0.25);
    strokes(context, quilt, near, scale, box, soft / 3, () => "rgba(255, 255, 255, 0.30)", 0.75, 0.85);
  }
  strokes(context, quilt, near, scale, box, Math.max(THREAD_MM, 0.9 / scale), (piece) => quilt.colours[piece[4]], 0, 0);
}

function meets(a, b, margin) {
  return a[0] - margin < b[2] && a[2] + margin > b[0] && a[1] - margin < b[3] && a[3] + margin > b[1];
}

function strokes(context, quilt, near, scale, box, width, colour, dx, dy) {
  const step = scale < 0.25 ? 3 : scale < 0.6 ? 2 : 1;
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
      if (!runMeets(quilt.xy, at, n, box)) continue;
      context.beginPath();
      trace(context, quilt.xy, at, n, step);
      context.stroke();
    }
  }
  context.restore();
}

function runMeets(xy, at, n, box) {
  let [l, t, r, b] = [Infinity, Infinity, -Infinity, -Infinity];
  for (let i = at; i < at + n; i += 1) {
    const x = xy[2 * i];
    const y = xy[2 * i + 1];
    if (x < l) l = x;
    if (x > r) r = x;
    if (y < t) t = y;
    if (y > b) b = y;
  }
  return meets([l, t, r, b], box, 3);
}
