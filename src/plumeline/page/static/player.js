// The stitching played along the real needle points, line after line. Time runs by needle points: one unit from each to
// the next; from a line's last to the next line's first, one unit too, with the needle up.

import { RUN, copyOf, trace } from "./cloth.js";
import { shortly } from "./tapes.js";

const SEW_MS = 9; // for drawing thread in one frame; what is left over is drawn in the next
const KEPT = 8; // pictures kept on the way, to go back to
const HOLD_MS = 900; // at a move or a stop, so that it is seen

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
    this.order = quilt.pieces.map((_, k) => k).filter((k) => quilt.pieces[k][3] >= 0).sort((a, b) => quilt.pieces[a][3] - quilt.pieces[b][3] || a - b);
    this.starts = [];
    this.lines = [];
    let time = 0;
    for (const k of this.order) {
      const [at, count, , number] = quilt.pieces[k];
      let line = this.lines[this.lines.length - 1];
      if (!line || line.number !== number) {
        if (line) time += 1;
        const name = quilt.numbers ? quilt.numbers[number] : String(number + 1);
        line = { number, name, at: time, end: time, first: at, last: at, stops: [] };
        this.lines.push(line);
      }
      this.starts.push(time);
      time += count - 1;
      line.end = time;
      line.last = at + count - 1;
    }
    this.total = time;
    for (const [number, steps, what] of quilt.events || []) {
      const line = this.lines.find((one) => one.number === number);
      if (line) line.stops.push({ at: line.at + steps, what });
    }
    this.at = Math.min(this.at, this.total);
    this.sheet = null;
  }

  // the last of ascending times that is now or before
  static last(times, at) {
    let [low, high] = [0, times.length - 1];
    while (low < high) {
      const mid = (low + high + 1) >> 1;
      if (times[mid] <= at) low = mid;
      else high = mid - 1;
    }
    return low;
  }

  place() {
    return Player.last(this.starts, this.at);
  }

  lineNow() {
    return Player.last(this.lines.map((line) => line.at), this.at);
  }

  point(n) {
    return [this.quilt.xy[2 * n], this.quilt.xy[2 * n + 1]];
  }

  moving() {
    return this.at > this.lines[this.lineNow()].end;
  }

  needle() {
    const line = this.lines[this.lineNow()];
    if (this.at > line.end) {
      const [a, b] = [this.point(line.last), this.point(this.lines[this.lineNow() + 1].first)];
      const part = this.at - line.end;
      return [a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1])];
    }
    const i = this.place();
    const piece = this.quilt.pieces[this.order[i]];
    return this.point(piece[0] + Math.min(piece[1] - 1, Math.floor(this.at - this.starts[i] + 1e-6)));
  }

  words() {
    if (!this.total) return "Nothing to play.";
    const now = this.lineNow();
    const line = this.lines[now];
    const head = `Line ${line.name}${this.lines.length > 1 ? ` (${now + 1} of ${this.lines.length})` : ""}`;
    const before = this.lines[now - 1];
    const stitch = Math.floor(this.at - line.at + 1e-6);
    if (this.at > line.end || this.at >= this.total) return `${head} ends here.${this.stopWords(line, line.end)}`;
    if (stitch < 1) {
      const away = before ? Math.hypot(...[0, 1].map((k) => this.point(line.first)[k] - this.point(before.last)[k])) : 0;
      const how = away > 0.05 ? ` starts ${this.length(away)} from where the line before stopped: a move, not stitched.` : before ? " goes on from the same place." : " starts here.";
      return `${head}${how}${this.stopWords(line, line.at)}`;
    }
    const zone = this.quilt.zones[this.quilt.pieces[this.order[this.place()]][2]];
    return `${head}, stitch ${stitch.toLocaleString()} of ${(line.end - line.at).toLocaleString()}, ${zone ? zone.label : "on the way"}`;
  }

  stopWords(line, at) {
    return [...new Set(line.stops.filter((stop) => stop.at === at).map((stop) => stop.what))].map((what) => ` ${what}`).join("");
  }

  length(mm) {
    return shortly(mm, this.quilt.unit);
  }

  where() {
    const [x, y] = this.needle();
    return `The needle is ${this.length(x)} from the left and ${this.length(y)} from the top.`;
  }

  play() {
    if (this.playing || !this.total) return;
    if (this.at >= this.total) this.at = 0;
    this.playing = true;
    const calm = window.matchMedia("(prefers-reduced-motion: reduce)").matches;
    let before = performance.now();
    let held = 0;
    const step = (now) => {
      if (!this.playing) return;
      const line = this.lineNow();
      if (now >= held) {
        const to = Math.min(this.total, this.at + (this.speed * (now - before)) / 1000);
        const next = this.lines[line + 1];
        if (next && to >= next.at) {
          this.at = next.at;
          held = calm ? 0 : now + HOLD_MS;
        } else this.at = to;
      }
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

  toLine(i) {
    if (this.lines.length) this.seek(this.lines[Math.min(this.lines.length - 1, Math.max(0, i))].at);
  }

  step(lines) {
    this.toLine(this.lineNow() + lines);
  }

  tell(aloud) {
    this.cloth.draw();
    this.said(this.words(), aloud);
  }

  draw(context, ratio, camera) {
    // the rest is faint under a veil; what is sewn so far is thread again
    const scale = camera.scale * ratio;
    const [ox, oy] = camera.toScreen(0, 0);
    context.save();
    context.setTransform(scale, 0, 0, scale, ox * ratio, oy * ratio);
    context.fillStyle = "rgba(250, 247, 240, 0.62)";
    context.fillRect(0, 0, ...this.quilt.size);
    context.restore();
    this.sew(context.canvas, scale, ox * ratio, oy * ratio);
    context.drawImage(this.sheet.canvas, 0, 0);
    this.mark(context, ratio, camera);
    if (this.sheet.upTo < this.at - 1) this.cloth.draw();
  }

  // Draw the thread that is sewn so far on a sheet of its own, only what is new; pictures kept on the way lead back.
  sew(canvas, scale, ox, oy) {
    const key = [canvas.width, canvas.height, scale, ox, oy].join(" ");
    let sheet = this.sheet;
    if (!sheet || sheet.key !== key) {
      const blank = sheet ? sheet.canvas : document.createElement("canvas");
      blank.width = canvas.width;
      blank.height = canvas.height;
      sheet = { key, canvas: blank, context: blank.getContext("2d"), upTo: 0, kept: [] };
      this.sheet = sheet;
    }
    const { context } = sheet;
    if (this.at < sheet.upTo) {
      const back = sheet.kept.filter((one) => one.upTo <= this.at).pop();
      context.setTransform(1, 0, 0, 1, 0, 0);
      context.clearRect(0, 0, canvas.width, canvas.height);
      if (back) context.drawImage(back.canvas, 0, 0);
      sheet.upTo = back ? back.upTo : 0;
    }
    context.setTransform(scale, 0, 0, scale, ox, oy);
    context.lineWidth = Math.max(0.45, 1.1 / scale);
    context.lineJoin = "round";
    const skip = scale < 0.5 ? 3 : 1;
    const until = performance.now() + SEW_MS;
    for (let i = Player.last(this.starts, sheet.upTo); i < this.order.length && this.starts[i] < this.at; i += 1) {
      const piece = this.quilt.pieces[this.order[i]];
      context.strokeStyle = this.quilt.colours[piece[4]];
      const sewn = Math.min(piece[1], 1 + Math.floor(this.at - this.starts[i] + 1e-6));
      for (let k = Math.max(0, Math.floor(sheet.upTo - this.starts[i])); k < sewn - 1; k += RUN) {
        const n = Math.min(RUN + 1, sewn - k);
        context.beginPath();
        trace(context, this.quilt.xy, piece[0] + k, n, skip);
        context.stroke();
        sheet.upTo = this.starts[i] + k + n - 1;
        if (sheet.upTo >= ((sheet.kept.length + 1) * this.total) / (KEPT + 1)) sheet.kept.push({ upTo: sheet.upTo, canvas: copyOf(sheet.canvas) });
        if (performance.now() > until) return;
      }
    }
    sheet.upTo = Math.max(sheet.upTo, Math.floor(this.at));
  }

  mark(context, ratio, camera) {
    const now = this.lineNow();
    const line = this.lines[now];
    const before = this.at > line.end ? line : this.lines[now - 1];
    const after = this.at > line.end ? this.lines[now + 1] : line;
    const place = (n) => camera.toScreen(...this.point(n)).map((v) => v * ratio);
    context.save();
    if (before) {
      const [from, to] = [place(before.last), place(after.first)];
      context.beginPath();
      context.moveTo(...from);
      context.lineTo(...to);
      context.setLineDash([9 * ratio, 5 * ratio]);
      context.lineWidth = 1.6 * ratio;
      context.strokeStyle = this.quilt.looks ? this.quilt.looks.jump : "#9a4fb0";
      context.stroke();
      context.setLineDash([]);
      this.badge(context, ratio, from, `stop ${before.name}`, true);
    }
    this.badge(context, ratio, place(after.first), `start ${after.name}`, false);
    const [x, y] = camera.toScreen(...this.needle());
    context.beginPath();
    context.arc(x * ratio, y * ratio, 6 * ratio, 0, 2 * Math.PI);
    context.fillStyle = this.moving() ? "#fff" : "#b3261e";
    context.fill();
    context.lineWidth = 2 * ratio;
    context.strokeStyle = this.moving() ? "#b3261e" : "#fff";
    context.stroke();
    context.restore();
  }

  badge(context, ratio, [x, y], text, stop) {
    const looks = this.quilt.looks || {};
    context.font = `${11 * ratio}px system-ui, sans-serif`;
    const wide = context.measureText(text).width + 10 * ratio;
    const high = 17 * ratio;
    const [left, top] = [x + 9 * ratio, stop ? y - high - 6 * ratio : y + 6 * ratio];
    context.fillStyle = (stop ? looks.stop : looks.start) || (stop ? "#a3212a" : "#1f7a3d");
    context.beginPath();
    if (stop) context.rect(left, top, wide, high);
    else context.roundRect(left, top, wide, high, high / 2);
    context.fill();
    context.fillStyle = "#fff";
    context.fillText(text, left + 5 * ratio, top + 12.5 * ratio);
  }
}
