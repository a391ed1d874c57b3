// The start: open a plan, take the sample, drop a drawing, fill in blocks and borders, or six tape measures.

import { button, make } from "./dom.js";
import { inBase64, isPhoto, shrunk, suffixOf, titleOf } from "./drop.js";
import { withPoint } from "./fields.js";

// What the forms hold before she types, in her units.
const USUAL = {
  in: { name: "inches", sample: "12 or 5 1/2", block: "12", borders: "1, 5 1/2", side: "14", across: "19 13/16" },
  cm: { name: "centimetres", sample: "30 or 14.5", block: "30", borders: "3, 14", side: "35", across: "49.5" },
};

export function startPage({ plans, folder, blocks }, send) {
  const said = make("p", { class: "warn", role: "alert" });
  const lead = make("div", { class: "lead" });
  let units = "in";
  // what is said stands in the card that was used, where she looks
  const start = async (table) => {
    (document.activeElement.closest("section.card") || lead).append(said);
    said.textContent = "One moment.";
    const wrong = await send({ units, ...table });
    said.textContent = wrong || "";
    if (wrong) said.scrollIntoView({ block: "nearest" });
  };
  const hint = make("span", { class: "soft" });
  const measured = () => {
    hint.textContent = `as ${USUAL[units].sample}`;
    return [blocksCard(start, blocks, units), measuresCard(start, units)];
  };
  let cards = measured();
  const choice = make("select", { id: "start-units", onchange: () => {
    units = choice.value;
    const now = measured();
    cards.forEach((one, k) => one.replaceWith(now[k]));
    cards = now;
  } }, ...Object.entries(USUAL).map(([value, { name }]) => make("option", { value, text: name })));
  lead.append(
    make("h2", { text: "Which top shall we quilt?" }),
    make("p", { text: `Your plan is written into ${folder} and saved with every change.` }),
    make("label", { class: "row" }, make("span", { text: "I measure in" }), choice, hint), said);
  return make("div", {},
    lead,
    make("div", { class: "cards" }, plans.length ? plansCard(plans, start) : null, sampleCard(start), drawingCard(start), ...cards));
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
  const title = make("input", { type: "text", name: "title", autocomplete: "off" });
  const more = make("div", { id: "from-file" });
  const width = field("Width of the top, if the drawing has none", "width");
  const input = make("input", { type: "file", name: "file", id: "start-file", accept: ".svg,.svgz,.dxf,.pdf,image/svg+xml,image/png,image/jpeg,image/webp" });
  let file = null;
  const taken = async (given) => {
    file = given;
    if (!file) return;
    title.value = titleOf(file);
    if (isPhoto(file)) {
      more.replaceChildren(await photoForm(file, title, start));
      more.querySelector("canvas").scrollIntoView({ block: "center" });
    } else more.replaceChildren(width, button("Start from the drawing", async () => start({ how: "drawing", title: title.value, suffix: suffixOf(file), drawing: await inBase64(file), width: width.querySelector("input").value }), { class: "main", id: "start-drawing" }));
  };
  input.addEventListener("change", () => taken(input.files[0]));
  window.addEventListener("plumeline-file", (event) => taken(event.detail));
  return card("Your drawing or photo", "Drop it anywhere on this page, or choose it. A drawing (SVG, DXF or one page of a PDF) has patches as closed shapes.",
    make("label", { class: "field" }, make("span", { text: "Drawing or photo" }), input),
    make("label", { class: "field" }, make("span", { text: "Name of the quilt" }), title), more);
}

// A photo is squared up from its four corners and two measures; she touches the corners, or types where they are.
async function photoForm(file, title, start) {
  const photo = await shrunk(file);
  const names = ["upper left", "upper right", "lower right", "lower left"];
  const corners = [[0.1, 0.1], [0.9, 0.1], [0.9, 0.9], [0.1, 0.9]].map(([u, v]) => [u * photo.width, v * photo.height]);
  let next = 0;
  const canvas = make("canvas", { width: photo.width, height: photo.height, id: "photo-corners", role: "img", "aria-label": "Your photo with the four corners of the top", class: "photo" });
  const words = make("p", { class: "soft", role: "status" });
  const fields = names.map((name, k) => make("label", { class: "field" }, make("span", { text: `${name} corner, pixels right and down` }),
    make("input", { type: "text", value: corners[k].map(Math.round).join(", "), onchange: (event) => {
      const said = event.target.value.split(",").map(Number);
      if (said.length === 2 && said.every(Number.isFinite)) corners[k] = said;
      draw();
    } })));
  const draw = () => {
    const context = canvas.getContext("2d");
    const wide = photo.width / 120;
    context.drawImage(photo, 0, 0);
    context.strokeStyle = "#b3261e";
    context.lineWidth = wide / 2;
    context.beginPath();
    corners.forEach(([x, y]) => context.lineTo(x, y));
    context.closePath();
    context.stroke();
    corners.forEach(([x, y]) => { context.beginPath(); context.arc(x, y, wide, 0, 2 * Math.PI); context.stroke(); });
    fields.forEach((label, k) => { label.querySelector("input").value = corners[k].map(Math.round).join(", "); });
    words.textContent = next < 4 ? `Touch the ${names[next]} corner of the top.` : "All four corners are set. Touch beside one to move it there.";
  };
  canvas.addEventListener("click", (event) => {
    const box = canvas.getBoundingClientRect();
    const place = [((event.clientX - box.left) / box.width) * photo.width, ((event.clientY - box.top) / box.height) * photo.height];
    const far = corners.map(([x, y]) => Math.hypot(x - place[0], y - place[1]));
    corners[next < 4 ? next : far.indexOf(Math.min(...far))] = place;
    next = Math.min(next + 1, 4);
    draw();
  });
  draw();
  const form = make("form", { id: "start-photo", onsubmit: (event) => {
    event.preventDefault();
    const { width, height } = read(form);
    start({ how: "photo", title: title.value, width, height, corners, photo: photo.toDataURL("image/jpeg", 0.9).split(",")[1] });
  } }, canvas, words, field("Width of the top", "width", "", { required: true }), field("Height of the top", "height", "", { required: true }),
  make("details", {}, make("summary", { text: "Corners in numbers" }), ...fields), make("button", { class: "main", text: "Start from the photo" }));
  return form;
}

