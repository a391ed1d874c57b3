// Outlines over the cloth: the space that is chosen and those like it, patches that are being joined, a space in error.

import { byId } from "./dom.js";

export function drawMarks(page) {
  const svg = byId("marks");
  const { quilt, cloth } = page;
  svg.replaceChildren();
  const outline = (rings, css) => {
    const path = document.createElementNS(svg.namespaceURI, "path");
    path.setAttribute("d", rings.map(([at, n]) => `M${Array.from({ length: n }, (_, k) => cloth.camera.toScreen(quilt.xy[2 * (at + k)], quilt.xy[2 * (at + k) + 1]).map((v) => v.toFixed(1)).join(" ")).join("L")}Z`).join(""));
    for (const [key, value] of Object.entries(css)) path.setAttribute(key, value);
    svg.append(path);
  };
  const wrong = /zone '([^']+)'/.exec(page.state.error);
  if (wrong) for (const zone of quilt.zones) if (zone.name === wrong[1]) outline(zone.inside, { fill: "rgba(138,59,18,.25)", stroke: "#8a3b12", "stroke-width": 3 });
  if (page.joining) {
    for (const patch of quilt.patches) if (page.joining.has(patch.name)) outline(patch.rings, { fill: "rgba(47,95,99,.35)", stroke: "#2f5f63", "stroke-width": 2 });
  } else if (page.view === "spaces" && quilt.zones[page.selected] && !page.film) {
    const chosen = quilt.zones[page.selected];
    for (const zone of quilt.zones) if (zone.name === chosen.name && zone.part === chosen.part && zone !== chosen) outline(zone.inside, { fill: "none", stroke: "#2f5f63", "stroke-width": 2, "stroke-dasharray": "6 4" });
    outline(chosen.inside, { fill: "none", stroke: "#fff", "stroke-width": 7, "stroke-opacity": 0.85 });
    outline(chosen.inside, { fill: "none", stroke: "#2f5f63", "stroke-width": 3.5 });
  }
}
