// A chart read by finger, pointer or arrow keys: a line at the place, and in words what stands there.

import { el, svg } from "./dom.js";

/**
 * Make a chart readable between the x of `from` and `to` in its own units. `words(share)` says what
 * stands at that share of the way; `steps` is how many places the arrow keys stop at.
 */
export function readable(chart, { from, to, top, foot, words, steps = 100 }) {
  const line = svg("line", { class: "reading-line", y1: top, y2: foot, hidden: true, "aria-hidden": "true" });
  const said = el("p", { class: "chart-reading", role: "status" });
  said.textContent = "\u00a0";
  let at = 0.5;
  const show = (share) => {
    at = Math.min(1, Math.max(0, share));
    const x = from + at * (to - from);
    for (const end of ["x1", "x2"]) line.setAttribute(end, x);
    line.removeAttribute("hidden");
    said.textContent = words(at);
  };
  const hide = () => {
    line.setAttribute("hidden", "");
    said.textContent = "\u00a0";
  };
  const point = (event) => {
    const box = chart.getBoundingClientRect();
    show(((event.clientX - box.left) / box.width * chart.viewBox.baseVal.width - from) / (to - from));
  };
  chart.append(line);
  chart.setAttribute("tabindex", "0");
  chart.addEventListener("pointermove", point);
  chart.addEventListener("pointerdown", point);
  chart.addEventListener("pointerleave", (event) => { if (event.pointerType === "mouse") hide(); });
  chart.addEventListener("blur", hide);
  chart.addEventListener("keydown", (event) => {
    const by = { ArrowLeft: -1, ArrowRight: 1, PageDown: -10, PageUp: 10 }[event.key];
    const end = { Home: 0, End: 1 }[event.key];
    if (by === undefined && end === undefined) return;
    event.preventDefault();
    show(end ?? at + by / steps);
  });
  return [chart, said];
}

/** The index of a list that a share of the way along it is nearest to. */
export function nearest(share, count) {
  return Math.round(share * (count - 1));
}
