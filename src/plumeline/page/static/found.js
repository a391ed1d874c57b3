// What the program noticed, as short cards, and the figures.

import { button, make } from "./dom.js";

export function figuresTable(quilt) {
  return make("table", {}, ...quilt.figures.map(([name, value]) => make("tr", {}, make("th", { scope: "row", text: name }), make("td", { text: value }))));
}

export function foundPanel(quilt, show, mend) {
  if (!quilt.joined) return make("p", { text: "The quilt is still being joined and measured. Wait a moment." });
  const order = { error: 0, warning: 1, note: 2 };
  const found = [...quilt.findings].sort((a, b) => order[a.severity] - order[b.severity]);
  return make("div", {},
    make("h2", { text: "The quilt in figures" }), figuresTable(quilt),
    make("h2", { text: found.length ? `Noticed: ${found.length}` : "Nothing to say" }),
    ...found.map((one) => make("div", { class: "card finding" },
      make("p", { class: one.severity === "note" ? "" : "warn", text: `${one.zone ? `${one.zone}: ` : ""}${one.text}` }),
      make("p", { class: "soft", text: one.todo }),
      make("div", { class: "row" },
        one.zone && quilt.zones.some((zone) => one.zone.startsWith(zone.name)) ? button("Show it", () => show(one.zone)) : null,
        mend ? mend(one) : null))));
}
