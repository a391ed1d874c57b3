// The page: asks the server, keeps what is chosen, and puts the parts together.

import { Camera } from "./camera.js";
import { Cloth, traceRings } from "./cloth.js";
import { boxOfRings, patchAt, unpack, zoneAt } from "./data.js";
import { button, byId, make } from "./dom.js";
import { foundPanel } from "./found.js";
import { moveBy } from "./hands.js";
import { Player } from "./player.js";
import { spacePanel } from "./space.js";
import { startPage } from "./start.js";
import { drawTapes } from "./tapes.js";
import { takePanel } from "./take.js";
import { watchPanel } from "./watch.js";

const page = { state: null, fills: [], zones: [], units: "in", selected: -1, view: "spaces", joining: null, asked: 0 };
let quilt = null;
let cloth = null;
let player = null;

function say(text) {
  byId("said").textContent = text;
}

page.ask = async (path, body) => {
  const settings = body === undefined ? {} : { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) };
  let answer;
  try {
    answer = await fetch(path, settings);
  } catch {
    say("The program has stopped. Your plan is saved; start it again to go on.");
    return null;
  }
  if (answer.status === 204) return null;
  const kind = answer.headers.get("Content-Type") || "";
  if (!answer.ok) {
    const found = kind.includes("json") ? await answer.json() : { error: await answer.text() };
    say(found.error);
    if (found.clash) clash(body);
    page.wrong = found.error;
    return null;
  }
  return kind.includes("json") ? answer.json() : kind.includes("octet") ? answer.arrayBuffer() : answer.blob();
};

page.edit = async (body) => {
  say("One moment.");
  const state = await page.ask("/edit", body);
  if (!state) return;
  page.joining = null;
  say("Saved in your plan.");
  await heard(state);
};

function clash(body) {
  const box = make("div", { class: "card ask", role: "alertdialog", "aria-label": "The plan was changed elsewhere" },
    make("p", { text: "The plan was changed in another program since it was last read here. What shall stand?" }),
    make("div", { class: "row" },
      button("What is in the file", () => { box.remove(); page.edit({ do: "take-up" }); }),
      button("My change", () => { box.remove(); page.edit({ ...body, over: true }); })));
  byId("beside").prepend(box);
  box.querySelector("button").focus();
}

page.select = (index) => {
  page.selected = index;
  page.view = "spaces";
  panel();
  cloth.draw();
  if (index >= 0) say(`${quilt.zones[index].label} is chosen.`);
};

function touched([x, y], event) {
  if (!quilt) return;
  if (page.joining) {
    const patch = patchAt(quilt, x, y);
    if (patch < 0) return;
    const { name } = quilt.patches[patch];
    if (!page.joining.delete(name)) page.joining.add(name);
    say(`${page.joining.size} patches chosen, ${name} last.`);
    panel();
    cloth.draw();
    return;
  }
  const zone = zoneAt(quilt, x, y);
  if (zone < 0 && !quilt.pieces.length) {
    say("The spaces are still being filled. One moment.");
    return;
  }
  if (zone < 0) {
    const patch = patchAt(quilt, x, y);
    if (patch >= 0 && event) {
      page.joining = new Set([quilt.patches[patch].name]);
      say("This patch has no quilting yet. Touch more to join them, then give the space a name.");
      panel();
      cloth.draw();
    }
    return;
  }
  page.select(zone);
}

function joinPanel() {
  const name = make("input", { type: "text", id: "join-name", value: `space ${page.zones.length + 1}` });
  return make("div", {},
    make("h2", { text: "Join patches" }),
    make("p", { text: "Touch patches on the cloth, or tick them here. The seams between them are forgotten." }),
    make("label", { class: "field" }, make("span", { text: "Name of the space" }), name),
    make("div", { class: "row" },
      button(`Join ${page.joining.size}`, () => page.edit({ do: "join", name: name.value, patches: [...page.joining] }), { class: "main", id: "join-now", disabled: !page.joining.size }),
      button("Leave it", () => { page.joining = null; panel(); cloth.draw(); })),
    make("details", {}, make("summary", { text: "All patches" }),
      make("ul", { class: "list" }, ...quilt.patches.map((patch) => make("li", {}, make("label", {},
        make("input", { type: "checkbox", checked: page.joining.has(patch.name), onchange: (event) => {
          if (event.target.checked) page.joining.add(patch.name);
          else page.joining.delete(patch.name);
          byId("join-now").textContent = `Join ${page.joining.size}`;
          byId("join-now").disabled = !page.joining.size;
          cloth.draw();
        } }), ` ${patch.name}`))))));
}

