// One column wide, a room shows its answer above its form once there is one; what a finger is at stays in place.

import { byId } from "./dom.js";

const NARROW = window.matchMedia("(max-width: 820px)");

let touched = null; // what was pointed at or entered last: the person is there
const led = new Set(); // results that have an answer to show
const tall = new Map(); // how high each result was when that was last allowed for

/** Follow where the person is, and results that grow above it. */
export function openOrder() {
  for (const kind of ["pointerdown", "focusin"]) {
    document.addEventListener(kind, (event) => {
      if (event.target.tabIndex !== -1 || kind === "pointerdown") touched = event.target; // a room takes the focus of a tap on a photo
    }, true);
  }
  window.addEventListener("hashchange", () => { touched = null; });
  NARROW.addEventListener("change", () => led.forEach(place));
  for (const result of document.querySelectorAll(".columns > .result.answers")) followHeight(result);
}

function formOf(result) {
  return [...result.parentElement.children].find((one) => one !== result);
}

/** Whether the person is at the form of a result. */
function atForm(result) {
  return Boolean(touched?.isConnected && formOf(result).contains(touched));
}

/** Run what moves a form, and keep the form where it was on the screen if the person is at it. */
function inPlace(result, work) {
  const form = formOf(result);
  const before = form.getBoundingClientRect().top;
  work();
  if (NARROW.matches && atForm(result)) window.scrollBy(0, form.getBoundingClientRect().top - before);
}

function place(result) {
  const first = NARROW.matches && led.has(result);
  if ((result.parentElement.firstElementChild === result) === first) return;
  const inside = result.contains(document.activeElement) ? document.activeElement : null;
  inPlace(result, () => result.parentElement[first ? "prepend" : "append"](result));
  tall.set(result, result.offsetHeight);
  inside?.focus({ preventScroll: true });
}

/** An answer that grows or shrinks above its form does not push the form about. */
function followHeight(result) {
  tall.set(result, result.offsetHeight);
  new ResizeObserver(() => {
    const grown = result.offsetHeight - tall.get(result);
    tall.set(result, result.offsetHeight);
    if (grown && NARROW.matches && led.has(result) && atForm(result)) window.scrollBy(0, grown);
  }).observe(result);
}

/** Say whether the panel `id` holds an answer. */
export function leadWith(id, answered) {
  const result = byId(id).closest(".columns > .result.answers");
  if (!result || answered === led.has(result)) return;
  if (answered) led.add(result);
  else led.delete(result);
  place(result);
}

/** Bring an answer that was asked for by a button into sight, unless the person went elsewhere meanwhile. */
export function reveal(id, asked) {
  const panel = byId(id);
  if (!touched || !asked.contains(touched) || panel.closest("[hidden]")) return;
  touched = null;
  const { top } = panel.getBoundingClientRect();
  if (top < 0 || top > window.innerHeight / 3) panel.scrollIntoView({ block: "start" });
}
