// A chart that came as a picture, read by pointer, finger or keys through the scales sent with it.

import { el, figure } from "./dom.js";

/** The figure of a chart { chart, scales }, with its words; null scales leave it a mere picture. */
export function chartPicture({ chart, scales }, words) {
  const picture = el("img", { alt: words, class: "chart-image" });
  picture.addEventListener("load", () => { URL.revokeObjectURL(picture.src); picture.dataset.shown = "yes"; }, { once: true });
  picture.src = URL.createObjectURL(new Blob([chart], { type: "image/svg+xml" }));
  const panels = (scales ?? []).filter((one) => one.box[2] > one.box[0] && one.box[3] > one.box[1]);
  if (!panels.length) return el("figure", { class: "chart-picture" }, picture);
  const line = el("span", { class: "picture-line", hidden: true });
  const said = el("p", { class: "chart-reading", role: "status" }, "\u00a0");
  const box = el("div", { class: "picture-box", tabindex: "0", role: "group",
    "aria-label": `${words} Arrow keys read it${panels.length > 1 ? ", up and down change the panel" : ""}.` }, picture, line);
  follow(box, line, said, panels);
  return el("figure", { class: "chart-picture" }, box, said);
}

function follow(box, line, said, panels) {
  let [at, held] = [0.5, 0]; // share of the way along x, and which panel
  const show = () => {
    const [left, top, right, bottom] = panels[held].box;
    Object.assign(line.style, { left: `${100 * (left + at * (right - left))}%`, top: `${100 * top}%`, height: `${100 * (bottom - top)}%` });
    line.hidden = false;
  };
  box.addEventListener("keydown", (event) => {
    const by = { ArrowLeft: -0.01, ArrowRight: 0.01, PageDown: -0.1, PageUp: 0.1 }[event.key];
    const end = { Home: 0, End: 1 }[event.key];
    const turn = { ArrowUp: -1, ArrowDown: 1 }[event.key];
    if (by === undefined && end === undefined && !(turn && panels.length > 1)) return;
    event.preventDefault();
    if (turn) held = (held + turn + panels.length) % panels.length;
    else at = Math.min(1, Math.max(0, end ?? at + by));
    show();
    said.textContent = wordsAt(panels[held], at);
  });
  const point = (event) => {
    const area = box.getBoundingClientRect();
    const [x, y] = [(event.clientX - area.left) / area.width, (event.clientY - area.top) / area.height];
    const inside = panels.findIndex(({ box: [left, top, right, bottom] }) => x >= left && x <= right && y >= top && y <= bottom);
    if (inside < 0) return;
    held = inside;
    const [left, top, right, bottom] = panels[held].box;
    at = (x - left) / (right - left);
    show();
    said.textContent = wordsAt(panels[held], at, (bottom - y) / (bottom - top));
  };
  box.addEventListener("pointermove", point);
  box.addEventListener("pointerdown", point);
  const hide = () => { line.hidden = true; said.textContent = "\u00a0"; };
  box.addEventListener("pointerleave", (event) => { if (event.pointerType === "mouse") hide(); });
  box.addEventListener("blur", hide);
}

function along({ low, high, log }, share) {
  return log ? low * (high / low) ** share : low + share * (high - low);
}

/** A place on an axis in words: its own where its ticks have some, else the number. */
function named(axis, value) {
  if (!axis.names.length) return `${axis.label ? `${axis.label} ` : ""}${figure(value)}`;
  const [, words] = axis.names.reduce((best, one) => (Math.abs(one[0] - value) < Math.abs(best[0] - value) ? one : best));
  return words;
}

/** What a curve shows at x, between its points; null outside of them. */
function heightAt({ x, y }, value) {
  if (value < x[0] || value > x.at(-1)) return null;
  const i = Math.max(1, x.findIndex((one) => one >= value));
  return y[i - 1] + ((value - x[i - 1]) / (x[i] - x[i - 1])) * (y[i] - y[i - 1]);
}

/** What stands at a share of the way along x; where no curve or bar is there, how high the pointer is. */
function wordsAt(panel, share, height = null) {
  const value = along(panel.x, share);
  const bar = panel.bars.find(([from, to]) => value >= Math.min(from, to) && value <= Math.max(from, to));
  const found = panel.curves.map((one) => [one.name || panel.y.label, heightAt(one, value)]).filter(([, y]) => y !== null)
    .map(([name, y]) => `${name ? `${name} ` : ""}${figure(y)}`);
  if (bar) found.push(`${panel.y.label} ${figure(bar[2])}`);
  if (!found.length && height !== null && (panel.y.label || panel.y.names.length)) found.push(named(panel.y, along(panel.y, height)));
  return [named(panel.x, value), found.join(", ")].filter(Boolean).join(": ");
}
