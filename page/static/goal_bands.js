// Goals drawn as bands on a chart: dragged, stretched, moved up and down, or new ones drawn. What a band
// holds stands in the row of its goal as well, which is the way by keyboard.

import { steps } from "./chart.js";
import { el, fill, svg } from "./dom.js";

const HEIGHT = 240;
const [LEFT, RIGHT, TOP, BOTTOM] = [40, 12, 14, 40];
const LEAST_NM = 10; // no band is dragged narrower
const ROUND_NM = 5;
const GRIP = 13; // half the width of what a finger takes hold of
const KEPT = [300, 25000]; // wavelengths that can be asked for here
const LETTERS = { R: "reflected", T: "let through", A: "absorbed" };

/**
 * A chart of goals. `read()` gives the goals as [quantity, relation, share, from, to] of texts,
 * `write(i, share, from, to)` changes one, `add(quantity, relation, share, from, to)` makes another.
 */
export function goalBands({ read, write, add }) {
  const box = el("div", { class: "chart-box goal-bands" });
  const state = { read, write, add, box, curves: null, held: null, reach: null };
  const draw = () => fill(box, chart(state, draw), el("p", { class: "quiet" },
    "Drag a band to move it, its ends to make it wider, or draw a new one on a free place."));
  draw();
  return {
    box,
    draw,
    /** Show the reflectance of the best design behind the bands. */
    compare(wavelengths, values) { state.curves = values ? [wavelengths, values] : null; draw(); },
  };
}

function chart(state, draw) {
  const width = window.innerWidth < 820 ? 400 : 560;
  const goals = state.read().map(([quantity, relation, ...figures]) => [quantity, relation, ...figures.map(Number)]);
  const [first, last] = state.reach ?? reachOf(goals);
  const scales = {
    x: (nm) => LEFT + ((nm - first) / (last - first)) * (width - LEFT - RIGHT),
    y: (share) => TOP + (1 - share / 100) * (HEIGHT - TOP - BOTTOM),
    nm: (x) => first + ((x - LEFT) / (width - LEFT - RIGHT)) * (last - first),
    share: (y) => 100 * (1 - (y - TOP) / (HEIGHT - TOP - BOTTOM)),
    first, last, width,
  };
  const drawn = svg("svg", { viewBox: `0 0 ${width} ${HEIGHT}`, class: "chart", role: "img",
    "aria-label": `Goals as bands: ${goals.map(inWords).join("; ") || "none"}` });
  drawn.append(...axes(scales), ...curveOf(state.curves, scales), ...goals.flatMap((goal, i) => band(goal, i, scales)));
  listen(drawn, { state, goals, scales, draw });
  return drawn;
}

/** The wavelengths shown: all goals with some room, the visible at least. */
function reachOf(goals) {
  const ends = goals.flatMap(([, , , from, to]) => [from, to]).filter((nm) => nm >= KEPT[0] && nm <= KEPT[1]);
  const [low, high] = [Math.min(400, ...ends), Math.max(750, ...ends)];
  const room = 0.08 * (high - low);
  return [Math.max(KEPT[0], low - room), Math.min(KEPT[1], high + room)];
}

function inWords([quantity, relation, share, from, to]) {
  const much = { ">": "more than", "<": "less than", "=": "just" }[relation];
  return `${much} ${share} % ${LETTERS[quantity]} from ${from} to ${to} nm`;
}

function axes({ x, y, first, last, width }) {
  const lines = [0, 25, 50, 75, 100].flatMap((share) => [
    svg("line", { x1: LEFT, x2: width - RIGHT, y1: y(share), y2: y(share), class: "grid" }),
    svg("text", { x: LEFT - 8, y: y(share) + 4, class: "tick", "text-anchor": "end" }, `${share}`)]);
  const marks = steps(first, last, width / 90).map((nm) =>
    svg("text", { x: x(nm), y: HEIGHT - BOTTOM + 18, class: "tick", "text-anchor": "middle" }, `${nm}`));
  return [...lines, ...marks,
    svg("text", { x: width / 2, y: HEIGHT - 4, class: "tick", "text-anchor": "middle" }, "wavelength [nm]; % of the light")];
}

