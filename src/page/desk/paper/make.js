// Makes elements: make("button.plain", {onclick}, "text", child). Text is always text, never markup.

const SVG = "http://www.w3.org/2000/svg";

export function make(tag, props, ...inside) {
  const [name, ...classes] = tag.split(".");
  return fill(document.createElement(name), classes, props, inside);
}

// The same for a drawing.
export function draw(tag, props, ...inside) {
  const [name, ...classes] = tag.split(".");
  return fill(document.createElementNS(SVG, name), classes, props, inside);
}

function fill(element, classes, props, inside) {
  for (const name of classes) element.classList.add(name);
  for (const [key, value] of Object.entries(props ?? {})) {
    if (value === null || value === undefined) continue;
    // "false" is a state of its own to a screen reader.
    if (key.startsWith("aria-")) element.setAttribute(key, String(value));
    if (key.startsWith("aria-") || value === false) continue;
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    // Styles go through the object model: the page allows no style attributes.
    else if (key === "style") for (const [name, to] of Object.entries(value)) element.style.setProperty(name, to);
    else if (key === "value" || key === "checked" || key === "disabled" || key === "htmlFor") element[key] = value;
    else element.setAttribute(key, value === true ? "" : value);
  }
  element.append(...inside.flat(Infinity).filter((one) => one !== null && one !== undefined && one !== false));
  return element;
}

export function empty(element, ...inside) {
  element.replaceChildren(...inside.flat(Infinity).filter((one) => one !== null && one !== undefined && one !== false));
  return element;
}

// A button whose words say what it does.
export const button = (words, onclick, props = {}) => make("button", { type: "button", onclick, ...props }, words);
