// The film: a clear sheet over one space. Spines, fences and places left open are drawn on it, and their points dragged
// while the feather grows again under the hand. Each finished mark is in the plan at once.

import { trace } from "./cloth.js";
import { boxOfRings, inside } from "./data.js";
import { button, make } from "./dom.js";

const TOOLS = [["move", "Move points"], ["spine", "A spine"], ["fence", "A firm fence"], ["soft", "A soft fence"], ["open", "A place left open"]];
const NAMES = { spine: "spine", fence: "fence", open: "place left open" };
const SOFT_MM = 9.525; // 3/8 in
const SOFT_IN = [[3.175, "1/8 in"], [6.35, "1/4 in"], [9.525, "3/8 in"], [12.7, "1/2 in"]];
const SOFT_CM = [[3, "0.3 cm"], [6, "0.6 cm"], [9.525, "1 cm"], [13, "1.3 cm"]];
const NS = "http://www.w3.org/2000/svg";
const COLOURS = { spine: "#8a1c5b", fence: "#1f4fa3", open: "#8a5a00" };

export class Film {
  constructor(page, zone, marks) {
    this.page = page;
    this.key = { zone: zone.name, part: zone.part, number: zone.number };
    this.marks = marks.map((mark) => ({ ...mark }));
    this.tool = "move";
    this.pen = null; // points of a line that is being drawn
    this.paths = null; // what grows with the marks as they are now
    this.said = "";
    this.asking = false;
    this.again = false;
    this.saving = 0; // changes on their way into the plan
    this.later = 0; // the timer of points moved by keys that are not on their way yet
    this.version = 0; // grows with each change here, so that an older answer is known as one
    this.svg = document.getElementById("film");
    this.seen = page.cloth.camera.where;
    this.zoom();
  }

  get space() {
    const { zones } = this.page.quilt;
    return zones.find((one) => one.name === this.key.zone && one.part === this.key.part && one.number === this.key.number);
  }

  zoom() {
    const zone = this.space;
    if (zone) this.page.cloth.camera.fit(boxOfRings(this.page.quilt, zone.rings), 0.8);
    this.page.cloth.draw();
  }

  close() {
    this.svg.replaceChildren();
    this.page.cloth.camera.where = this.seen; // what she saw before the film lay on it
  }

  // -- the hand -------------------------------------------------------------------------------------------------

  // Returns whether the film takes the pointer; the cloth is moved with it otherwise.
  down([x, y]) {
    if (this.tool === "move") return false;
    this.pen = [[x, y]];
    return true;
  }

  move([x, y]) {
    if (!this.pen) return;
    const [px, py] = this.pen[this.pen.length - 1];
    if (Math.hypot(x - px, y - py) * this.page.cloth.camera.scale > 3) this.pen.push([x, y]);
    this.draw();
  }

  up() {
    const { pen, tool } = this;
    this.pen = null;
    if (!pen) return;
    if (pen.length < 2 && tool !== "open") {
      this.tell("Draw a line with the pen down, from one end to the other.");
      return;
    }
    this.add(tool, pen);
  }

  add(tool, pen) {
    const { scale } = this.page.cloth.camera;
    if (tool === "open") {
      const [[x, y], last] = [pen[0], pen[pen.length - 1]];
      this.marks.push({ kind: "open", points: [[x, y]], soft_mm: 0, radius_mm: Math.max(Math.hypot(last[0] - x, last[1] - y), 12.7) });
    } else {
      const points = thinned(pen, 6 / scale).slice(0, 40);
      this.marks.push({ kind: tool === "spine" ? "spine" : "fence", points, soft_mm: tool === "soft" ? SOFT_MM : 0, radius_mm: 0 });
    }
    this.tool = "move";
    this.save();
  }

  // A mark through the middle, for whoever has no pen: its points are moved with the arrow keys then.
  addInMiddle(tool) {
    const zone = this.space;
    const [left, top, right, bottom] = boxOfRings(this.page.quilt, zone.inside);
    const [w, h] = [right - left, bottom - top];
    const at = (u, v) => (w >= h ? [left + u * w, top + v * h] : [left + v * w, top + u * h]);
    const place = tool === "fence" || tool === "soft" ? 0.72 : 0.5;
    if (tool === "open") this.add(tool, [at(0.5, 0.5), at(0.5 + 0.12 * Math.min(w, h) / Math.max(w, h), 0.5)]);
    else if (tool === "spine") this.add(tool, [at(0.06, place), at(0.3, place - 0.06), at(0.68, place + 0.06), at(0.94, place)]);
    else this.add(tool, [at(0, place), at(0.5, place), at(1, place)]);
  }

