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

const options = JSON.parse(byId("data").textContent).map(({ name, data }) => ({ name, data, quilt: null }));
const shown = { option: 0, view: "spaces", zone: -1 };
const ticked = new Set();

function quiltOf(option) {
  if (!option.quilt) {
    const raw = atob(option.data);
    const bytes = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i += 1) bytes[i] = raw.charCodeAt(i);
    option.quilt = unpack(bytes.buffer);
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
  if (shown.view === "watch" && player.total) player.draw(context, ratio, cloth.camera);
  drawTapes(context, ratio, cloth.camera);
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

function choose(zone) {
  shown.zone = zone;
  beside();
  cloth.draw();
  const quilt = current();
  const row = quilt.rows[zone];
  if (row) tell(`${quilt.zones[zone].label}: ${row.fill}, ${row.stitches.toLocaleString()} stitches, widest gap ${row.gap}.`);
}

function optionList() {
  return make("ul", { class: "list" }, ...options.map((option, i) => make("li", { class: "card" },
    options.length > 1 ? button(option.name, () => show(i), { class: "wide", "aria-pressed": String(i === shown.option) }) : make("strong", { text: option.name }),
    make("label", { class: "field" }, make("input", { type: "checkbox", checked: ticked.has(i), onchange: (event) => {
      if (event.target.checked) ticked.add(i);
      else ticked.delete(i);
      tell(ticked.size ? `Ticked: ${[...ticked].map((k) => options[k].name).join(", ")}. Print this page, or say so in a letter.` : "Nothing is ticked.");
    } }), " This one, please"))));
}

function spacesList() {
  const quilt = current();
  const names = [...new Set(quilt.zones.map((zone) => zone.name))];
  return make("div", {}, make("h2", { text: options.length > 1 ? "Ideas for the quilt" : "The quilt" }), optionList(),
    figuresTable(quilt), make("h2", { text: "Spaces" }),
    make("ul", { class: "list" }, ...names.map((name) => {
      const first = quilt.zones.findIndex((zone) => zone.name === name);
      const row = quilt.rows[first];
      return make("li", {}, button(row ? `${name}: ${row.fill}` : name, () => {
        cloth.camera.fit(boxOfRings(quilt, quilt.zones[first].rings), 0.7);
        choose(first);
      }, { class: "wide" }));
    })),
    make("details", {}, make("summary", { text: "Show on the cloth" }), ...["quilting", "seams", "fences"].map((layer) => make("label", { class: "field" },
      make("input", { type: "checkbox", checked: cloth.layers[layer], onchange: (event) => cloth.set(layer, event.target.checked) }), ` ${layer}`))));
}

function beside() {
  const views = { spaces: spacesList, watch: () => watchPanel(player), found: () => foundPanel(current(), (name) => {
    const zone = current().zones.findIndex((one) => name.startsWith(one.name));
    cloth.camera.fit(boxOfRings(current(), current().zones[zone].rings), 0.7);
    view("spaces");
    choose(zone);
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
  shown.option = i;
  shown.zone = -1;
  player.pause();
  player.load(current());
  cloth.show(current());
  beside();
  canvas.dataset.ready = "joined";
  tell(current().words[0]);
}

window.addEventListener("beforeprint", () => {
  const paper = document.createElement("canvas");
  const quilt = current();
  const scale = 1600 / Math.max(...quilt.size);
  paper.width = Math.ceil(quilt.size[0] * scale);
  paper.height = Math.ceil(quilt.size[1] * scale);
  const context = paper.getContext("2d");
  context.scale(scale, scale);
  drawCloth(context, quilt, scale, [0, 0, ...quilt.size], cloth.layers);
  byId("printed").src = paper.toDataURL("image/png");
  byId("printed").hidden = false;
  byId("cautions").open = true;
});
window.addEventListener("afterprint", () => { byId("printed").hidden = true; });

new ResizeObserver(() => {
  cloth.camera.resize(canvas.clientWidth, canvas.clientHeight);
  cloth.draw();
}).observe(canvas);
cloth.camera.resize(canvas.clientWidth, canvas.clientHeight);
cloth.camera.fit();
moveBy(canvas, cloth, ([x, y]) => { if (shown.view === "spaces") choose(zoneAt(current(), x, y)); });
for (const name of ["spaces", "watch", "found"]) byId(`see-${name}`).addEventListener("click", () => view(name));
byId("closer").addEventListener("click", () => { cloth.camera.zoom(1.4); cloth.draw(); });
byId("farther").addEventListener("click", () => { cloth.camera.zoom(1 / 1.4); cloth.draw(); });
byId("whole").addEventListener("click", () => { cloth.camera.fit(); cloth.draw(); });
show(0);
