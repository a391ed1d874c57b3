// The space that is touched: its name, its fill and settings, ways of breaking it up, ideas.

import { button, make } from "./dom.js";
import { trace } from "./cloth.js";

export const DIVISIONS = [
  ["whole", "Whole", []],
  ["frame", "A frame", [{ by: "frame" }]],
  ["on-point", "A square on point", [{ by: "on-point" }]],
  ["circle", "A circle", [{ by: "circle" }]],
  ["wedges", "Four wedges", [{ by: "wedges", count: 4 }]],
  ["grid", "Four parts", [{ by: "grid", rows: 2, cols: 2 }]],
];

export function spacePanel(page, quilt, index) {
  const zone = quilt.zones[index];
  const entry = page.zones.find((one) => one.name === zone.name);
  if (!entry) return make("p", { text: "This space is not in the plan." });
  const { part } = zone;
  const stack = stackOf(entry, part);
  const alike = quilt.zones.filter((one) => one.name === zone.name && one.part === zone.part).length;
  const inches = (zone.area / 645.16).toLocaleString(undefined, { maximumFractionDigits: 0 });
  return make("div", {},
    make("p", {}, button("All spaces", () => page.select(-1), { "aria-label": "Back to all spaces" })),
    make("h2", { text: part ? `${zone.name}, ${part}` : zone.name }),
    make("p", { class: "soft", text: `${inches} square inches. ${alike > 1 ? `A choice here goes into all ${alike} like it.` : ""}` }),
    fillForm(page, entry, part, stack),
    make("h3", { text: "Break it up" }),
    make("div", { class: "row", role: "group", "aria-label": "Ways of breaking this space up" },
      ...DIVISIONS.map(([, words, steps]) => button(words, () => page.edit({ do: "divide", zone: entry.name, steps }),
        { "aria-pressed": String(JSON.stringify(steps) === JSON.stringify(entry.divide)) }))),
    make("h3", { text: "Ideas for this space" }),
    ideasBox(page, entry.name, part));
}

export function stackOf(entry, part) {
  if (entry.fill[part]) return entry.fill[part];
  const pattern = Object.keys(entry.fill).find((key) => {
    const [head, tail] = key.split("*");
    return tail !== undefined && part.startsWith(head) && part.endsWith(tail);
  });
  return pattern ? entry.fill[pattern] : [];
}

function fillForm(page, entry, part, stack) {
  const layer = stack[0];
  const choose = (next) => page.edit({ do: "choose", zone: entry.name, part, stack: next });
  const select = make("select", { id: "kind", onchange: () => choose(select.value ? [{ kind: select.value }] : []) },
    make("option", { value: "", text: "left open" }),
    ...page.fills.map((fill) => make("option", { value: fill.kind, text: fill.kind, selected: layer && fill.kind === layer.kind })));
  const box = make("div", {}, make("label", { class: "field" }, make("span", { text: "Fill" }), select));
  if (!layer) return box;
  const form = page.fills.find((fill) => fill.kind === layer.kind);
  box.append(make("p", { class: "soft", text: form.about }));
  if (stack.length > 1) box.append(make("p", { class: "soft", text: `Then ${stack.slice(1).map((one) => one.kind).join(", then ")}.` }));
  const set = (key, value) => {
    const next = { ...layer };
    if (value === "" || value === null) delete next[key];
    else next[key] = value;
    choose([next, ...stack.slice(1)]);
  };
  const more = make("details", { open: Object.keys(layer).length > 1 }, make("summary", { text: "Settings" }));
  for (const field of form.fields) more.append(fieldOf(field, layer[field.key], set, page.units));
  box.append(more);
  return box;
}

