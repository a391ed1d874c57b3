// Take it with you: files in a folder beside the plan, or one zip; what was written, and the cautions.

import { button, make } from "./dom.js";

export function takePanel(page, say) {
  const boxes = page.state.formats.map((name) => make("input", { type: "checkbox", value: name, checked: ["svg", "dst"].includes(name) }));
  const folder = make("input", { type: "text", id: "folder", value: "stitched" });
  const force = make("input", { type: "checkbox", id: "force" });
  const out = make("div", { id: "written", "aria-live": "polite" });
  const formats = () => boxes.filter((box) => box.checked).map((box) => box.value);
  const busy = () => out.replaceChildren(make("p", { text: "Writing. A large quilt takes a minute." }), make("progress", { "aria-label": "Writing" }));
  const write = async () => {
    busy();
    const done = await page.ask("/files", { folder: folder.value, formats: formats(), force: force.checked });
    if (!done) {
      out.replaceChildren(make("p", { class: "warn", text: page.wrong }));
      return;
    }
    say(`${done.names.length} files are written.`);
    out.replaceChildren(make("h3", { text: `Written to ${done.folder}` }), make("ul", { class: "list" }, ...done.names.map((name) => make("li", { text: name }))), make("h3", { text: "Read this first" }), make("pre", { text: done.cautions }));
  };
  const zip = async () => {
    busy();
    const blob = await page.ask("/zip", { formats: formats() });
    if (!blob) {
      out.replaceChildren(make("p", { class: "warn", text: page.wrong }));
      return;
    }
    const link = make("a", { href: URL.createObjectURL(blob), download: `${page.state.file.replace(/\.toml$/, "")}.zip` });
    link.click();
    out.replaceChildren(make("p", { text: "The zip is in your downloads. Read the file 'read-first' in it before you sew." }));
  };
  return make("div", {},
    make("h2", { text: "Take it with you" }),
    make("div", { role: "group", "aria-label": "Kinds of files" }, ...boxes.map((box) => make("label", { class: "field" }, box, ` ${box.value}`))),
    make("label", { class: "field" }, make("span", { text: "Folder beside the plan" }), folder),
    make("label", { class: "field" }, force, " Write over files of the same names"),
    make("div", { class: "row" }, button("Write the files", write, { class: "main", id: "write" }), button("Download a zip", zip, { id: "zip" })),
    out,
    make("h3", { text: "Done for today?" }),
    button("End the program", async () => { await page.ask("/stop", {}); say("The program has ended. Your plan is saved; you can close this page."); }));
}
