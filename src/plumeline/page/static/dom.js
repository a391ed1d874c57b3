// Small helpers to make what stands beside the cloth.

export function make(tag, settings = {}, ...children) {
  const element = document.createElement(tag);
  for (const [key, value] of Object.entries(settings)) {
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (key === "text") element.textContent = value;
    else if (value === true) element.setAttribute(key, "");
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(key, value);
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

export const byId = (id) => document.getElementById(id);

export function button(text, onclick, settings = {}) {
  return make("button", { type: "button", text, onclick, ...settings });
}