  // -- the plan -------------------------------------------------------------------------------------------------

  async save() {
    this.page.panel();
    this.saving += 1;
    this.version += 1;
    this.grow();
    const body = { do: "film", ...this.key, marks: this.marks.map(({ kind, points, soft_mm, radius_mm }) => ({ kind, points, soft_mm, radius_mm })) };
    await this.page.edit(body);
    this.saving -= 1;
    await this.reread();
  }

  async reread() {
    if (this.saving || this.dragging || this.asking || this.later) return;
    const { zone, part, number } = this.key;
    const { version } = this;
    const said = this.space && (await this.page.ask(`/space?zone=${encodeURIComponent(zone)}&part=${encodeURIComponent(part)}&number=${number}`));
    if (!said || version !== this.version || this.dragging || this.later || this.page.film !== this) return;
    this.marks = said.marks;
    this.paths = null;
    this.page.redraw();
    this.page.panel();
  }

  // Ask what would grow; one question at a time, and the newest marks once more when it is answered.
  async grow() {
    if (this.asking) {
      this.again = true;
      return;
    }
    this.asking = true;
    do {
      this.again = false;
      const marks = this.marks.map(({ kind, points, soft_mm, radius_mm }) => ({ kind, points, soft_mm, radius_mm }));
      const grown = await this.page.ask("/grow", { ...this.key, marks });
      if (grown) {
        this.paths = grown.paths;
        grown.marks.forEach((mark, k) => { if (this.marks[k] && !this.again) this.marks[k].path = mark.path; });
        this.tell(grown.found[0] || "");
        this.page.cloth.canvas.dataset.grown = String(Number(this.page.cloth.canvas.dataset.grown || 0) + 1);
      }
      this.page.cloth.draw();
    } while (this.again);
    this.asking = false;
    if (!this.saving) await this.reread();
  }

  tell(text) {
    this.said = text;
    const place = document.getElementById("film-said");
    if (place) place.textContent = text;
  }

  // -- seen -----------------------------------------------------------------------------------------------------

  // On the canvas: the space without its quilting, and what grows in it.
  paint(context, ratio) {
    const { quilt, cloth } = this.page;
    const zone = this.space;
    if (!zone) return;
    const scale = cloth.camera.scale * ratio;
    const [ox, oy] = cloth.camera.toScreen(0, 0);
    context.save();
    context.fillStyle = "rgba(250, 247, 240, 0.45)";
    context.fillRect(0, 0, context.canvas.width, context.canvas.height);
    context.setTransform(scale, 0, 0, scale, ox * ratio, oy * ratio);
    if (this.paths) {
      context.beginPath();
      for (const [at, n] of zone.rings) {
        trace(context, quilt.xy, at, n);
        context.closePath();
      }
      context.fillStyle = "#fbf8f1";
      context.fill("evenodd");
      context.strokeStyle = "#4d4030";
      context.lineWidth = Math.max(0.5, 1.2 / scale);
      for (const path of this.paths) {
        context.beginPath();
        trace(context, path.flat(), 0, path.length);
        context.stroke();
      }
    }
    context.restore();
    this.draw();
  }

  draw() {
    const { camera } = this.page.cloth;
    const focused = document.activeElement && document.activeElement.dataset ? document.activeElement.dataset.handle : null;
    this.svg.replaceChildren();
    this.marks.forEach((mark, k) => {
      const line = mark.kind === "open" ? mark.path : smooth(mark);
      this.line(line || ringOf(mark), mark, camera);
      mark.points.forEach((point, i) => this.handle(mark, k, i, point, camera));
    });
    if (this.pen) {
      if (this.tool === "open") this.line(ringOf({ points: [this.pen[0]], radius_mm: Math.hypot(...this.pen[this.pen.length - 1].map((v, i) => v - this.pen[0][i])) }), { kind: "open" }, camera);
      else this.line(this.pen, { kind: this.tool === "spine" ? "spine" : "fence", soft_mm: this.tool === "soft" ? 1 : 0 }, camera);
    }
    if (focused) this.svg.querySelector(`[data-handle="${focused}"]`)?.focus();
  }

