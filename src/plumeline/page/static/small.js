// A small picture of lines in a space, on a canvas of its own.

import { trace } from "./cloth.js";
import { make } from "./dom.js";

export function smallPicture(words, areas, lines, { width = 600, height = 420, parts = false } = {}) {
  const canvas = make("canvas", { width, height, role: "img", "aria-label": words });
  const all = areas.flat();
  const [xs, ys] = [all.map((p) => p[0]), all.map((p) => p[1])];
  const [left, top, right, bottom] = [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
  const scale = Math.min((width - 20) / (right - left), (height - 20) / (bottom - top));
  canvas.width = Math.min(width, Math.ceil((right - left) * scale + 20));
  canvas.height = Math.min(height, Math.ceil((bottom - top) * scale + 20));
  const context = canvas.getContext("2d");
  context.setTransform(scale, 0, 0, scale, canvas.width / 2 - ((left + right) / 2) * scale, canvas.height / 2 - ((top + bottom) / 2) * scale);
  context.lineJoin = "round";
  context.beginPath();
  for (const ring of areas) trace(context, ring.flat(), 0, ring.length);
  context.fillStyle = "#f3ecdc";
  context.fill("evenodd");
  context.strokeStyle = parts ? "#4d4030" : "#a99b82";
  context.lineWidth = (parts ? 5 : 1.5) / scale;
  context.stroke();
  context.strokeStyle = "#4d4030";
  context.lineWidth = Math.max(0.45, 1.3 / scale);
  for (const points of lines) {
    context.beginPath();
    trace(context, points.flat(), 0, points.length);
    context.stroke();
  }
  return canvas;
}
