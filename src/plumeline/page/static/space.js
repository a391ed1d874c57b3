// The space that is touched: what is in it, ways of breaking it up, the film, ideas, and spaces that are alike.

import { button, make } from "./dom.js";
import { fieldOf } from "./fields.js";
import { ideasBox } from "./ideas.js";
import { smallPicture } from "./small.js";

const CHOOSING_MS = 300;

export function spacePanel(page, index) {
  const { quilt } = page;
  const zone = quilt.zones[index];
  const entry = page.zones.find((one) => one.name === zone.name);
  if (!entry) return make("p", { text: "This space is not in the plan." });
  const { part } = zone;
  const like = quilt.zones.filter((one) => one.name === zone.name && one.part === zone.part).length;
  const area = page.units === "in" ? `${Math.round(zone.area / 645.16).toLocaleString()} square inches` : `${Math.round(zone.area / 100).toLocaleString()} square cm`;
  const more = moreOf(page);
  tellMore(page, zone, entry, like, more);
  return make("div", {},
    make("p", {}, button("All spaces", () => page.select(-1), { "aria-label": "Back to all spaces" })),
    make("h2", { text: part ? `${zone.name}, ${part}` : zone.name }),
    make("p", { class: "soft", text: `${area}.${like > 1 ? ` A choice here goes into all ${like} of this name.` : ""}` }),
    fillForm(page, entry, part, stackOf(entry, part)),
    alsoThere(page, zone),
    more.box,
    like > 1 ? onlyThis(page, zone) : null,
    like > 1 ? oneDesign(page, entry) : null,
    make("h3", { text: "Ideas for this space" }), ideasKept(page, zone, entry));
}

// What the server tells of a space comes a moment later, into places that are there: nothing jumps away from her hand.
function moreOf(page) {
  const ways = make("div", { class: "pictures", role: "group", "aria-label": "Ways of breaking this space up" }, make("p", { class: "soft", text: "One moment." }));
  const breaking = make("details", { id: "break-up", open: page.breakOpen }, make("summary", { onclick: () => { page.breakOpen = !breaking.open; }, text: "Break it up" }), ways);
  const film = make("div", { id: "of-film" }, button("Draw on the film", () => {}, { id: "open-film", disabled: true }));
  return { box: make("div", { id: "of-space" }, breaking, film), ways, film };
}

// Ideas stay while she tries one after the other in the same space.
function ideasKept(page, zone, entry) {
  const of = JSON.stringify([page.state.file, zone.label, Math.round(zone.area), entry.divide, page.state.option]);
  if (!page.ideas || page.ideas.of !== of) page.ideas = { of, box: ideasBox(page, zone) };
  return page.ideas.box;
}

export function stackOf(entry, part) {
  if (entry.fill[part]) return entry.fill[part];
  const pattern = Object.keys(entry.fill).find((key) => {
    const [head, tail] = key.split("*");
    return tail !== undefined && part.startsWith(head) && part.endsWith(tail);
  });
  return pattern ? entry.fill[pattern] : [];
}

function onlyThis(page, zone) {
  const name = make("input", { type: "text", id: "part-name", value: freeName(page, zone.name) });
  return make("details", {}, make("summary", { text: "Only this one, or those of its shape" }),
    make("label", { class: "field" }, make("span", { text: "Name of the space by itself" }), name),
    make("div", { class: "row" }, partOff(page, zone, name, "Make it a space by itself", "part-off", false), make("span", { id: "of-shape" })));
}

function partOff(page, zone, name, words, id, alike) {
  return button(words, async () => {
    if (await page.edit({ do: "part-off", zone: zone.name, part: zone.part, number: zone.number, name: name.value, alike })) page.choose(name.value);
  }, { id });
}