function spacesPanel() {
  if (page.joining) return joinPanel();
  if (page.selected >= 0 && quilt.zones[page.selected]) return spacePanel(page, quilt, page.selected);
  const rows = page.zones.flatMap((zone) => zone.parts.map((part) => [zone, part]));
  return make("div", {},
    make("h2", { text: "Spaces" }),
    make("p", { class: "soft", text: "Touch a space on the cloth, or choose one here." }),
    make("ul", { class: "list" }, ...rows.map(([zone, part]) => {
      const index = quilt.zones.findIndex((one) => one.name === zone.name && one.part === part);
      const count = quilt.zones.filter((one) => one.name === zone.name && one.part === part).length;
      const label = zone.parts.length > 1 ? `${zone.name}, ${part}` : zone.name;
      return make("li", {}, button(index < 0 ? `${label}: no fill yet` : count > 1 ? `${label} (${count})` : label,
        () => (index < 0 ? openZone(zone.name, part) : page.select(index)), { class: "wide" }));
    })),
    make("p", {}, button("Join patches into a space", () => { page.joining = new Set(); panel(); }, { id: "join-start" })),
    make("details", {}, make("summary", { text: "Show on the cloth" },), ...["quilting", "seams", "fences"].map((layer) => make("label", { class: "field" },
      make("input", { type: "checkbox", checked: cloth.layers[layer], onchange: (event) => cloth.set(layer, event.target.checked) }), ` ${layer}`))));
}

function openZone(name, part) {
  const kinds = page.fills.map((fill) => fill.kind);
  const select = make("select", { id: "kind", onchange: () => page.edit({ do: "choose", zone: name, part, stack: [{ kind: select.value }] }) },
    make("option", { text: "choose a fill", value: "" }), ...kinds.map((kind) => make("option", { value: kind, text: kind })));
  byId("beside").replaceChildren(make("h2", { text: name }), make("p", { text: "Nothing is quilted here yet." }),
    make("label", { class: "field" }, make("span", { text: "Fill" }), select), button("All spaces", panel));
  select.focus();
}

function mend(one) {
  const zone = page.zones.find((entry) => entry.name === one.zone);
  if (one.code !== "straight-beside-crooked" || !zone || zone.parts.length > 1) return null;
  return button("Put a meander there", () => page.edit({ do: "choose", zone: zone.name, part: "", stack: [{ kind: "meander" }] }));
}

function panel() {
  const panels = {
    spaces: spacesPanel,
    watch: () => watchPanel(player),
    found: () => foundPanel(quilt, showZone, mend),
    take: () => takePanel(page, say),
  };
  for (const name of Object.keys(panels)) byId(`see-${name}`).setAttribute("aria-pressed", String(page.view === name));
  byId("beside").replaceChildren(...(page.state.error ? [make("p", { class: "card ask", role: "alert", text: page.state.error })] : []), quilt ? panels[page.view]() : make("p", { text: "Reading the top." }));
}

function showZone(name) {
  const index = quilt.zones.findIndex((zone) => name.startsWith(zone.name));
  if (index < 0) return;
  cloth.camera.fit(boxOfRings(quilt, quilt.zones[index].rings), 0.7);
  page.select(index);
}

function marks() {
  const svg = byId("marks");
  svg.replaceChildren();
  const ns = svg.namespaceURI;
  const outline = (rings, css) => {
    const path = document.createElementNS(ns, "path");
    const data = rings.map(([at, n]) => `M${Array.from({ length: n }, (_, k) => cloth.camera.toScreen(quilt.xy[2 * (at + k)], quilt.xy[2 * (at + k) + 1]).map((v) => v.toFixed(1)).join(" ")).join("L")}Z`).join("");
    path.setAttribute("d", data);
    for (const [key, value] of Object.entries(css)) path.setAttribute(key, value);
    svg.append(path);
  };
  if (page.joining) {
    for (const patch of quilt.patches) if (page.joining.has(patch.name)) outline(patch.rings, { fill: "rgba(47,95,99,.35)", stroke: "#2f5f63", "stroke-width": 2 });
  } else if (page.view === "spaces" && quilt.zones[page.selected]) {
    const chosen = quilt.zones[page.selected];
    for (const zone of quilt.zones) if (zone.name === chosen.name && zone.part === chosen.part && zone !== chosen) outline(zone.rings, { fill: "none", stroke: "#2f5f63", "stroke-width": 1.5, "stroke-dasharray": "5 4" });
    outline(chosen.inside, { fill: "none", stroke: "#fff", "stroke-width": 6, "stroke-opacity": 0.8 });
    outline(chosen.inside, { fill: "none", stroke: "#2f5f63", "stroke-width": 3 });
  }
}

