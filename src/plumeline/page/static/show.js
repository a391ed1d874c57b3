// The page that is sent: each option as cloth, its stitching, figures and notes, and a tick for the one that is chosen.

import { Camera } from "./camera.js";
import { Cloth, drawCloth } from "./cloth.js";
import { boxOfRings, unpack, zoneAt } from "./data.js";
import { button, byId, make } from "./dom.js";
import { figuresTable, foundPanel } from "./found.js";
import { moveBy } from "./hands.js";
import { Player } from "./player.js";
import { drawTapes } from "./tapes.js";
import { watchPanel } from "./watch.js";

const WHOLE = 0.9; // share of the window that all of the quilt takes: the tapes lie beside it
const PRINT_PX = 1600;
const LAYERS = [
  ["quilting", "quilting"],
  ["seams", "seams"],
  ["fences", "fences"],
  ["travel", "travel: blue hidden in a seam, orange along an edge, green a short step"],
];

// The picture that came with the page is on the screen before the stitches are unpacked.
await new Promise((seen) => { requestAnimationFrame(() => setTimeout(seen, 0)); });
const options = JSON.parse(byId("data").textContent).map((option) => ({ ...option, quilt: null }));
const shown = { option: 0, view: "spaces", zone: -1, moved: false };
const ticked = new Set();

function quiltOf(option) {
  if (!option.quilt) {
    const raw = atob(option.data);
    const bytes = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i += 1) bytes[i] = raw.charCodeAt(i);
    option.quilt = { ...unpack(bytes.buffer), light: option.light };
    option.data = "";
  }
  return option.quilt;
}

const canvas = byId("cloth");
const current = () => quiltOf(options[shown.option]);
const cloth = new Cloth(canvas, new Camera(...current().size));
const player = new Player(current(), cloth, () => {});

function tell(text) {
  byId("said").textContent = text;
}

cloth.after = (context, ratio) => {
  const opening = byId("opening");
  if (opening && performance.getEntriesByName("cloth drawn").length) opening.remove();
  if (shown.view === "watch" && player.total) player.draw(context, ratio, cloth.camera);
  drawTapes(context, ratio, cloth.camera, current().unit);
  const svg = byId("marks");
  svg.replaceChildren();
  const zone = current().zones[shown.zone];
  if (!zone || shown.view !== "spaces") return;
  const path = document.createElementNS(svg.namespaceURI, "path");
  path.setAttribute("d", zone.inside.map(([at, n]) => `M${Array.from({ length: n }, (_, k) => cloth.camera.toScreen(current().xy[2 * (at + k)], current().xy[2 * (at + k) + 1]).join(" ")).join("L")}Z`).join(""));
  path.setAttribute("fill", "none");
  path.setAttribute("stroke", "#2f5f63");
  path.setAttribute("stroke-width", "3");
  svg.append(path);
};

function whole() {
  shown.moved = false;
  cloth.camera.fit(undefined, WHOLE);
  cloth.draw();
}

function closeUp(zone) {
  shown.moved = true;
  cloth.camera.fit(boxOfRings(current(), current().zones[zone].rings), 0.7);
  choose(zone);
}

function choose(zone) {
  shown.zone = zone;
  cloth.draw();
  const said = zoneWords(zone);
  if (said) tell(said);
  const words = byId("zone-words");
  if (words) words.textContent = said;
}

function zoneWords(zone) {
  const quilt = current();
  const row = quilt.rows[zone];
  return row ? `${quilt.zones[zone].label}: ${row.fill}, ${row.stitches.toLocaleString()} stitches, widest gap ${row.gap}, ${row.tight} inches of line a square inch.` : "";
}

function tickBox(option, i) {
  return make("label", { class: "tick" }, make("input", { type: "checkbox", checked: ticked.has(i), onchange: (event) => {
    if (event.target.checked) ticked.add(i);
    else ticked.delete(i);
    tell(ticked.size ? `Ticked: ${[...ticked].map((k) => options[k].name).join(", ")}. Print this page, or say so in a letter.` : "Nothing is ticked.");
  } }), make("span", { text: `${option.name}: this one, please` }));
}

function optionList() {
  return make("ul", { class: "list" }, ...options.map((option, i) => make("li", { class: "card" },
    options.length > 1 ? button(option.name, () => show(i), { class: "wide", "aria-pressed": String(i === shown.option) }) : make("strong", { text: option.name }),
    option.apart ? make("p", { class: "soft", text: option.apart }) : null,
    tickBox(option, i))));
}

