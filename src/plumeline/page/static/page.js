// The page: asks the server, keeps what is chosen, and puts the parts together.

import { Camera } from "./camera.js";
import { Cloth } from "./cloth.js";
import { boxOfRings, patchAt, unpack, withFresh, zoneAt } from "./data.js";
import { button, byId, make } from "./dom.js";
import { takeDrops } from "./drop.js";
import { Film, overSpace } from "./film.js";
import { foundPanel } from "./found.js";
import { moveBy } from "./hands.js";
import { drawMarks } from "./marks.js";
import { mendOf } from "./mend.js";
import { Player } from "./player.js";
import { joinPanel, spacesPanel } from "./spaces.js";
import { SideBySide, optionsPanel } from "./sidebyside.js";
import { spacePanel } from "./space.js";
import { startPage } from "./start.js";
import { drawTapes } from "./tapes.js";
import { takePanel } from "./take.js";
import { watchPanel } from "./watch.js";

const VIEWS = ["spaces", "sides", "watch", "found", "take"];

const page = {
  state: null, fills: [], motifs: [], formats: [], zones: [], units: "in", selected: -1, view: "spaces", joining: null, chosen: null,
  film: null, ideas: null, quilt: null, cloth: null, player: null, wrong: "", settingsOpen: new Set(), breakOpen: false, folder: "", wanted: "",
};
let asked = 0;
let stream = null;
let sides = null;
let ended = false;
let trial = null; // fills that a slider asks to see
let trying = false;

page.say = (text) => { byId("said").textContent = text; };

// Ask the server; null when it has nothing or refuses, and `page.wrong` says why.
page.ask = async (path, body, withFigures = false) => {
  const settings = body === undefined ? {} : { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) };
  let answer;
  try {
    answer = await fetch(path, settings);
  } catch {
    gone();
    return null;
  }
  if (answer.status === 204) return null;
  const kind = answer.headers.get("Content-Type") || "";
  if (!answer.ok) {
    const found = kind.includes("json") ? await answer.json() : { error: await answer.text() };
    page.wrong = plainly(found.error);
    page.say(page.wrong);
    if (found.clash) clash(body);
    return null;
  }
  if (withFigures) return { buffer: await answer.arrayBuffer(), figures: JSON.parse(answer.headers.get("X-Figures")) };
  return kind.includes("json") ? answer.json() : kind.includes("octet") ? answer.arrayBuffer() : answer.blob();
};

// The file and the space that she is looking at need no naming again.
function plainly(error) {
  const file = page.state && page.state.file ? `${page.state.file}: ` : "";
  const short = file && error.startsWith(file) ? error.slice(file.length) : error;
  const zone = page.view === "spaces" && page.quilt ? page.quilt.zones[page.selected] : null;
  const named = zone ? `zone '${zone.name}': ` : "";
  return named && short.startsWith(named) ? short.slice(named.length) : short;
}

// Ask for many answers, one a line, each told as it comes.
page.stream = async (path, tell) => {
  let answer;
  try {
    answer = await fetch(path);
  } catch {
    gone();
    return;
  }
  if (!answer.ok) {
    page.say((await answer.json()).error);
    return;
  }
  const reader = answer.body.getReader();
  const decoder = new TextDecoder();
  let rest = "";
  for (;;) {
    const { done, value } = await reader.read();
    rest += done ? "" : decoder.decode(value, { stream: true });
    const lines = rest.split("\n");
    rest = lines.pop();
    lines.filter((line) => line).forEach((line) => tell(JSON.parse(line)));
    if (done) return;
  }
};