// How the spaces of this kind share one design; by row and column, over and over.
const MIRRORS = [["each as it is", null], ["every other column mirrored", [false, true]], ["every other row mirrored", [[false], [true]]], ["like a checkerboard", [[false, true], [true, false]]], ["the right half mirrors the left", "left-right"], ["the lower half mirrors the upper", "top-bottom"], ["all four quarters mirror each other", "quarters"]];
const TURNS = [["upright", null], ["every other row upside down", [[0], [180]]], ["every other one turned by a quarter", [[0, 90], [90, 0]]], ["a quarter turn from one to the next", [[0, 90], [270, 180]]]];
const SHARES = [["each drawn in its own space", null], ["one design, fitted to all that are alike", true], ["one design in every size of this shape", "any-size"]];

function oneDesign(page, entry) {
  const choice = (key, words, ways) => {
    const now = JSON.stringify(entry[key] ?? null);
    const known = ways.some(([, value]) => JSON.stringify(value) === now) ? ways : [...ways, ["as the plan says", entry[key]]];
    const select = make("select", { id: `share-${key}`, onchange: () => page.edit({ do: "set", key: ["zone", entry.name, key], value: known[select.selectedIndex][1] }) },
      ...known.map(([text, value]) => make("option", { text, selected: JSON.stringify(value) === now })));
    return make("label", { class: "field" }, make("span", { text: words }), select);
  };
  const shared = Boolean(entry.alike);
  return make("details", { id: "one-design", open: shared }, make("summary", { text: "One design for all of these" }),
    choice("alike", "These spaces", SHARES),
    shared ? choice("mirror", "Mirrored", MIRRORS) : null, shared ? choice("turn", "Turned", TURNS) : null);
}

function freeName(page, name) {
  let k = 2;
  while (page.zones.some((one) => one.name === `${name} ${k}`)) k += 1;
  return `${name} ${k}`;
}

function alsoThere(page, zone) {
  const last = page.chosen;
  if (!last || last.zone !== zone.name || last.part !== zone.part || !last.alike || !last.alike.length) return null;
  const names = last.alike;
  return make("div", { class: "card ask", id: "also" },
    make("p", { text: `${names.length === 1 ? "One other space has" : `${names.length} other spaces have`} this shape: ${names.join(", ")}.` }),
    make("div", { class: "row" },
      button(names.length === 1 ? "Put it there too" : `Put it in all ${names.length} too`, () => {
        page.chosen = null;
        page.edit({ do: "choose", zone: names[0], part: zone.part, also: names.slice(1), stack: last.stack });
      }, { class: "main" }),
      button("Only here", () => { page.chosen = null; page.panel(); })));
}

async function tellMore(page, zone, entry, like, { box, ways, film }) {
  const said = await page.ask(`/space?zone=${encodeURIComponent(zone.name)}&part=${encodeURIComponent(zone.part)}&number=${zone.number}`);
  if (!said || !box.isConnected) {
    box.replaceChildren();
    return;
  }
  if (page.chosen && page.chosen.zone === zone.name && !page.chosen.alike) {
    page.chosen.alike = said.alike;
    const there = alsoThere(page, zone);
    if (there) box.parentElement.querySelector("#fill-form").after(there);
  }
  if (said.of_shape > 1 && said.of_shape < like) {
    const name = box.parentElement.querySelector("#part-name");
    box.parentElement.querySelector("#of-shape").replaceChildren(partOff(page, zone, name, `Make the ${said.of_shape} of this shape a space by themselves`, "part-off-alike", true));
  }
  const now = JSON.stringify(entry.divide);
  ways.replaceChildren(...said.divisions.map((one) =>
    make("button", { type: "button", class: "picture", "aria-pressed": String(JSON.stringify(one.steps) === now), onclick: () => page.edit({ do: "divide", zone: entry.name, steps: one.steps }) },
      smallPicture("", one.parts, [], { width: 180, height: 130, parts: true }), make("span", { text: one.words }))));
  ways.querySelectorAll("canvas").forEach((canvas) => {
    canvas.removeAttribute("role");
    canvas.removeAttribute("aria-label");
    canvas.setAttribute("aria-hidden", "true");
  });
  film.replaceChildren(button("Draw on the film", () => page.openFilm(zone, said.marks), { id: "open-film" }), make("p", { class: "soft", text: filmWords(said.marks) }));
  box.dataset.ready = "yes";
}

