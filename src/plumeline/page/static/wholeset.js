// A set of ideas for the whole quilt that keeps to so many hours, or to a price; it is kept as one of the plan's ideas.

import { button, make } from "./dom.js";
import { smallPicture } from "./small.js";

export function wholeSet(page) {
  const hours = make("input", { type: "text", name: "hours", inputmode: "decimal", autocomplete: "off" });
  const price = make("input", { type: "text", name: "price", inputmode: "decimal", autocomplete: "off" });
  const said = make("p", { class: "soft", role: "status" });
  const found = make("div", { id: "set-found" });
  const form = make("form", { id: "whole-set", onsubmit: async (event) => {
    event.preventDefault();
    found.replaceChildren();
    said.textContent = "Drawing ideas in every space. A large quilt takes a minute.";
    const set = await page.ask(`/set?hours=${encodeURIComponent(hours.value)}&price=${encodeURIComponent(price.value)}`);
    said.textContent = set ? "" : page.wrong;
    if (set) found.replaceChildren(...setShown(page, set, hours.value.trim() ? `within ${hours.value.trim()} h` : `for ${price.value.trim()}`));
  } },
  make("label", { class: "field" }, make("span", { text: "At most so many hours at the machine" }), hours),
  page.state.priced ? make("label", { class: "field" }, make("span", { text: "Or at most this price" }), price) : null,
  make("button", { text: "Find a set", class: "main" }));
  return make("div", {}, make("h3", { text: "Ideas for the whole quilt" }),
    make("p", { class: "soft", text: "Few kinds, evenly tight, in all spaces; made plainer until they keep to what you say. What is given up is told." }),
    form, said, found);
}

function setShown(page, set, usual) {
  const whole = Math.round(set.minutes);
  const price = set.price ? `, ${set.price} to ask` : "";
  const name = make("input", { type: "text", id: "set-name", value: freeName(page, usual) });
  return [
    make("p", { text: `Together ${Math.floor(whole / 60)} h ${String(whole % 60).padStart(2, "0")} min at the machine${price}, each space with its own start and stop.` }),
    set.kept ? null : make("p", { class: "warn", text: "That is still over what you asked: plainer than this the batting does not allow." }),
    ...set.choices.map(choiceCard),
    set.given_up.length ? make("h3", { text: "Given up" }) : null,
    set.given_up.length ? make("ul", { class: "list" }, ...set.given_up.map((text) => make("li", { text }))) : null,
    make("label", { class: "field" }, make("span", { text: "Name of this idea" }), name),
    button("Keep it and look at it", async () => {
      if (await page.edit({ do: "keep", name: name.value, fills: set.fills })) page.edit({ do: "option", option: name.value });
    }, { id: "set-keep", class: "main" }),
  ].filter((one) => one);
}

function choiceCard({ label, spaces, minutes, idea }) {
  const picture = smallPicture(`${idea.name} drawn in ${label}`, idea.outline, idea.paths);
  const many = spaces > 1 ? ` for all ${spaces}` : "";
  return make("div", { class: picture.width > 2 * picture.height ? "card idea long" : "card idea" }, picture,
    make("div", {}, make("p", {}, make("strong", { text: `${label}: ${idea.name}` })),
      make("p", { class: "soft", text: `${Math.max(1, Math.round(minutes))} min${many}, tightness ${idea.tight.toFixed(1)}, ${idea.by_hand} by hand` })));
}

function freeName(page, usual) {
  let [name, k] = [usual, 2];
  for (; page.state.options.includes(name); k += 1) name = `${usual} ${k}`;
  return name;
}