function fieldOf(field, value, set, units) {
  const id = `set-${field.key}`;
  const name = field.key.replaceAll("_", " ");
  let input;
  if (field.kind === "choice") {
    input = make("select", { id, onchange: () => set(field.key, input.value) },
      ...field.choices.map((choice) => make("option", { value: choice, text: choice, selected: choice === (value ?? field.default) })));
  } else if (field.kind === "yes-no") {
    input = make("input", { id, type: "checkbox", checked: Boolean(value ?? field.default), onchange: () => set(field.key, input.checked) });
  } else {
    const usual = field.default === null ? "as it suits the space" : field.kind === "length" ? inUnits(field.default, units) : String(field.default);
    const read = (text) => {
      if (text.trim() === "") return "";
      if (field.kind === "text" || field.kind === "length") return text.trim();
      const number = Number(text);
      return Number.isFinite(number) ? number : text.trim();
    };
    input = make("input", { id, type: "text", value: value ?? "", placeholder: usual, onchange: () => set(field.key, read(input.value)), "aria-describedby": `${id}-about` });
  }
  const limits = field.kind === "length" && field.least !== null && field.most !== null && field.most < 5000
    ? ` From ${inUnits(field.least, units)} to ${inUnits(field.most, units)}.`
    : field.kind === "number" && field.least !== null && field.most !== null ? ` From ${field.least} to ${field.most}.` : "";
  return make("label", { class: "field" }, make("span", { text: name }), input, make("span", { class: "soft", id: `${id}-about`, text: `${field.about}.${limits}` }));
}

function inUnits(mm, units) {
  if (units === "in") return `${Number((mm / 25.4).toFixed(3))} in`;
  return units === "cm" ? `${mm / 10} cm` : `${mm} mm`;
}

function ideasBox(page, zone, part) {
  const box = make("div", { "aria-live": "polite" });
  const show = async () => {
    box.replaceChildren(make("p", { class: "soft", text: "Drawing ideas in this very space. This takes some seconds." }));
    const found = await page.ask(`/ideas?zone=${encodeURIComponent(zone)}&part=${encodeURIComponent(part)}`);
    if (!found) {
      box.replaceChildren();
      return;
    }
    box.replaceChildren(...found.map((idea, place) => ideaCard(page, zone, part, idea, place)));
  };
  box.append(button("Show me ideas", show, { id: "show-ideas", class: "main" }));
  return box;
}

function ideaCard(page, zone, part, idea, place) {
  const canvas = make("canvas", { width: 600, height: 420, role: "img", "aria-label": `${idea.name} drawn in this space` });
  drawIdea(canvas, idea);
  const lines = idea.lines === 1 ? "one line" : `${idea.lines} lines`;
  const why = idea.reasons.map((reason) => reason.text).join("; ");
  return make("div", { class: "card idea" }, canvas,
    make("p", {}, make("strong", { text: `${place + 1}. ${idea.name}` })),
    make("p", { text: why ? `${why[0].toUpperCase()}${why.slice(1)}.` : "Nothing speaks for it or against it." }),
    make("p", { class: "soft", text: `${lines}, ${Math.max(1, Math.round(idea.minutes))} min, widest gap ${(idea.widest_gap_mm / 25.4).toFixed(1)} in, ${idea.by_hand} by hand` }),
    button("Use this", () => page.edit({ do: "choose", zone, part, stack: idea.stack }), { "aria-label": `Use ${idea.name}` }));
}

function drawIdea(canvas, idea) {
  const context = canvas.getContext("2d");
  const all = idea.outline.flat();
  const [xs, ys] = [all.map((p) => p[0]), all.map((p) => p[1])];
  const [left, top, right, bottom] = [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
  const scale = Math.min(580 / (right - left), 400 / (bottom - top));
  canvas.height = Math.min(420, Math.ceil((bottom - top) * scale + 20));
  context.setTransform(scale, 0, 0, scale, 300 - ((left + right) / 2) * scale, canvas.height / 2 - ((top + bottom) / 2) * scale);
  const path = (points) => {
    const flat = points.flat();
    context.beginPath();
    trace(context, flat, 0, points.length);
  };
  for (const ring of idea.outline) {
    path(ring);
    context.fillStyle = "#f3ecdc";
    context.fill("evenodd");
    context.strokeStyle = "#a99b82";
    context.lineWidth = 1.5 / scale;
    context.stroke();
  }
  context.strokeStyle = "#4d4030";
  context.lineWidth = Math.max(0.45, 1.3 / scale);
  for (const points of idea.paths) {
    path(points);
    context.stroke();
  }
}