  line(points, mark, camera) {
    const path = document.createElementNS(NS, "polyline");
    path.setAttribute("points", points.map(([x, y]) => camera.toScreen(x, y).map((v) => v.toFixed(1)).join(",")).join(" "));
    const dash = mark.kind === "spine" ? "" : mark.kind === "open" ? "7 5" : mark.soft_mm ? "1 9" : "1 6";
    for (const [key, value] of Object.entries({ fill: "none", stroke: COLOURS[mark.kind], "stroke-width": mark.kind === "spine" ? 3 : 3.5, "stroke-dasharray": dash, "stroke-linecap": "round" })) path.setAttribute(key, value);
    this.svg.append(path);
  }

  handle(mark, k, i, [x, y], camera) {
    const [px, py] = camera.toScreen(x, y);
    const circle = document.createElementNS(NS, "circle");
    const words = mark.kind === "open" ? "middle of a place left open" : `point ${i + 1} of ${mark.points.length} of ${NAMES[mark.kind]} ${k + 1}`;
    for (const [key, value] of Object.entries({ cx: px.toFixed(1), cy: py.toFixed(1), r: 8, fill: "#fff", stroke: COLOURS[mark.kind], "stroke-width": 3, tabindex: 0, role: "button", "aria-label": `${words}. Arrow keys move it, Delete takes it out.`, "data-handle": `${k}-${i}` })) circle.setAttribute(key, value);
    circle.addEventListener("pointerdown", (event) => this.drag(event, k, i));
    circle.addEventListener("keydown", (event) => this.nudge(event, k, i));
    this.svg.append(circle);
  }

  drag(event, k, i) {
    event.stopPropagation();
    event.preventDefault();
    const canvas = this.page.cloth.canvas;
    const id = event.pointerId;
    let moved = false;
    this.dragging = true;
    const move = (next) => {
      if (next.pointerId !== id) return;
      const box = canvas.getBoundingClientRect();
      this.marks[k].points[i] = this.page.cloth.camera.toQuilt(next.clientX - box.left, next.clientY - box.top);
      this.marks[k].path = null;
      this.version += 1;
      moved = true;
      this.draw();
      this.grow();
    };
    const up = (next) => {
      if (next.pointerId !== id) return;
      window.removeEventListener("pointermove", move);
      window.removeEventListener("pointerup", up);
      window.removeEventListener("pointercancel", up);
      this.dragging = false;
      if (moved) this.save();
    };
    window.addEventListener("pointermove", move);
    window.addEventListener("pointerup", up);
    window.addEventListener("pointercancel", up);
  }

  nudge(event, k, i) {
    const far = event.shiftKey ? 25.4 : 3.175;
    const moves = { ArrowLeft: [-far, 0], ArrowRight: [far, 0], ArrowUp: [0, -far], ArrowDown: [0, far] };
    const mark = this.marks[k];
    if (moves[event.key]) {
      const [dx, dy] = moves[event.key];
      mark.points[i] = [mark.points[i][0] + dx, mark.points[i][1] + dy];
      mark.path = null;
    } else if (event.key === "Delete" || event.key === "Backspace") {
      if (mark.points.length <= 2) this.marks.splice(k, 1);
      else mark.points.splice(i, 1);
    } else return;
    event.preventDefault();
    event.stopPropagation();
    this.version += 1;
    this.draw();
    window.clearTimeout(this.later);
    this.later = window.setTimeout(() => {
      this.later = 0;
      this.save();
    }, 350);
    this.grow();
  }

