// Ideas for a space, drawn in that very space: they come one by one, the best first, and two to four go side by side.

import { button, make } from "./dom.js";
import { smallPicture } from "./small.js";
import { shortly } from "./tapes.js";

const MOST = 4;
const LONG = 2; // times as wide as high

export function ideasBox(page, { name: zone, part, number }) {
  const said = make("p", { class: "soft", role: "status" });
  const list = make("div", { id: "ideas" });
  const chosen = new Set();
  const beside = button("Side by side", () => page.together([...chosen].map((idea) => sideOf(page, zone, part, idea))), { disabled: true, id: "ideas-beside" });
  const tick = (idea, on) => {
    if (on) chosen.add(idea);
    else chosen.delete(idea);
    beside.disabled = chosen.size < 2 || chosen.size > MOST;
    beside.textContent = chosen.size ? `Side by side: ${chosen.size}` : "Side by side";
    said.textContent = chosen.size > MOST ? "Four at most go side by side." : "";
  };
  const show = async () => {
    go.hidden = true;
    said.textContent = "Drawing ideas in this very space.";
    const found = [];
    await page.stream(`/ideas?zone=${encodeURIComponent(zone)}&part=${encodeURIComponent(part)}&number=${number}`, (idea) => {
      const card = ideaCard(page, zone, part, idea, tick);
      const before = found.findIndex((other) => other.points < idea.points);
      const at = before < 0 ? found.length : before;
      list.insertBefore(card, list.children[at] || null);
      found.splice(at, 0, idea);
      [...list.children].forEach((one, k) => { one.querySelector(".place").textContent = `${k + 1}. `; });
      said.textContent = `${found.length} ideas so far, best first.`;
    });
    said.textContent = found.length ? `${found.length} ideas, best first. Tick two to four to see them side by side.` : "No fill has an answer for this space.";
    if (found.length > 1) list.before(make("div", { class: "row" }, beside));
    list.dataset.done = "yes";
  };
  const go = button("Show me ideas", show, { id: "show-ideas", class: "main" });
  return make("div", {}, go, said, list);
}

export function ideaFigures(idea, units) {
  return [
    ["lines", String(idea.lines)],
    ["at the machine", `${Math.max(1, Math.round(idea.minutes))} min`],
    ["widest gap", shortly(idea.widest_gap_mm, units)],
    ["tightness", idea.tight.toFixed(1)],
    ["by hand", idea.by_hand],
  ];
}

async function use(page, zone, part, idea, pressed = null) {
  const others = pressed ? pressed.closest("#ideas").querySelectorAll("button[aria-pressed]") : [];
  others.forEach((one) => one.setAttribute("aria-pressed", String(one === pressed))); // at once: it may be a while until it is drawn
  const done = await page.edit({ do: "choose", zone, part, stack: idea.stack }, { zone, part, stack: idea.stack });
  if (!done && pressed) pressed.setAttribute("aria-pressed", "false");
}

function sideOf(page, zone, part, idea) {
  return { name: idea.name, idea, figures: ideaFigures(idea, page.units), words: reasonOf(idea), take: ["Use this", () => use(page, zone, part, idea)] };
}

function reasonOf(idea) {
  const why = idea.reasons.map((reason) => reason.text).join("; ");
  return why ? `${why[0].toUpperCase()}${why.slice(1)}.` : "Nothing speaks for it or against it.";
}

function ideaCard(page, zone, part, idea, tick) {
  const lines = idea.lines === 1 ? "one line" : `${idea.lines} lines`;
  const [, [, minutes], [, gap]] = ideaFigures(idea, page.units);
  const picture = smallPicture(`${idea.name} drawn in this space`, idea.outline, idea.paths);
  const long = picture.width > LONG * picture.height; // beside its words it would be too small to see
  return make("div", { class: long ? "card idea long" : "card idea" }, picture,
    make("div", {}, make("p", {}, make("strong", {}, make("span", { class: "place" }), idea.name)),
      make("p", { text: reasonOf(idea) }),
      make("p", { class: "soft", text: `${lines}, ${minutes}, widest gap ${gap}, ${idea.by_hand} by hand` })),
    make("div", { class: "row" }, button("Use this", (event) => use(page, zone, part, idea, event.currentTarget), { "aria-label": `Use ${idea.name}`, "aria-pressed": "false" }),
      make("label", { class: "tick" }, make("input", { type: "checkbox", onchange: (event) => tick(idea, event.target.checked) }), make("span", { text: ` compare ${idea.name}` }))));
}
