// Two to four ideas side by side in one window: move one and all move; figures below each.

import { Camera } from "./camera.js";
import { Cloth, trace } from "./cloth.js";
import { unpack } from "./data.js";
import { button, byId, make } from "./dom.js";
import { moveBy } from "./hands.js";
import { wholeSet } from "./wholeset.js";

// An idea for one space, or a quilt with one of the plan's options.
export class SideBySide {
  constructor(page, sides) {
    this.page = page;
    this.box = byId("together");
    this.box.hidden = false;
    document.body.classList.add("together");
    this.cloths = [];
    this.shared = null;
    this.box.replaceChildren(
      make("div", { class: "row" }, make("h2", { text: "Side by side", tabindex: -1 }), button("Back to the quilt", () => this.close(), { id: "together-close" })),
      make("div", { class: "sides", id: "sides" }, ...sides.map((side) => this.side(side))));
    this.box.querySelector("h2").focus();
    this.fit();
  }

  side(side) {
    const canvas = make("canvas", { tabindex: 0, role: "img", "aria-label": `${side.name}. Arrow keys and plus and minus move all of them.` });
    const quilt = side.quilt || this.page.quilt;
    this.shared ||= new Camera(...quilt.size);
    const cloth = new Cloth(canvas, this.shared);
    this.cloths.push([cloth, side, quilt]);
    const [words, act] = side.take || ["", null];
    return make("section", { class: "card side", "aria-label": side.name },
      make("h3", { text: side.name }), make("div", { class: "window" }, canvas),
      side.words ? make("p", { class: "soft", text: side.words }) : null,
      make("table", {}, ...side.figures.map(([name, value]) => make("tr", {}, make("th", { scope: "row", text: name }), make("td", { text: value })))),
      act ? button(words, () => { this.close(); act(); }, { "aria-label": `${words}: ${side.name}` }) : null);
  }

  fit() {
    const all = () => { for (const [cloth] of this.cloths) cloth.draw(); };
    for (const [cloth, side, quilt] of this.cloths) {
      const { canvas } = cloth;
      if (side.idea) {
        cloth.layers = { quilting: false, seams: true, fences: false };
        cloth.after = (context, ratio) => paintIdea(context, ratio, this.shared, side.idea);
      }
      cloth.show(quilt);
      moveBy(canvas, { camera: this.shared, draw: all }, () => {});
    }
    const first = this.cloths[0][0].canvas;
    const idea = this.cloths[0][1].idea;
    this.shared.resize(first.clientWidth, first.clientHeight);
    this.shared.fit(idea ? boxOf(idea.outline) : undefined, 0.9);
    this.watch = new ResizeObserver(() => {
      this.shared.resize(first.clientWidth, first.clientHeight);
      all();
    });
    this.watch.observe(first);
    all();
  }

  close() {
    this.watch.disconnect();
    this.box.hidden = true;
    document.body.classList.remove("together");
    this.box.replaceChildren();
    byId("cloth").focus();
  }
}

function boxOf(rings) {
  const all = rings.flat();
  const [xs, ys] = [all.map((p) => p[0]), all.map((p) => p[1])];
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
}

function paintIdea(context, ratio, camera, idea) {
  const scale = camera.scale * ratio;
  const [ox, oy] = camera.toScreen(0, 0);
  context.save();
  context.setTransform(scale, 0, 0, scale, ox * ratio, oy * ratio);
  context.strokeStyle = "#4d4030";
  context.lineWidth = Math.max(0.5, 1.2 / scale);
  context.lineJoin = "round";
  for (const path of idea.paths) {
    context.beginPath();
    trace(context, path.flat(), 0, path.length);
    context.stroke();
  }
  context.restore();
}

// What the plan holds: itself and its options; two to four of them are joined and measured, which takes a while.
export function optionsPanel(page) {
  const names = [null, ...page.state.options];
  const ticked = new Set(names.slice(0, Math.min(4, names.length)));
  const said = make("p", { class: "soft", role: "status" });
  const go = button("Put them side by side", async () => {
    const sides = [];
    for (const name of ticked) {
      said.textContent = `Joining and measuring ${name || "the plan as it stands"}. A large quilt takes a minute.`;
      const answer = await page.ask(`/beside?option=${encodeURIComponent(name || "")}`, undefined, true);
      if (!answer) {
        said.textContent = page.wrong;
        return;
      }
      sides.push({ name: name || "the plan as it stands", quilt: unpack(answer.buffer), figures: answer.figures, take: ["Go on with this one", () => page.edit({ do: "option", option: name })] });
    }
    said.textContent = "";
    page.together(sides);
  }, { class: "main", id: "options-beside", disabled: ticked.size < 2 });
  return make("div", {}, make("h2", { text: "Side by side" }),
    names.length < 2
      ? make("p", { text: "The plan has one idea for the whole quilt. Keep the quilting as it is now under a name, change what you like, and put both side by side." })
      : make("div", { role: "group", "aria-label": "Which ones" }, ...names.map((name) => make("label", { class: "field tick" },
        make("input", { type: "checkbox", checked: ticked.has(name), onchange: (event) => {
          if (event.target.checked) ticked.add(name);
          else ticked.delete(name);
          go.disabled = ticked.size < 2 || ticked.size > 4;
        } }), make("span", { text: ` ${name || "the plan as it stands"}` })))),
    names.length < 2 ? null : go, said, keepForm(page), wholeSet(page));
}

function keepForm(page) {
  const name = make("input", { type: "text", id: "keep-name", value: `idea ${page.state.options.length + 1}` });
  return make("details", { open: !page.state.options.length }, make("summary", { text: "Keep this as another idea" }),
    make("label", { class: "field" }, make("span", { text: "Its name" }), name),
    button("Keep it", () => page.edit({ do: "keep", name: name.value }), { id: "keep-now" }));
}