// One change of the plan; `chosen` is kept to offer it to spaces that are alike.
page.edit = async (body, chosen = null) => {
  page.say("One moment.");
  page.chosen = chosen;
  const wrongBefore = byId("beside").querySelector(".refused");
  if (wrongBefore) wrongBefore.remove();
  const looked = page.quilt && page.quilt.zones[page.selected];
  // the fields show what she wants, no longer what the panel was made from: should that come back, they are made anew
  const { shown } = byId("beside").dataset;
  delete byId("beside").dataset.shown;
  const state = await page.ask("/edit", looked ? { looking: looked.label, ...body } : body);
  if (!state) {
    if (shown && !byId("beside").dataset.shown) byId("beside").dataset.shown = shown;
    page.asPlanned();
    refused();
    return false;
  }
  page.joining = null;
  page.joinName = "";
  await heard(state);
  page.say("Saved in your plan.");
  return true;
};

function refused() {
  if (ended || byId("beside").querySelector("[role=alertdialog]")) return;
  byId("beside").prepend(make("p", { class: "card ask refused", role: "alert", text: page.wrong }));
  byId("beside").scrollTop = 0;
}

function gone() {
  page.wrong = "The program has stopped. Your plan is saved; start plumeline again to go on.";
  page.say(page.wrong);
  if (!byId("gone")) byId("beside").prepend(make("p", { id: "gone", class: "card ask", role: "alert", text: page.wrong }));
}

page.ended = () => {
  ended = true;
  if (stream) stream.close();
  byId("acts").hidden = true;
  byId("beside").replaceChildren(make("h2", { text: "The program has ended" }), make("p", { text: "Your plan is saved. You can close this page." }));
  page.say("The program has ended. Your plan is saved; you can close this page.");
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

page.redraw = () => { if (page.cloth) page.cloth.draw(); };

page.select = (index) => {
  if (page.selected !== index) page.chosen = null;
  page.selected = index;
  page.wanted = "";
  page.view = "spaces";
  page.panel();
  byId("beside").scrollTop = 0;
  page.redraw();
  if (index >= 0) {
    page.say(`${page.quilt.zones[index].label} is chosen.`);
    seeBeside();
  }
};

// In a low window what stands beside the quilt is below it: it comes into sight when she asks for it.
function seeBeside() {
  if (byId("beside").getBoundingClientRect().top > 0.7 * window.innerHeight) byId("beside").scrollIntoView({ block: "start" });
}

page.show = (name) => {
  const { zones } = page.quilt;
  const near = zones.map((zone, i) => [zone, i]).filter(([zone]) => name.startsWith(zone.name));
  const found = near.find(([zone]) => zone.label === name) || near.sort((a, b) => b[0].name.length - a[0].name.length)[0];
  if (!found) return;
  page.cloth.camera.fit(boxOfRings(page.quilt, found[0].rings), 0.7);
  page.select(found[1]);
};

// A space that is new in the plan is chosen as soon as it is drawn.
page.choose = (name) => {
  const found = page.quilt.zones.findIndex((zone) => zone.name === name);
  if (found >= 0) page.select(found);
  else page.wanted = name;
};

page.openFilm = (zone, marks) => {
  page.ideas = null; // they would be others with other marks
  page.film = new Film(page, zone, marks);
  page.panel();
  byId("beside").scrollTop = 0;
  page.say("The film is on. Draw with the pen, a finger or the mouse.");
};

page.closeFilm = () => {
  page.film.close();
  page.film = null;
  page.panel();
  page.redraw();
  page.say(page.quilt.joined ? page.quilt.words[0] : "The film is off.");
};

page.together = (what) => {
  sides = new SideBySide(page, what);
};

function touched([x, y]) {
  const { quilt } = page;
  if (!quilt || page.film) return;
  if (page.joining) {
    const patch = patchAt(quilt, x, y);
    if (patch < 0) return;
    const { name } = quilt.patches[patch];
    if (!page.joining.delete(name)) page.joining.add(name);
    page.say(`${page.joining.size} patches chosen, ${name} last.`);
    page.panel();
    page.redraw();
    return;
  }
  const zone = zoneAt(quilt, x, y);
  if (zone >= 0) page.select(zone);
  else if (patchAt(quilt, x, y) < 0) page.select(-1);
  else if (page.state.busy && !quilt.joined) page.say("The spaces are still being filled. One moment.");
  else {
    page.joining = new Set([quilt.patches[patchAt(quilt, x, y)].name]);
    page.say("This patch is in no space yet. Touch more to join them, then give the space a name.");
    page.panel();
    page.redraw();
  }
}

page.panel = () => {
  const panels = {
    spaces: () => (page.film ? page.film.panel() : page.joining ? joinPanel(page) : page.selected >= 0 && page.quilt.zones[page.selected] ? spacePanel(page, page.selected) : spacesPanel(page)),
    sides: () => optionsPanel(page),
    watch: () => watchPanel(page.player),
    found: () => foundPanel(page.quilt, page.show, mendOf(page)),
    take: () => takePanel(page),
  };
  for (const name of VIEWS) byId(`see-${name}`).setAttribute("aria-pressed", String(page.view === name));
  byId("beside").replaceChildren(...errorCard(), page.quilt ? panels[page.view]() : make("p", { text: "Reading the top." }));
  const now = page.view === "spaces" && page.quilt ? page.quilt.zones[page.selected] : null;
  byId("beside").dataset.shown = now ? shownOf(now) : "";
};

function errorCard() {
  const { error } = page.state;
  if (!error) return [];
  const found = /zone '([^']+)'/.exec(error);
  const zone = found && page.quilt && page.quilt.zones.some((one) => one.name === found[1]) ? found[1] : null;
  return [make("div", { class: "card ask", role: "alert" }, make("p", { text: error }), make("p", { class: "soft", text: "The quilt is shown as it was before that. Mend the file, and the page takes it up." }),
    zone ? button(`Go to ${zone}`, () => page.show(zone)) : null)];
}

