// A map of thickness over its photo: fade between both, touch to read, draw a line for a profile.

import { TOO_VIVID, profileChart } from "./chart.js";
import { channels } from "./colour.js";
import { TOUCH, el, fill } from "./dom.js";

const NOTHING = 65535;
const TENTHS = 10;
const POINTS = 80; // of a profile

function unpacked(text) {
  const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  return new Uint16Array(bytes.buffer);
}

/** The map of a photo as a part of the page; `photo` is the address of its preview. */
export function mapView(drawing, photo, words) {
  const { width, height } = drawing;
  const [median, low, high] = ["median", "low", "high"].map((name) => unpacked(drawing[name]));
  const canvas = el("canvas", { width, height, role: "img", "aria-label": words, tabindex: "0" });
  const fade = el("input", { type: "range", min: 0, max: 100, value: 85, "aria-label": "Photo or map",
    oninput: () => { canvas.style.opacity = fade.value / 100; } });
  canvas.style.opacity = 0.85;
  const scale = el("select", { "aria-label": "Colours of the map", onchange: () => paint() }, el("option", { value: "ramp" }, "even steps from thin to thick"),
    el("option", { value: "film" }, "the film’s own colours"));
  const said = el("p", { class: "map-reading", role: "status" }, TOUCH ? "Touch the map to read a place; draw a line for a profile."
    : "Point at the map to read a place, or use the arrow keys on it; draw a line for a profile, or press Enter at both its ends.");
  const legend = el("div", { class: "map-legend" });
  const vivid = el("p", { class: "hint", hidden: true }, `Some of these colours are ${TOO_VIVID}.`);
  const profile = el("div", {});
  const line = el("span", { class: "map-line", hidden: true });
  const here = el("span", { class: "map-here", hidden: true, "aria-hidden": "true" });

  const hexOf = (tenths) => {
    if (scale.value === "film") return drawing.srgb_hex[Math.min(drawing.srgb_hex.length - 1, Math.round(tenths / TENTHS))];
    const [from, to] = drawing.robust_nm;
    const share = Math.min(1, Math.max(0, (tenths / TENTHS - from) / Math.max(to - from, 1e-9)));
    return drawing.ramp_hex[Math.round(share * (drawing.ramp_hex.length - 1))];
  };
  function paint() {
    const pen = canvas.getContext("2d");
    const image = pen.createImageData(width, height);
    for (let i = 0; i < median.length; i += 1) {
      if (median[i] !== NOTHING) image.data.set([...channels(hexOf(median[i])), 255], 4 * i);
    }
    pen.putImageData(image, 0, 0);
    const [from, to] = drawing.robust_nm;
    const stops = Array.from({ length: 24 }, (_, i) => hexOf(TENTHS * (from + ((to - from) * i) / 23)));
    const bar = el("span", { class: "map-bar" });
    bar.style.background = `linear-gradient(to right, ${stops.join(", ")})`;
    fill(legend, el("span", {}, `${Math.round(from)} nm`), bar, el("span", {}, `${Math.round(to)} nm`));
    const shown = drawing.in_gamut.slice(Math.round(from), Math.round(to) + 1);
    vivid.hidden = scale.value !== "film" || shown.every(Boolean);
  }
  const placeOf = (event) => {
    const box = canvas.getBoundingClientRect();
    const at = (share, size) => Math.min(size - 1, Math.max(0, Math.floor(share * size)));
    return [at((event.clientX - box.left) / box.width, width), at((event.clientY - box.top) / box.height, height)];
  };
  const read = ([x, y]) => {
    const i = y * width + x;
    if (median[i] === NOTHING) return null;
    return [median[i], low[i], high[i]].map((tenths) => tenths / TENTHS);
  };
  const tell = (place) => {
    here.hidden = false;
    Object.assign(here.style, { left: `${(100 * (place[0] + 0.5)) / width}%`, top: `${(100 * (place[1] + 0.5)) / height}%` });
    const found = read(place);
    said.textContent = found ? `${Math.round(found[0])} nm here, ${Math.round(found[1])} to ${Math.round(found[2])}` : "No thickness here: nothing in question fits.";
  };
  const drawLine = (from, to) => {
    line.hidden = false;
    const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    const across = canvas.clientWidth / width;
    Object.assign(line.style, { left: `${(100 * from[0]) / width}%`, top: `${(100 * from[1]) / height}%`,
      width: `${Math.hypot(dx, dy) * across}px`, transform: `rotate(${Math.atan2(dy, dx)}rad)` });
  };
  const drawProfile = (from, to) => {
    const places = Array.from({ length: POINTS }, (_, i) => from.map((one, k) => Math.round(one + ((to[k] - one) * i) / (POINTS - 1))));
    const found = places.map(read);
    fill(profile, found.some(Boolean) ? profileChart(found) : el("p", { class: "hint" }, "No thickness along this line."));
  };
  let start = null;
  canvas.addEventListener("pointerdown", (event) => {
    start = placeOf(event);
    canvas.setPointerCapture(event.pointerId);
    line.hidden = true;
    fill(profile);
    tell(start);
  });
  canvas.addEventListener("pointermove", (event) => {
    const here = placeOf(event);
    tell(here);
    if (start) drawLine(start, here);
  });
  canvas.addEventListener("pointerup", (event) => {
    const end = placeOf(event);
    if (start && Math.hypot(end[0] - start[0], end[1] - start[1]) > 8) drawProfile(start, end);
    else line.hidden = true;
    start = null;
  });
  canvas.addEventListener("pointercancel", () => { start = null; });
  keys(canvas, width, height, { tell, say: (words) => { said.textContent = words; }, profile: (from, to) => { drawLine(from, to); drawProfile(from, to); } });
  paint();
  return [said, el("div", { class: "map-over" }, el("img", { width, height, src: photo, alt: "", draggable: "false" }), canvas, line, here), legend, vivid,
    el("div", { class: "pair" }, el("label", {}, "Photo ↔ map", fade), el("label", {}, "Colours", scale)), profile];
}

/** A place of the map is read with the arrow keys, too; Enter begins a line and ends it. */
function keys(canvas, width, height, { tell, say, profile }) {
  let start = null;
  const place = [Math.floor(width / 2), Math.floor(height / 2)];
  canvas.addEventListener("keydown", (event) => {
    if (event.key === "Enter") {
      if (start) profile(start, place);
      else say("A line begins here. Move on with the arrow keys, and press Enter where it ends.");
      start = start ? null : [...place];
      return;
    }
    const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!by) return;
    event.preventDefault();
    const step = event.shiftKey ? 20 : 4;
    place[0] = Math.min(width - 1, Math.max(0, place[0] + step * by[0]));
    place[1] = Math.min(height - 1, Math.max(0, place[1] + step * by[1]));
    tell(place);
  });
}