function curveOf(curves, { x, y, first, last }) {
  if (!curves) return [];
  const points = curves[0].map((nm, i) => [nm, curves[1][i]]).filter(([nm]) => nm >= first && nm <= last);
  const path = points.map(([nm, share], i) => `${i ? "L" : "M"}${x(nm).toFixed(1)} ${y(100 * share).toFixed(1)}`).join("");
  return [svg("path", { d: path, class: "curve" })];
}

/** What a goal forbids, shaded, with its bound and its letter. */
function band([quantity, relation, share, from, to], i, { x, y }) {
  const [left, right, level] = [x(from), x(to), y(share)];
  const [top, foot] = relation === ">" ? [level, y(0)] : relation === "<" ? [y(100), level] : [level - 5, level + 5];
  const wide = Math.max(1, right - left);
  const grip = (part, at, span) => svg("rect", { x: at, y: Math.min(top, foot) - GRIP, width: span,
    height: Math.abs(foot - top) + 2 * GRIP, class: `grip ${part}`, "data-goal": i, "data-part": part });
  return [svg("rect", { x: left, y: top, width: wide, height: Math.max(1, foot - top), class: "within" }),
    svg("line", { x1: left, x2: right, y1: level, y2: level, class: "bound" }),
    svg("text", { x: (left + right) / 2, y: relation === "<" ? level + 16 : level - 6, class: "mark-words", "text-anchor": "middle" }, quantity),
    grip("whole", left, wide), grip("from", left - GRIP, 2 * GRIP), grip("to", right - GRIP, 2 * GRIP)];
}

function listen(drawn, { state, goals, scales, draw }) {
  const place = (event) => {
    const box = state.box.querySelector("svg").getBoundingClientRect(); // the one drawn last
    const zoom = scales.width / box.width;
    return [scales.nm((event.clientX - box.left) * zoom), scales.share((event.clientY - box.top) * zoom)];
  };
  drawn.addEventListener("pointerdown", (event) => {
    if (event.button) return;
    const { goal, part } = event.target.dataset;
    const [nm, share] = place(event);
    if (!goal && (share < 0 || share > 100)) return;
    event.preventDefault();
    state.reach = [scales.first, scales.last]; // the axis stands still while a band moves
    state.held = goal ? { i: Number(goal), part, nm, share, was: goals[Number(goal)] } : { nm, share, part: "new" };
    follow(state, { place, draw });
  });
}

/** Follow the pointer over the whole page until it is let go: each move draws the chart again. */
function follow(state, { place, draw }) {
  const move = (event) => { drag(state, place(event)); draw(); };
  const end = () => {
    window.removeEventListener("pointermove", move);
    window.removeEventListener("pointerup", end);
    window.removeEventListener("pointercancel", end);
    Object.assign(state, { held: null, reach: null });
    draw();
  };
  window.addEventListener("pointermove", move);
  window.addEventListener("pointerup", end);
  window.addEventListener("pointercancel", end);
}

function rounded(nm, [low, high]) {
  return Math.min(high, Math.max(low, ROUND_NM * Math.round(nm / ROUND_NM)));
}

function drag(state, [nm, share]) {
  const { held, reach } = state;
  const ends = [ROUND_NM * Math.ceil(reach[0] / ROUND_NM), ROUND_NM * Math.floor(reach[1] / ROUND_NM)];
  if (held.part === "new") {
    const [from, to] = [held.nm, nm].sort((a, b) => a - b).map((one) => rounded(one, ends));
    if (to - from < LEAST_NM) return;
    state.add("R", held.share >= 50 ? ">" : "<", Math.round(held.share), from, to);
    Object.assign(held, { i: state.read().length - 1, part: nm >= held.nm ? "to" : "from",
      was: ["R", "", Math.round(held.share), from, to], share });
    return;
  }
  let [, , level, from, to] = held.was;
  if (held.part === "from") from = Math.min(rounded(nm, ends), to - LEAST_NM);
  else if (held.part === "to") to = Math.max(rounded(nm, ends), from + LEAST_NM);
  else {
    const by = Math.min(ends[1] - to, Math.max(ends[0] - from, ROUND_NM * Math.round((nm - held.nm) / ROUND_NM)));
    [from, to] = [from + by, to + by];
    level = Math.min(100, Math.max(0, Math.round(level + share - held.share)));
  }
  state.write(held.i, level, from, to);
}