async function load() {
  const mine = (asked += 1);
  const [buffer, zones] = await Promise.all([page.ask("/data"), page.ask("/zones")]);
  if (!buffer || !zones || mine !== asked) return;
  const before = page.quilt && page.quilt.zones[page.selected];
  const next = unpack(buffer);
  const first = !page.quilt || page.quilt.size[0] !== next.size[0] || page.quilt.size[1] !== next.size[1];
  page.quilt = next;
  page.whole = null;
  page.zones = zones;
  if (first) begin();
  if (before) {
    page.selected = next.zones.findIndex((zone) => zone.label === before.label);
    if (page.selected < 0) page.selected = next.zones.findIndex((zone) => zone.name === before.name);
  }
  if (next.joined) {
    if (page.player) page.player.load(next);
    else page.player = new Player(next, page.cloth, () => {});
  }
  page.cloth.show(next);
  panelAgain(before);
  if (page.wanted) page.choose(page.wanted);
  if (page.film) page.film.reread();
  byId("cloth").dataset.ready = next.joined ? "joined" : next.pieces.length ? "drawn" : "top";
  byId("cloth").dataset.number = page.state.number;
  if (next.joined) page.say(next.words[0]);
}

// What a change has filled so far, before the rest of it is there.
async function loadFresh() {
  const mine = (asked += 1);
  const { number } = page.state;
  const buffer = await page.ask("/fresh");
  if (!buffer || mine !== asked || !page.quilt) return;
  layOver(buffer);
  byId("cloth").dataset.ready = "drawn";
  byId("cloth").dataset.number = number;
}

function layOver(buffer) {
  page.whole = page.whole && page.whole.zones.length === page.quilt.zones.length ? page.whole : page.quilt;
  page.quilt = withFresh(page.whole, buffer);
  showOver(page.quilt, page.quilt.fresh);
}

function showOver(quilt, places) {
  page.cloth.showPart(quilt, places.map((place) => boxOfRings(quilt, quilt.zones[place].rings)));
}