function blocksCard(start, blocks, units) {
  const holder = make("div", {});
  const form = make("form", {
    id: "start-blocks",
    oninput: () => drawTop(holder, read(form), units),
    onsubmit: (event) => {
      event.preventDefault();
      const said = read(form);
      start({ how: "blocks", ...said, on_point: said.on_point === "on", alternate: said.alternate === "on" });
    },
  }, field("Name of the quilt", "title", "My quilt"), field("Blocks across", "across", "3", { inputmode: "numeric" }),
  field("Blocks down", "down", "4", { inputmode: "numeric" }), field("Finished side of a block", "block", USUAL[units].block),
  make("label", { class: "field" }, make("span", { text: "Which block" }), make("select", { name: "pieced" }, make("option", { value: "", text: "plain squares" }), ...blocks.map((name) => make("option", { value: name, text: name })))),
  make("label", { class: "field tick" }, make("input", { type: "checkbox", name: "alternate" }), make("span", { text: " Every other block plain" })),
  field("Sashing between the blocks (empty: none)", "sashing", ""),
  make("label", { class: "field tick" }, make("input", { type: "checkbox", name: "on_point" }), make("span", { text: " Set on point" })),
  field("Border widths from the inside out", "borders", USUAL[units].borders), make("button", { text: "Start from blocks" }));
  drawTop(holder, read(form), units);
  return card("Blocks and borders", "The top is drawn as you type.", holder, form);
}

export function lengthOf(text) {
  const found = /^\s*(\d+(?:\.\d+)?)?(?:\s*(\d+)\s*\/\s*(\d+))?\s*$/.exec(withPoint(text || ""));
  if (!found || (!found[1] && !found[2])) return NaN;
  const joined = found[1] && found[2] && !/\s/.test(text.trim()) ? NaN : 0;
  return joined + Number(found[1] || 0) + (found[2] ? Number(found[2]) / Number(found[3]) : 0);
}

// Widths as the plan will read them: to most who measure in cm a comma between two digits is a decimal sign.
export function lengthsOf(text, units) {
  const parts = text.split(text.includes(";") ? ";" : ",").filter((part) => part.trim());
  return parts.map(units === "cm" && !text.includes(";") && /\d,\d/.test(text) ? () => NaN : lengthOf);
}

function drawTop(holder, said, units) {
  const ns = "http://www.w3.org/2000/svg";
  const [across, down, block] = [Number(said.across), Number(said.down), lengthOf(said.block)];
  const borders = lengthsOf(said.borders || "", units);
  if (!(across >= 1 && across <= 30 && down >= 1 && down <= 30 && block > 0) || borders.some(Number.isNaN) || Number.isNaN(lengthOf(said.sashing || "0"))) {
    holder.replaceChildren(make("p", { class: "soft", text: `The picture comes back when each number can be read, as ${USUAL[units].sample}.` }));
    return;
  }
  const turned = said.on_point === "on";
  const sashing = (said.sashing || "").trim() ? lengthOf(said.sashing) : 0;
  const step = (block + sashing) * (turned ? Math.SQRT2 : 1);
  const edge = borders.reduce((a, b) => a + b, 0);
  const around = -sashing * (turned ? Math.SQRT2 : 1); // none outside the outermost blocks
  const [width, height] = [across * step + around + 2 * edge, down * step + around + 2 * edge];
  const svg = document.createElementNS(ns, "svg");
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", `${across} by ${down} blocks, ${width.toFixed(1)} by ${height.toFixed(1)} ${USUAL[units].name}`);
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
      const [x, y] = [edge + around / 2 + (c + 0.5) * step, edge + around / 2 + (r + 0.5) * step];
      rect(x - block / 2, y - block / 2, block, block, (r + c) % 2 ? "#d6a54a" : "#8fb0a9", turned ? `rotate(45 ${x} ${y})` : "");
    }
  }
  holder.replaceChildren(svg, make("p", { class: "soft", text: `${width.toFixed(1)} x ${height.toFixed(1)} ${units}` }));
}

function measuresCard(start, units) {
  const names = [["top", "Along the top"], ["right", "Down the right"], ["bottom", "Along the bottom"], ["left", "Down the left"], ["down_right", "From upper left to lower right"], ["down_left", "From upper right to lower left"]];
  const form = make("form", { id: "start-measures", onsubmit: (event) => {
    event.preventDefault();
    start({ how: "measures", ...read(form) });
  } }, field("Name of the block", "title", "My block"), ...names.map(([name, words], i) => field(words, name, i < 4 ? USUAL[units].side : USUAL[units].across)), make("button", { text: "Start from measures" }));
  return card("Six tape measures", "One block as it really is: four sides and two diagonals.", form);
}
