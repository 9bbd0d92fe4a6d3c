// A photo seen closer: two fingers, Ctrl and the wheel, or buttons; it scrolls within its frame.

import { el } from "./dom.js";

const MOST = 8;

/** Wrap a frame so that it can be seen closer; what to put in the page, with its buttons. */
export function zoomable(frame) {
  let times = 1;
  const box = el("div", { class: "zoom-box" }, frame);
  const set = (wanted, x, y) => {
    const before = times;
    times = Math.min(MOST, Math.max(1, wanted));
    frame.style.width = `${100 * times}%`;
    box.scrollLeft = (box.scrollLeft + x) * (times / before) - x;
    box.scrollTop = (box.scrollTop + y) * (times / before) - y;
    nearer.ariaDisabled = `${times >= MOST}`;
    wider.ariaDisabled = `${times <= 1}`;
  };
  const middle = (by) => set(times * by, box.clientWidth / 2, box.clientHeight / 2);
  const nearer = el("button", { type: "button", class: "plain small", "aria-label": "See the photo closer", onclick: () => middle(1.5) }, "+");
  const wider = el("button", { type: "button", class: "plain small", "aria-disabled": "true", "aria-label": "See more of the photo", onclick: () => middle(1 / 1.5) }, "−");
  box.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    const at = box.getBoundingClientRect();
    set(times * Math.exp(-event.deltaY / 200), event.clientX - at.left, event.clientY - at.top);
  }, { passive: false });
  pinch(box, () => times, set);
  return [box, el("div", { class: "row zoom-buttons" }, el("span", { class: "label" }, "Closer"), nearer, wider)];
}

function pinch(box, now, set) {
  let start = null; // how far apart the fingers were, and how near the photo was then
  const apart = ([a, b]) => Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);
  box.addEventListener("touchstart", (event) => {
    if (event.touches.length === 2) start = { apart: apart(event.touches), times: now() };
  }, { passive: true });
  box.addEventListener("touchmove", (event) => {
    if (!start || event.touches.length !== 2) return;
    event.preventDefault();
    const at = box.getBoundingClientRect();
    const [a, b] = event.touches;
    set((start.times * apart(event.touches)) / start.apart, (a.clientX + b.clientX) / 2 - at.left, (a.clientY + b.clientY) / 2 - at.top);
  }, { passive: false });
  box.addEventListener("touchend", (event) => { if (event.touches.length < 2) start = null; }, { passive: true });
}