// While a slider moves, the picture of the space follows the hand; the newest value wins, and nothing is written.
page.tryOut = async (stack) => {
  trial = stack;
  if (trying) return;
  trying = true;
  while (trial) {
    const [zone, mine, now] = [page.quilt.zones[page.selected], asked, trial];
    trial = null;
    const buffer = zone && await page.ask("/try", { zone: zone.name, part: zone.part, number: zone.number, stack: now });
    if (buffer && mine === asked && trial !== false) layOver(buffer);
    if (trial === false) trial = null;
  }
  trying = false;
  byId("cloth").dataset.tried = Number(byId("cloth").dataset.tried || 0) + 1;
};

page.asPlanned = () => {
  trial = trying ? false : null; // what is on its way is not shown any more
  if (!page.whole || page.state.fresh) return;
  const places = page.quilt.fresh;
  [page.quilt, page.whole] = [page.whole, null];
  showOver(page.quilt, places);
};

// The panel anew, unless it shows what the new quilt does not change: what she types or watches must not jump away.
function panelAgain(before) {
  const beside = byId("beside");
  if (page.film || (page.view === "take" && beside.querySelector("#written"))) return;
  const now = page.quilt.zones[page.selected];
  if (page.view === "spaces" && before && now && beside.dataset.shown === shownOf(now)) return;
  const field = beside.contains(document.activeElement) ? document.activeElement : null;
  if (field && field.matches("input[type=text]") && field.value !== field.defaultValue) return;
  const typing = beside.contains(document.activeElement) ? document.activeElement.id : "";
  const scroll = beside.scrollTop;
  const marked = field && field.matches("input[type=text]") ? [field.selectionStart, field.selectionEnd] : null;
  page.panel();
  beside.scrollTop = scroll;
  if (!typing || !byId(typing)) return;
  byId(typing).focus();
  if (marked) byId(typing).setSelectionRange(...marked);
}

function shownOf(zone) {
  const entry = page.zones.find((one) => one.name === zone.name);
  return JSON.stringify([zone.label, entry, page.quilt.zones.filter((one) => one.name === zone.name).length, page.state.error]);
}

function begin() {
  const canvas = byId("cloth");
  const camera = new Camera(...page.quilt.size);
  if (page.cloth) page.cloth.camera = camera;
  else {
    const cloth = new Cloth(canvas, camera);
    page.cloth = cloth;
    cloth.after = (context, ratio) => {
      if (page.view === "watch" && page.player && page.player.total) page.player.draw(context, ratio, cloth.camera);
      if (page.film) page.film.paint(context, ratio);
      drawTapes(context, ratio, cloth.camera, page.units);
      drawMarks(page);
    };
    penBy(canvas);
    moveBy(canvas, cloth, touched);
    new ResizeObserver(() => {
      cloth.camera.resize(canvas.clientWidth, canvas.clientHeight);
      cloth.draw();
    }).observe(canvas);
  }
  camera.resize(canvas.clientWidth, canvas.clientHeight);
  camera.fit(undefined, 0.9);
}

// While the film has a pen, the pointer draws instead of moving the quilt.
function penBy(canvas) {
  const at = (event) => {
    const box = canvas.getBoundingClientRect();
    return page.cloth.camera.toQuilt(event.clientX - box.left, event.clientY - box.top);
  };
  let pen = null;
  canvas.addEventListener("pointerdown", (event) => {
    if (!page.film || pen !== null || !overSpace(page.film, at(event)) && page.film.tool === "open") return;
    if (!page.film.down(at(event))) return;
    pen = event.pointerId;
    canvas.setPointerCapture(pen);
    event.stopImmediatePropagation();
  });
  canvas.addEventListener("pointermove", (event) => {
    if (event.pointerId !== pen) return;
    event.stopImmediatePropagation();
    if (page.film) page.film.move(at(event));
  });
  const up = (event) => {
    if (event.pointerId !== pen) return;
    pen = null;
    event.stopImmediatePropagation();
    if (page.film) page.film.up();
  };
  canvas.addEventListener("pointerup", up);
  canvas.addEventListener("pointercancel", up);
}