function spacesList() {
  const quilt = current();
  const names = [...new Set(quilt.zones.map((zone) => zone.name))];
  return make("div", {}, make("h2", { text: options.length > 1 ? "Ideas for the quilt" : "The quilt" }), optionList(),
    figuresTable(quilt), make("h2", { text: "Spaces" }),
    make("p", { class: "soft", id: "zone-words", text: zoneWords(shown.zone) || "Touch one on the quilt, or choose one here." }),
    make("ul", { class: "list" }, ...names.map((name) => {
      const first = quilt.zones.findIndex((zone) => zone.name === name);
      const row = quilt.rows[first];
      return make("li", {}, button(row ? `${name}: ${row.fill}` : name, () => closeUp(first), { class: "wide" }));
    })),
    make("details", {}, make("summary", { text: "Show on the cloth" }), ...LAYERS.map(([layer, words]) => make("label", { class: "tick" },
      make("input", { type: "checkbox", checked: cloth.layers[layer], onchange: (event) => cloth.set(layer, event.target.checked) }), make("span", { text: words })))));
}

function beside() {
  const views = { spaces: spacesList, watch: () => watchPanel(player), found: () => foundPanel(current(), (name) => {
    const zone = current().zones.findIndex((one) => name.startsWith(one.name));
    view("spaces");
    closeUp(zone);
  }, null) };
  for (const name of Object.keys(views)) byId(`see-${name}`).setAttribute("aria-pressed", String(name === shown.view));
  byId("beside").replaceChildren(views[shown.view]());
}

function view(name) {
  if (name !== "watch") player.pause();
  shown.view = name;
  beside();
  cloth.draw();
}

function show(i) {
  const again = document.activeElement && document.activeElement.closest("#beside") !== null;
  shown.option = i;
  shown.zone = -1;
  player.pause();
  player.load(current());
  cloth.show(current());
  beside();
  if (again) byId("beside").querySelector('button[aria-pressed="true"]')?.focus();
  canvas.dataset.ready = "joined";
  tell(current().words[0]);
}

function pictureOf(quilt) {
  const paper = document.createElement("canvas");
  const scale = PRINT_PX / Math.max(...quilt.size);
  paper.width = Math.ceil(quilt.size[0] * scale);
  paper.height = Math.ceil(quilt.size[1] * scale);
  const context = paper.getContext("2d");
  context.fillStyle = "#fff";
  context.fillRect(0, 0, paper.width, paper.height);
  context.scale(scale, scale);
  drawCloth(context, quilt, scale, [0, 0, ...quilt.size], { ...cloth.layers, fences: false });
  return paper.toDataURL("image/jpeg", 0.9);
}

// On paper: each option with its picture, its figures and a box to tick; then what was noticed, and the cautions.
function ontoPaper() {
  byId("paper").replaceChildren(
    make("div", { class: "prints", style: `--across: ${Math.min(3, options.length)}` }, ...options.map((option, i) => {
      const quilt = quiltOf(option);
      return make("figure", {}, make("h2", { text: option.name }), make("img", { src: pictureOf(quilt), alt: `${option.name}: all of it` }),
        option.apart ? make("figcaption", { text: option.apart }) : null, figuresTable(quilt),
        make("p", { class: "box", text: `${ticked.has(i) ? "☒" : "☐"} This one, please` }));
    })),
    make("p", { class: "soft", text: "Draw-in and finished size are estimates from the batting's loft; washing comes on top." }));
  byId("cautions").open = true;
}

window.addEventListener("beforeprint", ontoPaper);
window.addEventListener("afterprint", () => { byId("paper").replaceChildren(); });

new ResizeObserver(() => {
  cloth.camera.resize(canvas.clientWidth, canvas.clientHeight);
  if (shown.moved) cloth.draw();
  else whole();
}).observe(canvas);
cloth.camera.resize(canvas.clientWidth, canvas.clientHeight);
whole();
for (const kind of ["pointerdown", "wheel", "keydown"]) canvas.addEventListener(kind, (event) => { if (event.key !== "Tab") shown.moved = true; });
moveBy(canvas, cloth, ([x, y]) => { if (shown.view === "spaces") choose(zoneAt(current(), x, y)); });
for (const name of ["spaces", "watch", "found"]) byId(`see-${name}`).addEventListener("click", () => view(name));
for (const [id, factor] of [["closer", 1.4], ["farther", 1 / 1.4]]) {
  byId(id).addEventListener("click", () => {
    shown.moved = true;
    cloth.camera.zoom(factor);
    cloth.draw();
  });
}
byId("whole").addEventListener("click", whole);
show(0);
for (const option of options.slice(1)) setTimeout(() => cloth.loadAll(quiltOf(option)), 300); // ready for paper