async function load() {
  const mine = (page.asked += 1);
  const [buffer, zones] = await Promise.all([page.ask("/data"), page.ask("/zones")]);
  if (!buffer || !zones || mine !== page.asked) return;
  const before = quilt && quilt.zones[page.selected];
  const next = unpack(buffer);
  const first = !quilt || quilt.size[0] !== next.size[0] || quilt.size[1] !== next.size[1];
  quilt = next;
  page.zones = zones;
  if (first) begin();
  if (before) {
    page.selected = quilt.zones.findIndex((zone) => zone.label === before.label);
    if (page.selected < 0) page.selected = quilt.zones.findIndex((zone) => zone.name === before.name);
  }
  if (quilt.joined) {
    if (player) player.load(quilt);
    else player = new Player(quilt, cloth, () => {});
  }
  cloth.show(quilt);
  const typing = byId("beside").contains(document.activeElement) ? document.activeElement.id : "";
  const scroll = byId("beside").scrollTop;
  panel();
  byId("beside").scrollTop = scroll;
  if (typing && byId(typing)) byId(typing).focus();
  byId("cloth").dataset.ready = quilt.joined ? "joined" : quilt.pieces.length ? "drawn" : "top";
  if (quilt.joined) say(quilt.words[0]);
}

function begin() {
  const canvas = byId("cloth");
  const camera = new Camera(...quilt.size);
  const known = cloth !== null;
  if (known) cloth.camera = camera;
  else {
    cloth = new Cloth(canvas, camera);
    cloth.after = (context, ratio) => {
      if (page.view === "watch" && player && player.total) player.draw(context, ratio, cloth.camera);
      drawTapes(context, ratio, cloth.camera);
      marks();
    };
    moveBy(canvas, cloth, touched);
    new ResizeObserver(() => {
      cloth.camera.resize(canvas.clientWidth, canvas.clientHeight);
      cloth.draw();
    }).observe(canvas);
  }
  camera.resize(canvas.clientWidth, canvas.clientHeight);
  camera.fit();
}

async function heard(state) {
  const before = page.state;
  page.state = state;
  page.units = state.units || "in";
  byId("acts").hidden = byId("option-box").hidden = !state.open;
  byId("start").hidden = state.open;
  if (!state.open) {
    if (!before || before.open) byId("start").replaceChildren(startPage(state.plans, begun));
    return;
  }
  byId("title").textContent = state.title;
  document.title = `${state.title} - plumeline`;
  byId("undo").disabled = !state.can_undo;
  byId("redo").disabled = !state.can_redo;
  byId("option-box").hidden = !state.options.length;
  byId("option").replaceChildren(make("option", { value: "", text: "the plan as it stands" }), ...state.options.map((name) => make("option", { value: name, text: name, selected: name === state.option })));
  if (!before || before.number !== state.number || before.file !== state.file) await load();
  else if (before.error !== state.error) panel();
  if (state.busy && quilt) say("Joining the lines and measuring. You can go on.");
  if (state.error) say(state.error);
}

async function begun(table) {
  const state = await page.ask("/start", table);
  if (!state) return page.wrong;
  quilt = null;
  player = null;
  page.selected = -1;
  listen();
  await heard(state);
  return "";
}

let stream = null;

function listen() {
  if (stream) stream.close();
  stream = new EventSource("/events");
  stream.onmessage = (event) => heard(JSON.parse(event.data));
  stream.onerror = () => say("The program does not answer. Your plan is saved; if it was stopped, start it again.");
}

for (const name of ["spaces", "watch", "found", "take"]) {
  byId(`see-${name}`).addEventListener("click", () => {
    if (player && name !== "watch") player.pause();
    if (name === "spaces") page.selected = -1;
    page.view = name;
    panel();
    if (cloth) cloth.draw();
  });
}
byId("undo").addEventListener("click", () => page.edit({ do: "undo" }));
byId("redo").addEventListener("click", () => page.edit({ do: "redo" }));
byId("option").addEventListener("change", () => page.edit({ do: "option", option: byId("option").value || null }));
for (const [id, does] of [["closer", (camera) => camera.zoom(1.4)], ["farther", (camera) => camera.zoom(1 / 1.4)], ["whole", (camera) => camera.fit()]]) {
  byId(id).addEventListener("click", () => {
    if (!cloth) return;
    does(cloth.camera);
    cloth.draw();
  });
}
document.addEventListener("keydown", (event) => {
  if (event.target.matches("input, textarea, select")) return;
  const undo = (event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z";
  if (undo) {
    event.preventDefault();
    page.edit({ do: event.shiftKey ? "redo" : "undo" });
  } else if (event.key === "Escape" && cloth) {
    page.joining = null;
    page.select(-1);
  }
});

page.fills = (await page.ask("/fills")) || [];
const state = await page.ask("/state");
if (state) {
  listen();
  await heard(state);
}