async function heard(state) {
  if (ended) return;
  const before = page.state;
  if (before && before.file === state.file && before.number > state.number) return; // an answer that news has overtaken
  page.state = state;
  page.units = state.units || "in";
  byId("acts").hidden = byId("option-box").hidden = !state.open;
  byId("start").hidden = state.open;
  document.body.classList.toggle("starting", !state.open);
  if (!state.open) {
    if (!before || before.open) {
      byId("start").replaceChildren(startPage(state, begun));
      page.say("Choose how to begin.");
    }
    return;
  }
  byId("title").textContent = state.title;
  document.title = `${state.title} - plumeline`;
  byId("undo").disabled = !state.can_undo;
  byId("redo").disabled = !state.can_redo;
  byId("option-box").hidden = !state.options.length;
  const shown = JSON.stringify([state.options, state.option]);
  if (byId("option").dataset.shown !== shown) {
    byId("option").dataset.shown = shown;
    byId("option").replaceChildren(make("option", { value: "", text: "the plan as it stands" }), ...state.options.map((name) => make("option", { value: name, text: name, selected: name === state.option })));
  }
  if (!before || before.number !== state.number || before.file !== state.file) await (state.fresh && page.quilt ? loadFresh() : load());
  if (before && before.error !== state.error) page.panel();
  if (state.busy) page.say(state.doing ? `${state.doing[0].toUpperCase()}${state.doing.slice(1)}. You can go on.` : "One moment.");
  if (state.error) page.say(state.error);
}

async function begun(table) {
  const state = await page.ask("/start", table);
  if (!state) return page.wrong;
  Object.assign(page, { quilt: null, player: null, selected: -1, film: null, view: "spaces" });
  listen();
  await heard(state);
  return "";
}

function listen() {
  if (stream) stream.close();
  stream = new EventSource("/events");
  stream.onmessage = (event) => {
    const lost = byId("gone");
    if (lost) lost.remove();
    heard(JSON.parse(event.data));
  };
  stream.onerror = () => { if (!ended) gone(); };
}

for (const name of VIEWS) {
  byId(`see-${name}`).addEventListener("click", () => {
    if (page.player && name !== "watch") page.player.pause();
    if (page.film) page.closeFilm();
    if (sides) {
      sides.close();
      sides = null;
    }
    if (name === "spaces") page.selected = -1;
    page.view = name;
    page.panel();
    byId("beside").scrollTop = 0;
    page.redraw();
    seeBeside();
  });
}
byId("undo").addEventListener("click", () => page.edit({ do: "undo" }));
byId("redo").addEventListener("click", () => page.edit({ do: "redo" }));
byId("option").addEventListener("change", () => page.edit({ do: "option", option: byId("option").value || null }));
for (const [id, does] of [["closer", (camera) => camera.zoom(1.4)], ["farther", (camera) => camera.zoom(1 / 1.4)], ["whole", (camera) => camera.fit(undefined, 0.9)]]) {
  byId(id).addEventListener("click", () => {
    if (!page.cloth) return;
    does(page.cloth.camera);
    page.redraw();
  });
}
document.addEventListener("keydown", (event) => {
  if (event.target.matches("input, textarea, select")) return;
  if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z") {
    event.preventDefault();
    page.edit({ do: event.shiftKey ? "redo" : "undo" });
  } else if (event.key === "Escape" && page.cloth) {
    if (sides) {
      sides.close();
      sides = null;
    } else if (page.film) page.closeFilm();
    else {
      page.joining = null;
      page.select(-1);
    }
  }
});
takeDrops(begun, () => page.state && !page.state.open);

const [known, state] = await Promise.all([page.ask("/fills"), page.ask("/state")]);
if (known) Object.assign(page, known);
if (state) {
  listen();
  await heard(state);
}
