// Small hands for the document. Nothing here writes markup from text: names and messages come from files.

export const byId = (id) => document.getElementById(id);

/** An element; `on…` keys listen, `class` and `text` are short for what they say, null and false leave a key out. */
export function element(tag, keys = {}, ...children) {
  const made = document.createElement(tag);
  for (const [key, value] of Object.entries(keys)) {
    if (value === null || value === undefined || value === false) continue;
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (key === "text") made.textContent = value;
    else if (key === "class") made.className = value;
    else made.setAttribute(key, value === true ? "" : value);
  }
  made.append(...children.filter((child) => child !== null));
  return made;
}

const SVG = "http://www.w3.org/2000/svg";

/** An SVG element with attributes. */
export function drawn(tag, keys = {}, ...children) {
  const made = document.createElementNS(SVG, tag);
  for (const [key, value] of Object.entries(keys)) made.setAttribute(key, value);
  made.append(...children);
  return made;
}

/**
 * Children of `parent` brought in line with `items`, keyed: what stays keeps its element, and with it the focus.
 * `create(item)` makes an element, `update(element, item)` sets all that may change.
 */
export function keep(parent, items, keyOf, create, update) {
  const old = new Map([...parent.children].map((child) => [child.dataset.key, child]));
  let before = parent.firstElementChild;
  for (const item of items) {
    const key = String(keyOf(item));
    let child = old.get(key);
    old.delete(key);
    if (!child) {
      child = create(item);
      child.dataset.key = key;
    }
    update(child, item);
    if (child === before) before = before.nextElementSibling;
    else parent.insertBefore(child, before);
  }
  for (const gone of old.values()) gone.remove();
}

let saying = 0;

/** Has a screen reader say one line when it is done with the last. */
export function say(text) {
  window.clearTimeout(saying);
  const said = byId("said");
  said.textContent = "";
  saying = window.setTimeout(() => {
    said.textContent = text;
  }, 150);
}

/** A length in mm for people: one decimal, two where needed, a true minus sign. */
export function mm(value, digits = 1) {
  const fine = Math.abs(value * 10 - Math.round(value * 10)) > 1e-6 ? Math.max(2, digits) : digits;
  const text = Math.abs(value).toFixed(fine);
  return value < 0 && Number(text) !== 0 ? `−${text}` : text;
}

/** "0.4 mm right, 0.2 mm up", or "in its place". */
export function offset([x, y]) {
  const parts = [];
  if (Math.abs(x) >= 0.005) parts.push(`${mm(Math.abs(x))} mm ${x > 0 ? "right" : "left"}`);
  if (Math.abs(y) >= 0.005) parts.push(`${mm(Math.abs(y))} mm ${y > 0 ? "up" : "down"}`);
  return parts.join(", ") || "in its place";
}
