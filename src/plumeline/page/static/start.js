// The start: open a plan, take the sample, drop a drawing, fill in blocks and borders, or six tape measures.

import { button, make } from "./dom.js";

export function startPage(plans, send) {
  const said = make("p", { class: "warn", role: "alert" });
  const start = async (table) => {
    said.textContent = "One moment.";
    const wrong = await send(table);
    said.textContent = wrong || "";
  };
  return make("div", {},
    make("div", { class: "lead" },
      make("h2", { text: "Which top shall we quilt?" }),
      make("p", { text: "Lengths are in inches, as 12 or 5 1/2. A plan is written beside this page's folder and saved with every change." }), said),
    make("div", { class: "cards" }, sampleCard(start), drawingCard(start), blocksCard(start), measuresCard(start), plans.length ? plansCard(plans, start) : null));
}

function field(label, name, value = "", extra = {}) {
  return make("label", { class: "field" }, make("span", { text: label }), make("input", { type: "text", name, value, autocomplete: "off", ...extra }));
}

function read(form) {
  return Object.fromEntries(new FormData(form).entries());
}

function card(title, words, ...rest) {
  return make("section", { class: "card" }, make("h2", { text: title }), make("p", { class: "soft", text: words }), ...rest);
}

function sampleCard(start) {
  return card("The sample quilt", "Nine stars on point, four plain squares, two borders. Try everything on it.",
    button("Open the sample", () => start({ how: "sample" }), { class: "main", id: "start-sample" }));
}

function plansCard(plans, start) {
  return card("A plan of yours", "Plans in this folder.",
    make("ul", { class: "list" }, ...plans.map((name) => make("li", {}, button(name, () => start({ how: "open", name }), { class: "wide" })))));
}

function drawingCard(start) {
  const input = make("input", { type: "file", name: "file", accept: ".svg,image/svg+xml", required: true });
  const form = make("form", { onsubmit: async (event) => {
    event.preventDefault();
    const file = input.files[0];
    if (file) start({ how: "drawing", title: form.elements.title.value || file.name.replace(/\.svg$/i, ""), svg: await file.text() });
  } }, field("Name of the quilt", "title"), make("label", { class: "field" }, make("span", { text: "Drawing (SVG), true size" }), input),
  make("button", { text: "Start from the drawing" }));
  return card("A drawing", "Closed shapes are patches.", form);
}

function blocksCard(start) {
  const picture = make("svg", {});
  const holder = make("div", {}, picture);
  const form = make("form", {
    id: "start-blocks",
    oninput: () => drawTop(holder, read(form)),
    onsubmit: (event) => {
      event.preventDefault();
      const said = read(form);
      start({ how: "blocks", ...said, on_point: said.on_point === "on" });
    },
  }, field("Name of the quilt", "title", "My quilt"), field("Blocks across", "across", "3", { inputmode: "numeric" }),
  field("Blocks down", "down", "4", { inputmode: "numeric" }), field("Finished side of a block", "block", "12"),
  make("label", { class: "field" }, make("input", { type: "checkbox", name: "on_point" }), " Set on point"),
  field("Border widths from the inside out", "borders", "1, 5 1/2"), make("button", { text: "Start from blocks" }));
  drawTop(holder, read(form));
  return card("Blocks and borders", "The top is drawn as you type.", holder, form);
}

export function inches(text) {
  const found = /^\s*(\d+(?:\.\d+)?)?(?:\s*(\d+)\s*\/\s*(\d+))?\s*$/.exec(text || "");
  if (!found || (!found[1] && !found[2])) return NaN;
  const joined = found[1] && found[2] && !/\s/.test(text.trim()) ? NaN : 0;
  return joined + Number(found[1] || 0) + (found[2] ? Number(found[2]) / Number(found[3]) : 0);
}

function drawTop(holder, said) {
  const ns = "http://www.w3.org/2000/svg";
  const [across, down, block] = [Number(said.across), Number(said.down), inches(said.block)];
  const borders = (said.borders || "").split(",").filter((part) => part.trim()).map(inches);
  if (!(across >= 1 && across <= 30 && down >= 1 && down <= 30 && block > 0) || borders.some(Number.isNaN)) {
    holder.replaceChildren(make("p", { class: "soft", text: "The picture comes back when the numbers are whole." }));
    return;
  }
  const diagonal = said.on_point === "on" ? block * Math.SQRT2 : block;
  const edge = borders.reduce((a, b) => a + b, 0);
  const [width, height] = [across * diagonal + 2 * edge, down * diagonal + 2 * edge];
  const svg = document.createElementNS(ns, "svg");
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", `${across} by ${down} blocks, ${width.toFixed(1)} by ${height.toFixed(1)} inches`);
  svg.setAttribute("height", "150");
  const rect = (x, y, w, h, fill, turn) => {
    const one = document.createElementNS(ns, "rect");
    for (const [key, value] of Object.entries({ x, y, width: w, height: h, fill, stroke: "#7a6d57", "stroke-width": width / 300 })) one.setAttribute(key, value);
    if (turn) one.setAttribute("transform", turn);
    svg.append(one);
  };
  let at = 0;
  borders.slice().reverse().forEach((wide, i) => {
    rect(at, at, width - 2 * at, height - 2 * at, i % 2 ? "#a4523c" : "#e6dac0");
    at += wide;
  });
  rect(edge, edge, width - 2 * edge, height - 2 * edge, "#f1e8d6");
  for (let r = 0; r < down; r += 1) {
    for (let c = 0; c < across; c += 1) {
      const [x, y] = [edge + (c + 0.5) * diagonal, edge + (r + 0.5) * diagonal];
      rect(x - block / 2, y - block / 2, block, block, (r + c) % 2 ? "#d6a54a" : "#8fb0a9", said.on_point === "on" ? `rotate(45 ${x} ${y})` : "");
    }
  }
  holder.replaceChildren(svg, make("p", { class: "soft", text: `${width.toFixed(1)} x ${height.toFixed(1)} in` }));
}

function measuresCard(start) {
  const names = [["top", "Along the top"], ["right", "Down the right"], ["bottom", "Along the bottom"], ["left", "Down the left"], ["down_right", "From upper left to lower right"], ["down_left", "From upper right to lower left"]];
  const form = make("form", { id: "start-measures", onsubmit: (event) => {
    event.preventDefault();
    start({ how: "measures", ...read(form) });
  } }, field("Name of the block", "title", "My block"), ...names.map(([name, words], i) => field(words, name, i < 4 ? "14" : "19 13/16")), make("button", { text: "Start from measures" }));
  return card("Six tape measures", "One block as it really is: four sides and two diagonals.", form);
}
