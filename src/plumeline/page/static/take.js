// Take it with you: stitch files and paper in a folder beside the plan, or one zip; what was written, and the cautions.

import { button, make } from "./dom.js";

const USUAL = ["svg", "dst"];

const ticked = (boxes) => boxes.filter(([box]) => box.checked).map(([box]) => box.value);

// What is folded away is hidden from readers of the screen too.
function onPaper(rows, zone, size, many) {
  const inside = make("div", { hidden: true },
    make("div", { role: "group", "aria-label": "Kinds of paper" }, ...rows),
    make("label", { class: "field" }, make("span", { text: "Of which space" }), zone),
    make("label", { class: "field" }, make("span", { text: "Sheets of" }), size),
    make("label", { class: "field tick" }, many, make("span", { text: " More than 60 sheets are meant" })));
  const fold = make("details", { id: "papers", ontoggle: () => { inside.hidden = !fold.open; } }, make("summary", { text: "On paper, at true size: by hand or with rulers" }), inside);
  return fold;
}

export function takePanel(page) {
  const boxes = page.formats.map(({ name, about }) => [make("input", { type: "checkbox", value: name, checked: USUAL.includes(name) }), name, about]);
  const send = make("input", { type: "checkbox", id: "with-page" });
  const folder = make("input", { type: "text", id: "folder", value: page.folder || "stitched", list: "folders", autocomplete: "off", oninput: () => { page.folder = folder.value; } });
  const known = make("datalist", { id: "folders" });
  const pick = make("div", { class: "row", id: "folder-choices" });
  page.ask("/folders").then((names) => {
    if (!names) return;
    known.replaceChildren(...names.map((name) => make("option", { value: name })));
    pick.replaceChildren(...names.slice(0, 6).map((name) => button(name, () => { folder.value = name; page.folder = name; }, { "aria-label": `Write into the folder ${name}` })));
  });
  const papers = page.papers.kinds.map(({ name, about }) => [make("input", { type: "checkbox", value: name }), name, about]);
  const size = make("select", { id: "paper-size" }, ...page.papers.sizes.map((name) => make("option", { value: name, text: name })));
  const looked = page.quilt && page.quilt.zones[page.selected];
  const zone = make("select", { id: "paper-zone" }, make("option", { value: "", text: "every space, each once" }),
    ...page.zones.map(({ name }) => make("option", { value: name, text: name, selected: Boolean(looked) && looked.name === name })));
  const many = make("input", { type: "checkbox", id: "many" });
  const force = make("input", { type: "checkbox", id: "force" });
  const out = make("div", { id: "written", "aria-live": "polite" });
  const body = () => ({ folder: folder.value, formats: ticked(boxes), page: send.checked, papers: ticked(papers), size: size.value, zone: zone.value, many: many.checked, force: force.checked });
  const begin = (act) => async () => {
    out.replaceChildren(make("p", { text: "Writing. A large quilt takes a minute." }), make("progress", { "aria-label": "Writing" }));
    out.replaceChildren(...(await act()));
    out.scrollIntoView({ block: "start" });
  };
  const wrong = () => [make("p", { class: "warn", role: "alert", text: page.wrong })];
  const write = begin(async () => {
    const done = await page.ask("/files", body());
    if (!done) return wrong();
    page.say(`${done.names.length} files are written.`);
    return [make("h3", { text: `Written to ${done.where}` }), make("ul", { class: "list" }, ...done.names.map((name) => make("li", { text: name }))), make("h3", { text: "Read this first" }), make("pre", { text: done.cautions })];
  });
  const zip = begin(async () => {
    const blob = await page.ask("/zip", body());
    if (!blob) return wrong();
    const link = make("a", { href: URL.createObjectURL(blob), download: `${page.state.file.replace(/\.toml$/, "")}.zip` });
    link.click();
    URL.revokeObjectURL(link.href);
    return [make("p", { text: "The zip is in your downloads. Read the file 'read-first' in it before you sew." })];
  });
  const row = ([box, name, about]) => make("label", { class: "field tick" }, box, make("span", {}, make("strong", { text: name }), ` ${about}`));
  return make("div", {},
    make("h2", { text: "Take it with you" }),
    make("div", { role: "group", "aria-label": "Kinds of files" }, ...boxes.map(row), row([send, "page", "one page to send to a customer: the quilt, figures, the stitching played"])),
    make("p", { class: "soft", text: "Pictures of the cloth and of the path, figures and cautions come with every stitch file." }),
    onPaper(papers.map(row), zone, size, many),
    make("label", { class: "field" }, make("span", { text: "Folder beside the plan" }), folder), known, pick,
    make("label", { class: "field tick" }, force, make("span", { text: " Write over files of the same names" })),
    make("div", { class: "row" }, button("Write the files", write, { class: "main", id: "write" }), button("Download a zip", zip, { id: "zip" })),
    out,
    make("h3", { text: "Done for today?" }),
    button("End the program", async () => { if (await page.ask("/stop", {})) page.ended(); }, { id: "end" }));
}