function filmWords(marks) {
  const count = (kind) => marks.filter((mark) => mark.kind === kind).length;
  const said = [["spine", "spine"], ["fence", "fence"], ["open", "place left open"]].map(([kind, word]) => [count(kind), word]).filter(([n]) => n)
    .map(([n, word]) => `${n} ${n === 1 ? word : word === "place left open" ? "places left open" : `${word}s`}`);
  return said.length ? `On it: ${said.join(", ")}.` : "Draw a spine and a feather grows from it, a fence that no plume crosses, or a place that stays open.";
}

function fillForm(page, entry, part, stack) {
  const layer = stack[0];
  const choose = (next) => page.edit({ do: "choose", zone: entry.name, part, stack: next }, { zone: entry.name, part, stack: next });
  let typing = 0; // going through the list by keys is one choice, not one for each name that is passed
  const chosen = () => {
    clearTimeout(typing);
    typing = setTimeout(() => choose(select.value ? [{ kind: select.value }] : []), CHOOSING_MS);
  };
  const select = make("select", { id: "kind", onchange: chosen },
    make("option", { value: "", text: "left open" }),
    ...page.fills.map((fill) => make("option", { value: fill.kind, text: fill.kind, selected: layer && fill.kind === layer.kind })));
  const box = make("div", { id: "fill-form" }, make("label", { class: "field" }, make("span", { text: "What is quilted here" }), select));
  if (!layer) {
    box.append(make("p", { class: "soft", text: "Nothing yet. Choose a fill, or look at ideas." }));
    return box;
  }
  const about = (kind) => page.fills.find((fill) => fill.kind === kind).about;
  box.append(make("p", { class: "soft", text: `${about(layer.kind)[0].toUpperCase()}${about(layer.kind).slice(1)}.` }));
  if (stack.length > 1) box.append(make("p", { class: "soft", text: `Then ${stack.slice(1).map((one) => one.kind).join(", then ")}, in what it leaves.` }));
  box.append(...stack.map((_, place) => settingsOf(page, stack, place, choose)));
  return box;
}

// The settings of one fill of a stack, made from its settings model: those that the plan says first.
function settingsOf(page, stack, place, choose) {
  const layer = stack[place];
  const form = page.fills.find((fill) => fill.kind === layer.kind);
  const changed = (key, value) => {
    const next = { ...layer };
    if (value === "" || value === null) delete next[key];
    else next[key] = value;
    return stack.map((one, k) => (k === place ? next : one));
  };
  const set = (key) => (value) => choose(changed(key, value));
  const follow = (key) => (value) => (value === null ? page.asPlanned() : page.tryOut(changed(key, value)));
  const said = form.fields.filter((field) => layer[field.key] !== undefined);
  const rest = form.fields.filter((field) => layer[field.key] === undefined);
  const whose = stack.length > 1 ? ` of ${layer.kind}, fill ${place + 1}` : "";
  const before = place ? `${place + 1}-` : "";
  const more = make("details", { id: place ? `settings-${place + 1}` : "settings", open: page.settingsOpen.has(place) },
    // kept at the click, not at the toggle that follows it: the panel may be drawn anew between the two
    make("summary", { onclick: () => { if (more.open) page.settingsOpen.delete(place); else page.settingsOpen.add(place); }, text: `Settings${whose}${said.length ? ` (${said.length} changed)` : ""}` }),
    ...[...said, ...rest].map((field) => fieldOf(field, layer[field.key], set(field.key), page, follow(field.key), before)));
  return more;
}
