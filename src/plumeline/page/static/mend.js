// What a button beside a finding can do: each says in words what it will change, and Undo takes it back.

import { button, make } from "./dom.js";

// Fills whose curves forgive a seam that is out of true.
const CURVED = [["meander", "Put a meander there"], ["curl", "Put curls there"]];

export function mendOf(page) {
  return (one) => {
    const zone = page.zones.filter((entry) => one.zone && one.zone.startsWith(entry.name)).sort((a, b) => b.name.length - a.name.length)[0];
    const ways = (MENDS[one.code] || (() => []))(page, one, zone);
    return ways.length ? make("span", { class: "row" }, ...ways) : null;
  };
}

function partOf(zone, label) {
  return zone.parts.find((part) => part && label.includes(`, ${part}`)) || zone.parts[zone.parts.length - 1];
}

function stackIn(zone, part) {
  return zone.fill[part] || Object.values(zone.fill)[0] || [];
}

function curved(page, one, zone) {
  if (!zone) return [];
  const part = partOf(zone, one.zone);
  return CURVED.map(([kind, words]) => button(words, () => page.edit({ do: "choose", zone: zone.name, part, stack: [{ kind }] })));
}

function without(key, words) {
  return (page, one, zone) => {
    if (!zone) return [];
    const part = partOf(zone, one.zone);
    const stack = stackIn(zone, part);
    if (!stack.some((layer) => key in layer)) return [];
    return [button(words, () => page.edit({ do: "choose", zone: zone.name, part, stack: stack.map((layer) => Object.fromEntries(Object.entries(layer).filter(([name]) => name !== key))) }))];
  };
}

// One key of the plan; `value` null takes it out.
function setting(key, value, words) {
  return (page, one, zone) => (zone ? [button(words, () => page.edit({ do: "set", key: ["zone", zone.name, ...key], value }))] : []);
}

// The same in all the quilt.
function wholeSetting(key, value, words) {
  return (page) => [button(words, () => page.edit({ do: "set", key, value }))];
}

function fillIt(page, one) {
  const name = page.zones.find((zone) => one.text.split(": ").pop().split(", ").includes(zone.name));
  if (!name) return [];
  return [button(`Go to ${name.name}`, () => page.show(name.name))];
}

// Another tightness for the last fill of a space, where that fill knows the word.
function tighter(density, words) {
  return (page, one, zone) => {
    if (!zone) return [];
    const part = partOf(zone, one.zone);
    const stack = stackIn(zone, part);
    const last = stack[stack.length - 1];
    const form = last && page.fills.find((fill) => fill.kind === last.kind);
    if (!form || !form.fields.some((field) => field.key === "density") || last.density === density) return [];
    return [button(words, () => page.edit({ do: "choose", zone: zone.name, part, stack: [...stack.slice(0, -1), { ...withoutSpacing(last), density }] }))];
  };
}

function withoutSpacing(layer) {
  return Object.fromEntries(Object.entries(layer).filter(([key]) => !["spacing", "plume", "density"].includes(key)));
}

// The drawing's size is what its program wrote; she knows how wide her top is.
function trueWidth(page) {
  const width = make("input", { type: "text", placeholder: page.units === "in" ? "as 42 or 42 1/2" : "as 110 or 110.5", autocomplete: "off" });
  const write = () => {
    const said = width.value.trim();
    if (said) page.edit({ do: "set", key: ["top", "width"], value: Number(said) || said });
  };
  return [make("label", { class: "field" }, make("span", { text: "True width of the top" }), width), button("Take this width", write)];
}

const MENDS = {
  "straight-beside-crooked": curved,
  "feather-no-room": curved,
  "fill-too-small": curved,
  "no-fill": fillIt,
  "gap-too-wide": tighter("close", "Quilt it closer"),
  "density-not-met": without("density", "Leave the tightness to the space"),
  "fence-outside": setting(["fences"], null, "Take its fences out"),
  "open-part-outside": setting(["leave_open"], null, "Leave nothing open here"),
  "feather-spine-outside": without("spines", "Lay the spines as the space asks"),
  "feather-spine-crosses": without("spines", "Lay the spines as the space asks"),
  "size-read": trueWidth,
  "size-implausible": trueWidth,
  "starts-show": wholeSetting(["machine", "ties"], "bury", "Bury the tails"),
  "tighter-than-its-like": tighter("even", "Make it as tight as the others"),
};
