// The stitching played along the real needle points: time runs by stitches, line after line.

import { trace } from "./cloth.js";

export class Player {
  constructor(quilt, cloth, said) {
    this.cloth = cloth;
    this.said = said;
    this.playing = false;
    this.speed = 60; // stitches a second
    this.at = 0;
    this.load(quilt);
  }

  load(quilt) {
    this.quilt = quilt;
    this.order = quilt.pieces.map((_, k) => k).sort((a, b) => quilt.pieces[a][3] - quilt.pieces[b][3] || a - b);
    this.starts = [0];
    for (const k of this.order) this.starts.push(this.starts[this.starts.length - 1] + quilt.pieces[k][1] - 1);
    this.total = this.starts[this.starts.length - 1];
    this.lines = [];
    this.order.forEach((k, i) => {
      const line = quilt.pieces[k][3];
      if (!this.lines.length || this.lines[this.lines.length - 1].line !== line) this.lines.push({ line, at: this.starts[i] });
    });
    this.at = Math.min(this.at, this.total);
  }

  place() {
    // the piece that the needle is in: the last one that begins at or before now
    let [low, high] = [0, this.order.length - 1];
    while (low < high) {
      const mid = (low + high + 1) >> 1;
      if (this.starts[mid] <= this.at) low = mid;
      else high = mid - 1;
    }
    return low;
  }

  needle() {
    const i = this.place();
    const piece = this.quilt.pieces[this.order[i]];
    const n = piece[0] + Math.min(piece[1] - 1, Math.floor(this.at - this.starts[i]));
    return [this.quilt.xy[2 * n], this.quilt.xy[2 * n + 1]];
  }

  lineNow() {
    let found = 0;
    this.lines.forEach((line, i) => {
      if (line.at <= this.at) found = i;
    });
    return found;
  }

  words() {
    if (!this.total) return "Nothing to play.";
    const i = this.place();
    const zone = this.quilt.zones[this.quilt.pieces[this.order[i]][2]];
    const where = zone ? zone.label : "on the way";
    return `Line ${this.lineNow() + 1} of ${this.lines.length}, stitch ${Math.floor(this.at).toLocaleString()} of ${this.total.toLocaleString()}, ${where}`;
  }

  play() {
    if (this.playing || !this.total) return;
    if (this.at >= this.total) this.at = 0;
    this.playing = true;
    let before = performance.now();
    const step = (now) => {
      if (!this.playing) return;
      const line = this.lineNow();
      this.at = Math.min(this.total, this.at + (this.speed * (now - before)) / 1000);
      before = now;
      if (this.at >= this.total) this.playing = false;
      this.tell(this.lineNow() !== line || !this.playing);
      requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
  }

  pause() {
    this.playing = false;
    this.tell(true);
  }

  seek(at) {
    this.at = Math.min(this.total, Math.max(0, at));
    this.tell(!this.playing);
  }

  step(lines) {
    const to = Math.min(this.lines.length - 1, Math.max(0, this.lineNow() + lines));
    if (this.lines.length) this.seek(this.lines[to].at);
  }

  tell(aloud) {
    this.cloth.draw();
    this.said(this.words(), aloud);
  }

  draw(context, ratio, camera) {
    // the rest is faint under a veil; what is sewn so far is thread again
    const { quilt } = this;
    const scale = camera.scale * ratio;
    const [ox, oy] = camera.toScreen(0, 0);
    context.save();
    context.fillStyle = "rgba(250, 247, 240, 0.62)";
    context.fillRect(0, 0, context.canvas.width, context.canvas.height);
    context.setTransform(scale, 0, 0, scale, ox * ratio, oy * ratio);
    context.lineWidth = Math.max(0.5, 1.3 / scale);
    context.lineJoin = "round";
    const last = this.place();
    const step = scale < 0.5 ? 3 : 1;
    for (let i = 0; i <= last; i += 1) {
      const piece = quilt.pieces[this.order[i]];
      const sewn = i < last ? piece[1] : 1 + Math.floor(this.at - this.starts[i]);
      context.strokeStyle = quilt.colours[piece[4]];
      for (let at = 0; at < sewn - 1; at += 96) {
        context.beginPath();
        trace(context, quilt.xy, piece[0] + at, Math.min(97, sewn - at), step);
        context.stroke();
      }
    }
    context.restore();
    const [x, y] = camera.toScreen(...this.needle());
    context.beginPath();
    context.arc(x * ratio, y * ratio, 6 * ratio, 0, 2 * Math.PI);
    context.fillStyle = "#b3261e";
    context.fill();
    context.lineWidth = 2 * ratio;
    context.strokeStyle = "#fff";
    context.stroke();
  }
}
