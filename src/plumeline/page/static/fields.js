// A field for one setting, made from what the fill's settings model says of it.

import { make } from "./dom.js";

const MM = { in: 25.4, cm: 10, mm: 1 };

export function inUnits(mm, units) {
  return `${Number((mm / MM[units]).toFixed(3))} ${units}`;
}

// A number with a decimal comma, with a point in its place; 1,250 may be thousands and stays as it is.
export function withPoint(text) {
  return text.replace(/^(\s*[+-]?)(\d*),(\d+)(?=\s*[^\d.,/]*$)/, (all, sign, whole, part) => (part.length === 3 && /^[1-9]\d{0,2}$/.test(whole) ? all : `${sign}${whole}.${part}`));
}

// What she typed or the plan holds, as mm; NaN where it is no plain length.
export function asMm(value, units) {
  if (typeof value === "number") return value * MM[units];
  const found = /^\s*(?:(\d+(?:\.\d+)?)(?:\s+|$))?(?:(\d+)\s*\/\s*(\d+))?\s*(in|mm|cm|")?\s*$/.exec(withPoint(String(value)).replace(/(\d)(in|mm|cm|")/, "$1 $2"));
  if (!found || (found[1] === undefined && found[2] === undefined)) return NaN;
  const number = Number(found[1] || 0) + (found[2] ? Number(found[2]) / Number(found[3]) : 0);
  return number * MM[!found[4] || found[4] === '"' ? (found[4] ? "in" : units) : found[4]];
}

function nicely(mm, units) {
  if (units !== "in") return `${Number((mm / MM[units]).toFixed(2))} ${units}`;
  const parts = Math.round((mm / 25.4) * 16);
  const [whole, rest] = [Math.floor(parts / 16), parts % 16];
  let [over, under] = [rest, 16];
  while (over && over % 2 === 0) [over, under] = [over / 2, under / 2];
  return `${[whole || (rest ? "" : "0"), rest ? `${over}/${under}` : ""].filter((part) => part !== "").join(" ")} in`;
}

function limits(field, units) {
  if (field.least === null || field.most === null) return "";
  if (field.kind === "length") return field.most < 5000 ? ` From ${nicely(field.least, units)} to ${nicely(field.most, units)}.` : "";
  return field.kind === "number" ? ` From ${field.least} to ${field.most}.` : "";
}

// `set(value)` puts a value into the plan: "" takes the setting out again.
// `follow(value)` shows what a value that is not chosen yet would draw, and with null what the plan holds; `before` tells
// fields of the same name in several fills apart.
export function fieldOf(field, value, set, page, follow, before = "") {
  const { units } = page;
  const id = `set-${before}${field.key}`;
  const about = make("span", { class: "soft", id: `${id}-about`, text: `${field.about}.${limits(field, units)}` });
  const named = { id, "aria-describedby": `${id}-about` };
  let input;
  if (field.kind === "choice") {
    input = make("select", { ...named, onchange: () => set(input.value) },
      ...field.choices.map((choice) => make("option", { value: choice, text: choice, selected: choice === (value ?? field.default) })));
  } else if (field.kind === "yes-no") {
    input = make("input", { ...named, type: "checkbox", checked: Boolean(value ?? field.default), onchange: () => set(input.checked) });
    return make("div", { class: "field" }, make("label", { class: "tick" }, input, make("span", { text: ` ${field.key.replaceAll("_", " ")}` })), about);
  } else if (field.key === "art" && page.motifs.length) {
    const known = page.motifs.includes(value) || value === undefined ? page.motifs : [value, ...page.motifs];
    input = make("select", { ...named, onchange: () => set(input.value) },
      ...known.map((name) => make("option", { value: name, text: name, selected: name === (value ?? field.default) })));
  } else {
    const usual = field.default === null ? "as it suits the space" : field.kind === "length" ? nicely(field.default, units) : String(field.default);
    const shown = value === undefined ? "" : Array.isArray(value) ? value.join(", ") : String(value);
    input = make("input", { ...named, type: "text", value: shown, placeholder: usual, autocomplete: "off", onchange: () => set(read(field, input.value)) });
  }
  const slide = sliderOf(field, value, input, set, follow, units);
  return make("div", { class: "field" }, make("label", { for: id, text: field.key.replaceAll("_", " ") }), input, slide, about);
}

function read(field, text) {
  const said = text.trim();
  if (said === "" || field.kind === "text" || field.kind === "length") return said;
  const number = Number(withPoint(said));
  return Number.isFinite(number) ? number : said;
}

// A slider beside a length or number with narrow limits: it moves in steps that a tape or a hand can tell.
function sliderOf(field, value, input, set, follow, units) {
  if (!["length", "number"].includes(field.kind) || field.least === null || field.most === null) return null;
  const length = field.kind === "length";
  const step = length ? (units === "in" ? 25.4 / 16 : 1) : field.whole ? 1 : (field.most - field.least) / 50;
  const most = length ? Math.min(field.most, 76.2) : field.most;
  if (most <= field.least || most - field.least > 400) return null;
  const start = value === undefined ? field.default : length ? asMm(value, units) : Number(value);
  const slide = make("input", {
    type: "range", min: length ? Math.ceil(field.least / step) * step : field.least, max: most, step, value: Number.isFinite(start) && start !== null ? start : (field.least + most) / 3,
    "aria-label": `${field.key.replaceAll("_", " ")}, slider`,
    oninput: () => {
      input.value = length ? nicely(Number(slide.value), units) : String(Number(Number(slide.value).toFixed(3)));
      follow(slide.value === slide.defaultValue ? null : read(field, input.value));
    },
    onchange: () => set(read(field, input.value)),
  });
  return slide;
}
