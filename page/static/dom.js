// Small helpers to build and find elements. Text only ever goes in as text, never as markup.

const SVG = "http://www.w3.org/2000/svg";

let forms = []; // of words that stay on one line, from the server: see keepTogether

/** No line ends at a space after what these regular expressions hold as their group. */
export function keepTogether(written) {
  forms = written.map((form) => new RegExp(form, "g"));
}

const AS_TYPED = new Set(["code", "option", "textarea"]);

/** Words in which no line ends between a number and its unit, or a shade and its colour. */
function kept(child, tag) {
  if (typeof child !== "string" || AS_TYPED.has(tag)) return child;
  return forms.reduce((words, form) => words.replace(form, "$1\u00a0"), child);
}

/** What is to be put into an element of that kind: all that is there. */
function given(children, tag) {
  return children.flat().filter((child) => child !== null && child !== undefined).map((child) => kept(child, tag));
}

function filled(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name === "colour") node.style.backgroundColor = value;
    else if (name === "value") node.value = value;
    else node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...given(children, node.localName));
  return node;
}

/** An HTML element with attributes, listeners (`onclick`) and children. */
export function el(tag, attributes = {}, ...children) {
  return filled(document.createElement(tag), attributes, children);
}

/** An SVG element. */
export function svg(tag, attributes = {}, ...children) {
  return filled(document.createElementNS(SVG, tag), attributes, children);
}

/** The element with an id; a misspelt one is a bug that should show at once. */
export function byId(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`no element ${id}`);
  return found;
}

/** Put children in place of what an element holds. */
export function fill(node, ...children) {
  node.replaceChildren(...given(children, node.localName));
  return node;
}

/** Put words in place of an answer: there is none, and why. */
export function fillEmpty(node, head, words) {
  return fill(node, el("p", { class: "empty" }, el("strong", {}, head), words));
}

/** A number with few digits, as people write it. */
export function figure(value, digits = 3) {
  if (value === 0) return "0";
  const size = Math.abs(value);
  if (size >= 1e5 || size < 1e-3) {
    const [mantissa, exponent] = value.toExponential(Math.max(0, digits - 2)).split("e");
    return `${mantissa} × 10${raised(Number(exponent))}`;
  }
  return String(Number(value.toPrecision(digits)));
}

function raised(whole) {
  const digits = "⁰¹²³⁴⁵⁶⁷⁸⁹";
  return (whole < 0 ? "⁻" : "") + [...String(Math.abs(whole))].map((d) => digits[d]).join("");
}

/** A thickness in words. */
export function nanometres(nm) {
  if (nm >= 1e6) return `${figure(nm / 1e6)} mm`;
  if (nm >= 1e4) return `${figure(nm / 1e3)} µm`;
  return nm >= 100 ? `${Math.round(nm)} nm` : `${Number(nm.toFixed(1))} nm`;
}

/** A span of thicknesses in words; one without an upper end has null there. */
export function span([low, high]) {
  if (high === null) return `at least ${Math.round(low)} nm`;
  return `${Math.round(low)} to ${Math.round(high)} nm`;
}

/** A probability in words that never claims certainty. */
export function percent(share) {
  if (share < 0.01) return "under 1\u00a0%";
  return share > 0.99 ? "over 99\u00a0%" : `${Math.round(100 * share)}\u00a0%`;
}

/** 1st, 2nd, 3rd ... */
export function ordinal(order) {
  return { 1: "1st", 2: "2nd", 3: "3rd" }[order] ?? `${order}th`;
}

/** A duration in words. */
export function minutes(min) {
  if (min < 1) return `${Math.round(60 * min)} s`;
  if (min < 90) return `${min < 10 ? Number(min.toFixed(1)) : Math.round(min)} min`;
  const hours = min / 60;
  return `${Number(hours.toFixed(hours < 10 ? 1 : 0))} h`;
}

/** A sentence with a capital at its head and a full stop. */
export function sentence(text) {
  const whole = text.trim();
  const head = whole.charAt(0).toUpperCase() + whole.slice(1);
  return /[.!?]$/.test(head) ? head : `${head}.`;
}

/** Whether fingers do the pointing here. */
export const TOUCH = window.matchMedia("(pointer: coarse)").matches;

/** Whether this is a phone let in, not the computer's own browser; it may ask less. */
export const GUEST = !["127.0.0.1", "localhost", "[::1]"].includes(window.location.hostname);

/** Where a photo goes that is sent from here: true for this machine and for a phone alike. */
export function whereItGoes() {
  return !GUEST ? "stays on this machine"
    : `goes to the computer at ${window.location.host} over your own network, unencrypted, and no further`;
}

/** A table in a box; where it is wider than that, each row becomes a block, each cell under its head. */
export function scrolling(words, table) {
  const heads = [...table.querySelectorAll("th")].map((one) => one.textContent);
  for (const row of table.querySelectorAll("tbody tr")) {
    [...row.cells].forEach((cell, i) => { cell.dataset.head ??= heads[i] ?? ""; });
  }
  const box = el("div", { class: "scroll", role: "group", "aria-label": words }, table);
  let wide = 0;
  const fit = () => {
    if (box.clientWidth === wide) return; // only its height has changed, by what follows
    wide = box.clientWidth;
    box.classList.remove("stacked");
    box.classList.toggle("stacked", table.offsetWidth > wide + 1);
  };
  queueMicrotask(fit); // once it is in its place, before it is seen
  new ResizeObserver(() => requestAnimationFrame(fit)).observe(box); // it must not resize while it is told of sizes
  return box;
}

/** Show what a slider stands at, to the eye and to a screen reader. */
export function tell(slider, reading, words) {
  reading.textContent = words;
  slider.setAttribute("aria-valuetext", words);
}

/** Hand a text over as a file. */
export function saveText(text, name, type) {
  const link = el("a", { href: URL.createObjectURL(new Blob([text], { type })), download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
