// A run followed by light, eye or meter: the chart for the jar, where to stop, the ways compared.

import { across, fitted } from "./chart.js";
import { readable } from "./chart_reading.js";
import { el, figure, nanometres, percent, scrolling, sentence, svg } from "./dom.js";

const [HEIGHT, LEFT, RIGHT, TOP, BOTTOM] = [240, 40, 12, 28, 40];

/** All that is shown of a followed run; `done` steps are made. */
export function followParts(found, done) {
  const fresh = found.strategies.find((way) => way.strategy.startsWith("the sharpest"));
  const layers = (fresh.fresh_chips ? found.with_fresh_chips : found.layers).slice(done);
  return el("section", { "aria-label": "How to follow it" }, el("h3", {}, "How to follow it"),
    layers.some((one) => one.curve.length) ? followChart(layers) : null, stopTable(layers), wayTable(found),
    el("ul", { class: "notes" }, [`A good piece: ${found.goals.join("; ")}`, ...found.notes].map((one) => el("li", {}, sentence(one)))));
}

function table(title, heads, rows) {
  return scrolling(title, el("table", { class: "steps-table" },
    el("thead", {}, el("tr", {}, heads.map((head) => el("th", { scope: "col" }, head)))),
    el("tbody", {}, rows.map((row) => el("tr", {}, row.map((part, i) => el("td", { "data-head": heads[i] }, part)))))));
}

function stopTable(layers) {
  return table("What to watch in each layer", ["step", "film", "watch", "stop at", "error", "by time"], layers.map((one) => [
    `${one.step}${one.fresh_chip ? ", fresh chip" : ""}`, `${one.material} ${nanometres(one.thickness_nm)}`,
    one.chosen ? one.chosen.watched : "time", one.stop_at, `± ${figure(one.sd_nm, 2)} nm`, `± ${figure(one.timed_sd_nm, 2)} nm`]));
}

function wayTable(found) {
  return table("Ways to end the layers, in simulated runs", ["way", "good pieces", "worst layer"], found.strategies.map((way) =>
    [way.strategy, percent(way.yield_share), `± ${figure(Math.max(...way.sd_nm), 2)} nm`]));
}

const followChart = fitted(drawFollowed);

/** The readings against all that was deposited: a curve and a stop for each layer. */
function drawFollowed(layers) {
  const width = across();
  const whole = layers.reduce((sum, one) => sum + one.thickness_nm, 0);
  const most = Math.max(...layers.flatMap((one) => one.curve)) * 1.05;
  const x = (nm) => LEFT + (nm / whole) * (width - LEFT - RIGHT);
  const y = (share) => HEIGHT - BOTTOM - (share / most) * (HEIGHT - BOTTOM - TOP);
  const chart = svg("svg", { viewBox: `0 0 ${width} ${HEIGHT}`, class: "chart", role: "img", "aria-label": "What the detector shows through the run" });
  for (const share of [0, 0.5, 1]) {
    chart.append(svg("line", { x1: LEFT, x2: width - RIGHT, y1: y(share * most), y2: y(share * most), class: "grid" }),
      svg("text", { x: LEFT - 8, y: y(share * most) + 4, class: "tick", "text-anchor": "end" }, figure(100 * share * most, 2)));
  }
  let before = 0;
  for (const one of layers) {
    const points = one.curve.map((share, i) => `${i ? "L" : "M"}${x(before + one.curve_nm[i]).toFixed(1)} ${y(share).toFixed(1)}`);
    if (points.length) chart.append(svg("path", { d: points.join(""), class: "curve" }),
      svg("circle", { cx: x(before + one.thickness_nm), cy: y(one.curve.at(-1)), r: 4, class: "dot" }));
    chart.append(svg("text", { x: x(before + one.thickness_nm / 2), y: 16, class: "tick", "text-anchor": "middle" }, `${one.step}`));
    before += one.thickness_nm;
    chart.append(svg("line", { x1: x(before), x2: x(before), y1: TOP, y2: HEIGHT - BOTTOM, class: "grid" }));
  }
  chart.append(svg("text", { x: (LEFT + width) / 2, y: HEIGHT - 6, class: "tick", "text-anchor": "middle" }, "step, over all that is deposited"),
    svg("text", { x: 2, y: 12, class: "tick" }, "% of the light"));
  return el("div", { class: "chart-box" }, readable(chart, { from: LEFT, to: width - RIGHT, top: TOP, foot: HEIGHT - BOTTOM, words: (at) => wordsAt(layers, at * whole) }));
}

/** What the detector shows when so much has been deposited in all. */
function wordsAt(layers, deposited) {
  let before = 0;
  for (const one of layers) {
    const nm = deposited - before;
    if (nm <= one.thickness_nm || one === layers.at(-1)) {
      const i = one.curve_nm.findIndex((at) => at >= nm);
      const shown = one.curve.at(i === -1 ? -1 : i);
      const reads = shown === undefined ? "by time" : `${figure(100 * shown)} % of the light`;
      return `step ${one.step}, ${one.material} ${nanometres(Math.max(0, nm))}: ${reads}`;
    }
    before += one.thickness_nm;
  }
  return "";
}