  panel() {
    const zone = this.space;
    if (!zone) return make("div", {}, make("p", { text: "This space is gone." }), button("Done", () => this.page.closeFilm()));
    const like = this.page.quilt.zones.filter((one) => one.name === zone.name && one.part === zone.part).length;
    const pick = (tool) => { this.tool = tool; this.tell(tool === "move" ? "" : "Draw it on the cloth with the pen, a finger or the mouse."); this.page.panel(); };
    const tool = TOOLS.find(([name]) => name === this.tool);
    return make("div", {},
      make("h2", { text: `The film over ${zone.label}` }),
      make("p", { class: "soft", text: like > 1 ? `What you draw here goes to all ${like} like it, turned and mirrored as they lie.` : "What you draw is in your plan at once." }),
      make("div", { class: "row", role: "group", "aria-label": "What the pen draws" }, ...TOOLS.map(([name, words]) => button(words, () => pick(name), { "aria-pressed": String(name === this.tool), id: `tool-${name}` }))),
      this.tool === "move" ? make("p", { class: "soft", text: "Drag a point, and the feather grows again." })
        : make("p", {}, button(`Put ${tool[1][0].toLowerCase()}${tool[1].slice(1)} in the middle`, () => this.addInMiddle(this.tool), { id: "in-middle" })),
      make("p", { id: "film-said", class: "warn", role: "status", text: this.said }),
      make("h3", { text: this.marks.length ? "Marks" : "Nothing is drawn yet" }),
      make("ul", { class: "list" }, ...this.marks.map((mark, k) => this.markRow(mark, k))),
      button("Done with the film", () => this.page.closeFilm(), { class: "main", id: "film-done" }));
  }

  markRow(mark, k) {
    const words = `${mark.kind === "fence" ? (mark.soft_mm ? "soft fence" : "firm fence") : NAMES[mark.kind]} ${k + 1}`;
    const firm = mark.kind !== "fence" ? null : make("label", { class: "field" }, make("span", { text: `How far a plume may lean over ${words}` }),
      make("select", { onchange: (event) => { mark.soft_mm = Number(event.target.value); this.save(); } },
        ...[[0, "not at all: firm"], ...(this.page.units === "in" ? SOFT_IN : SOFT_CM)].map(([mm, text]) => make("option", { value: mm, text, selected: Math.abs(mm - mark.soft_mm) < 0.2 }))));
    return make("li", { class: "card" }, make("div", { class: "row" }, make("strong", { text: words }),
      button("Take it off", () => { this.marks.splice(k, 1); this.save(); }, { "aria-label": `Take ${words} off` })), firm);
  }
}

export function overSpace(film, [x, y]) {
  const zone = film.space;
  return zone ? inside(film.page.quilt, zone.rings, x, y) : false;
}

function ringOf(mark) {
  const [[x, y]] = mark.points;
  return Array.from({ length: 49 }, (_, k) => [x + mark.radius_mm * Math.cos((k * Math.PI) / 24), y + mark.radius_mm * Math.sin((k * Math.PI) / 24)]);
}

// The line as the program draws it, or while it moves a curve through its points (Catmull and Rom's).
function smooth(mark) {
  if (mark.path) return mark.path;
  const { points } = mark;
  if (points.length < 3) return points;
  const out = [];
  for (let i = 0; i < points.length - 1; i += 1) {
    const [a, b, c, d] = [points[Math.max(0, i - 1)], points[i], points[i + 1], points[Math.min(points.length - 1, i + 2)]];
    for (let n = 0; n < 12; n += 1) {
      const t = n / 12;
      out.push([0, 1].map((j) => 0.5 * (2 * b[j] + (c[j] - a[j]) * t + (2 * a[j] - 5 * b[j] + 4 * c[j] - d[j]) * t * t + (3 * b[j] - a[j] - 3 * c[j] + d[j]) * t * t * t)));
    }
  }
  out.push(points[points.length - 1]);
  return out;
}

// The fewest points of a pen line that stay within a distance of it (Ramer, Douglas and Peucker's way).
export function thinned(points, far) {
  if (points.length < 3) return points.slice();
  const [a, b] = [points[0], points[points.length - 1]];
  const length = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1e-9;
  let [worst, at] = [0, 0];
  for (let i = 1; i < points.length - 1; i += 1) {
    const off = Math.abs((b[0] - a[0]) * (a[1] - points[i][1]) - (a[0] - points[i][0]) * (b[1] - a[1])) / length;
    if (off > worst) [worst, at] = [off, i];
  }
  if (worst <= far) return [a, b];
  return [...thinned(points.slice(0, at + 1), far).slice(0, -1), ...thinned(points.slice(at), far)];
}
