// The list of spaces, joining patches into one, and what is shown on the cloth.

import { button, byId, make } from "./dom.js";

export function spacesPanel(page) {
  const { quilt, cloth } = page;
  const rows = page.zones.flatMap((zone) => zone.parts.map((part) => [zone, part]));
  return make("div", {},
    make("h2", { text: "Spaces" }),
    make("p", { class: "soft", text: rows.length ? "Touch a space on the quilt, or choose one here." : "No space yet. Join patches into the first one." }),
    make("ul", { class: "list", id: "spaces" }, ...rows.map(([zone, part]) => spaceRow(page, zone, part))),
    quilt.zones.length && quilt.zones.every((zone) => zone.open) ? make("p", {}, button("Propose something for all of them", () => byId("see-sides").click(), { id: "propose" })) : null,
    make("p", {}, button("Join patches into a space", () => { page.joining = new Set(); page.panel(); page.cloth.draw(); }, { id: "join-start" })),
    make("details", {}, make("summary", { text: "Show on the cloth" }), ...["quilting", "seams", "fences"].map((layer) => make("label", { class: "field tick" },
      make("input", { type: "checkbox", checked: cloth.layers[layer], onchange: (event) => cloth.set(layer, event.target.checked) }), make("span", { text: ` ${layer}` })))),
    quilt.joined ? null : make("p", { class: "soft", text: "The quilting is still being drawn and joined. You can go on." }));
}

function spaceRow(page, zone, part) {
  const { zones } = page.quilt;
  const alike = zones.filter((one) => one.name === zone.name && one.part === part);
  const index = zones.indexOf(alike[0]);
  const label = part ? `${zone.name}, ${part}` : zone.name;
  const wrong = page.state.error.includes(`zone '${zone.name}'`) ? " (needs mending)" : "";
  const open = alike.length && alike[0].open ? ": nothing quilted yet" : "";
  return make("li", {}, button(`${label}${alike.length > 1 ? ` (${alike.length})` : ""}${open}${wrong}`, () => page.select(index), { class: "wide", disabled: index < 0 }));
}

export function joinPanel(page) {
  const { quilt, joining } = page;
  const name = make("input", { type: "text", id: "join-name", value: page.joinName || `space ${page.zones.length + 1}`, oninput: () => { page.joinName = name.value; } });
  const leave = () => { page.joining = null; page.panel(); page.cloth.draw(); };
  return make("div", {},
    make("h2", { text: "Join patches" }),
    make("p", { text: "Touch patches on the quilt, or tick them here. The seams between them are forgotten." }),
    make("label", { class: "field" }, make("span", { text: "Name of the space" }), name),
    make("div", { class: "row" },
      button(`Join ${joining.size}`, () => page.edit({ do: "join", name: name.value, patches: [...joining] }), { class: "main", id: "join-now", disabled: !joining.size }),
      button("Leave it", leave)),
    make("details", {}, make("summary", { text: "All patches" }),
      make("ul", { class: "list" }, ...quilt.patches.map((patch) => make("li", {}, make("label", { class: "tick" },
        make("input", { type: "checkbox", checked: joining.has(patch.name), onchange: (event) => {
          if (event.target.checked) joining.add(patch.name);
          else joining.delete(patch.name);
          byId("join-now").textContent = `Join ${joining.size}`;
          byId("join-now").disabled = !joining.size;
          page.cloth.draw();
        } }), make("span", { text: ` ${patch.name}` })))))));
}
