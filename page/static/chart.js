// Charts drawn as SVG: spectra, and a density above the colours it belongs to.

import { nearest, readable } from "./chart_reading.js";
import { runs, inkOn } from "./colour.js";
import { el, figure, percent, span, svg } from "./dom.js";

/** Units across a chart: fewer on a phone, so that its words stay readable. */
export function across() {
  return window.innerWidth < 820 ? Math.max(340, Math.min(720, window.innerWidth - 50)) : 720;
}

/** A chart of that drawing, which is drawn again where the window has another width by then. */
export function fitted(draw) {
  return (...given) => {
    const box = draw(...given);
    let wide = across();
    new ResizeObserver(() => requestAnimationFrame(() => {
      if (across() === wide) return;
      wide = across();
      box.replaceChildren(...draw(...given).childNodes);
    })).observe(box);
    return box;
  };
}

function path(points) {
  return points.map(([x, y], i) => `${i ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`).join("");
}

function scale(low, high, from, to) {
  return (value) => from + ((value - low) / (high - low)) * (to - from);
}

function text(x, y, words, extra = {}) {
  return svg("text", { x, y, class: "tick", ...extra }, words);
}

/** Round steps for an axis, about `wanted` of them. */
export function steps(low, high, wanted = 6) {
  const raw = (high - low) / wanted;
  const size = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 5, 10].map((k) => k * size).find((s) => s >= raw);
  const found = [];
  for (let v = Math.ceil(low / step) * step; v <= high + step * 1e-6; v += step) found.push(v);
  return found.map((v) => Number(v.toFixed(6)));
}

/**
 * Shares of light over wavelength. Each curve: { words, values (0 to 1), dashes }, distinguished by
 * dashes and by its name at the curve, never by colour alone. Goals, [relation, percent, from, to],
 * are shaded where a curve may not run.
 */
export const spectrumChart = fitted(drawSpectrum);

function drawSpectrum(wavelengths, curves, title, goals = []) {
  const [WIDTH, height] = [across(), 300];
  const [left, right, top, bottom] = [40, 12, 28, 44];
  const x = scale(wavelengths[0], wavelengths.at(-1), left, WIDTH - right);
  const y = scale(0, 1, height - bottom, top);
  const chart = svg("svg", {
    viewBox: `0 0 ${WIDTH} ${height}`, class: "chart", role: "img", "aria-label": title,
  });
  for (const share of [0, 0.25, 0.5, 0.75, 1]) {
    chart.append(svg("line", { x1: left, x2: WIDTH - right, y1: y(share), y2: y(share), class: "grid" }),
      text(left - 8, y(share) + 4, `${100 * share}`, { "text-anchor": "end" }));
  }
  for (const nm of steps(wavelengths[0], wavelengths.at(-1), WIDTH / 90)) {
    chart.append(text(x(nm), height - bottom + 18, `${nm}`, { "text-anchor": "middle" }));
  }
  chart.append(text((left + WIDTH - right) / 2, height - 6, "wavelength [nm]", { "text-anchor": "middle" }),
    text(2, 12, "% of the light"));
  for (const [relation, percent, from, to] of goals) {
    const level = y(percent / 100);
    const [above, below] = { ">": [level, y(0)], "<": [y(1), level], "=": [level - 3, level + 3] }[relation];
    chart.append(svg("rect", { x: x(from), y: above, width: Math.max(1, x(to) - x(from)), height: below - above, class: "within" }),
      svg("line", { x1: x(from), x2: Math.max(x(to), x(from) + 1), y1: level, y2: level, class: "bound" }));
  }
  for (const curve of curves) {
    const points = curve.values.map((share, i) => [x(wavelengths[i]), y(share)]);
    chart.append(svg("path", { d: path(points), class: "curve", "stroke-dasharray": curve.dashes }));
  }
  const words = (at) => {
    const i = nearest(at, wavelengths.length);
    return `${Math.round(wavelengths[i])} nm: ${curves.map((one) => `${one.words} ${figure(100 * one.values[i])} %`).join(", ")}`;
  };
  return el("div", { class: "chart-box" },
    readable(chart, { from: left, to: WIDTH - right, top, foot: height - bottom, words, steps: wavelengths.length - 1 }), legend(curves));
}

/** Pressures over time, both by powers of ten; gases are distinguished by their dashes. */
export const pressureChart = fitted(drawPressure);

function drawPressure(history, names, title) {
  const [WIDTH, height] = [across(), 300];
  const [left, right, top, bottom] = [52, 12, 28, 44];
  const dashes = [null, "9 5", "2 4", "12 4 2 4", "5 3", "1 3", "7 2 1 2"];
  const times = history.time_s.map((s) => Math.log10(Math.max(s, 1)));
  const shown = Object.entries(history.partial_mbar);
  const decade = (mbar) => Math.log10(Math.max(mbar, 1e-12));
  const low = Math.max(-10, Math.floor(Math.min(...shown.flatMap(([, all]) => all.map(decade)))));
  const x = scale(times[0], times.at(-1), left, WIDTH - right);
  const y = scale(low, 3, height - bottom, top);
  const chart = svg("svg", {
    viewBox: `0 0 ${WIDTH} ${height}`, class: "chart", role: "img", "aria-label": title,
  });
  for (const power of steps(low, 3)) {
    chart.append(svg("line", { x1: left, x2: WIDTH - right, y1: y(power), y2: y(power), class: "grid" }),
      text(left - 8, y(power) + 4, figure(10 ** power, 1).replace("1 × ", ""), { "text-anchor": "end" }));
  }
  for (let power = 0; power <= times.at(-1); power += 1) {
    chart.append(text(x(power), height - bottom + 18, figure(10 ** power, 1), { "text-anchor": "middle" }));
  }
  chart.append(text((left + WIDTH - right) / 2, height - 6, "seconds since the pump was started", { "text-anchor": "middle" }),
    text(2, 12, "mbar"));
  const curves = shown.filter(([, all]) => Math.max(...all.slice(1)) > 1e-12)
    .map(([gas, values], i) => ({ words: names[gas], values, dashes: dashes[i % dashes.length] }));
  for (const curve of curves) {
    const points = curve.values.map((mbar, i) => [x(times[i]), y(Math.max(decade(mbar), low))]);
    chart.append(svg("path", { d: path(points), class: "curve", "stroke-dasharray": curve.dashes }));
  }
  const words = (at) => {
    const wanted = times[0] + at * (times.at(-1) - times[0]);
    const i = times.reduce((best, one, k) => (Math.abs(one - wanted) < Math.abs(times[best] - wanted) ? k : best), 0);
    return `${figure(history.time_s[i], 2)} s: ${curves.map((one) => `${one.words} ${figure(one.values[i], 2)} mbar`).join(", ")}`;
  };
  return el("div", { class: "chart-box" },
    readable(chart, { from: left, to: WIDTH - right, top, foot: height - bottom, words }), legend(curves));
}

function legend(curves) {
  if (curves.length < 2) return null;
  return el("ul", { class: "legend" }, curves.map((curve) => el("li", {},
    svg("svg", { viewBox: "0 0 40 8", class: "key", "aria-hidden": "true" },
      svg("path", { d: "M0 4H40", class: "curve", "stroke-dasharray": curve.dashes })),
    curve.words)));
}

export const TOO_VIVID = "more vivid than a screen can show";

/** What the line along the top of a strip means, where there is one. */
function vividHint(shown) {
  return shown.every(Boolean) ? null : el("p", { class: "hint" }, `Line at the top of the strip: ${TOO_VIVID}.`);
}

/** Colours along an axis with their names on them, as SVG parts; a line over those that no screen shows as they are. */
function rampParts(values, { srgb_hex: hexes, name: names, in_gamut: shown }, x, top, height) {
  const half = (values[1] - values[0]) / 2;
  const low = Math.min(...[values[0], values.at(-1)]);
  const high = Math.max(...[values[0], values.at(-1)]);
  const edge = (v) => x(Math.min(high, Math.max(low, v)));
  const parts = values.map((value, i) => {
    const from = edge(value - half);
    return svg("rect", {
      x: from, y: top, width: Math.max(0.5, edge(value + half) - from + 0.4), height, fill: hexes[i],
      "shape-rendering": "crispEdges",
    });
  });
  for (const [first, last, fits] of runs(shown)) {
    if (!fits) parts.push(svg("line", { x1: edge(values[first] - half), x2: edge(values[last] + half), y1: top, y2: top, class: "bound" }));
  }
  for (const [first, last, name] of runs(names)) {
    const [from, to] = [edge(values[first] - half), edge(values[last] + half)];
    if (to - from < 13) continue;
    const middle = (from + to) / 2;
    const ink = inkOn(hexes[Math.round((first + last) / 2)]);
    parts.push(svg("text", {
      x: middle, y: top + height / 2, fill: ink, class: "ramp-name", "text-anchor": "middle",
      "dominant-baseline": "central", transform: `rotate(-90 ${middle} ${top + height / 2})`,
    }, name));
  }
  return parts;
}

/** The colours of a swept thickness with their names, above an axis; sides as `look` has them. */
export const rampChart = fitted(drawRamp);

function drawRamp(nm, sides, title) {
  const [WIDTH, height] = [across(), 190];
  const colours = Object.fromEntries(["srgb_hex", "name", "in_gamut"].map((part) => [part, sides.map((one) => one[part])]));
  const x = scale(nm[0], nm.at(-1), 10, WIDTH - 10);
  const chart = svg("svg", { viewBox: `0 0 ${WIDTH} ${height}`, class: "chart", role: "img", "aria-label": title },
    rampParts(nm, colours, x, 6, 140));
  for (const v of steps(nm[0], nm.at(-1), WIDTH / 90)) {
    const side = v === nm[0] ? "start" : v === nm.at(-1) ? "end" : "middle";
    chart.append(text(x(v), 164, `${v}`, { "text-anchor": side }));
  }
  chart.append(text(WIDTH / 2, height - 4, "thickness [nm]", { "text-anchor": "middle" }));
  const words = (at) => {
    const i = nearest(at, nm.length);
    return `${figure(nm[i])} nm: ${sides[i].name} ${sides[i].srgb_hex}${sides[i].in_gamut ? "" : `, ${TOO_VIVID}`}`;
  };
  return el("div", { class: "chart-box" }, readable(chart, { from: 10, to: WIDTH - 10, top: 6, foot: 146, words, steps: nm.length - 1 }), vividHint(colours.in_gamut));
}

/** The stretches of a list that hold something. */
function unbroken(list) {
  const found = [[]];
  for (const one of list) {
    if (one) found.at(-1).push(one);
    else if (found.at(-1).length) found.push([]);
  }
  return found.filter((part) => part.length);
}

/** Thickness along a line with its 90 % band; null where nothing fits. Each point: [nm, low, high]. */
export const profileChart = fitted(drawProfile);

function drawProfile(found, where = "along the line") {
  const [WIDTH, height] = [across(), 220];
  const [left, right, top, bottom] = [52, 12, 12, 36];
  const held = found.filter(Boolean);
  const [from, to] = [Math.min(...held.map((one) => one[1])), Math.max(...held.map((one) => one[2]))];
  const x = scale(0, found.length - 1, left, WIDTH - right);
  const y = scale(Math.max(0, from - 3), to + 3, height - bottom, top);
  const chart = svg("svg", { viewBox: `0 0 ${WIDTH} ${height}`, class: "chart", role: "img",
    "aria-label": `Thickness ${where}: ${Math.round(held[0][0])} to ${Math.round(held.at(-1)[0])} nm` });
  for (const v of steps(Math.max(0, from - 3), to + 3, 5)) {
    chart.append(text(left - 6, y(v) + 4, `${v}`, { "text-anchor": "end" }), svg("line", { x1: left, x2: WIDTH - right, y1: y(v), y2: y(v), class: "grid" }));
  }
  for (const points of unbroken(found.map((one, i) => one && [x(i), one]))) {
    const upper = points.map(([at, one]) => [at, y(one[2])]);
    const lower = points.map(([at, one]) => [at, y(one[1])]).reverse();
    chart.append(svg("path", { d: `${path([...upper, ...lower])}Z`, class: "within" }),
      svg("path", { d: path(points.map(([at, one]) => [at, y(one[0])])), class: "curve" }));
  }
  chart.append(text((left + WIDTH) / 2, height - 6, `${where}; thickness [nm], shaded: 90 %`, { "text-anchor": "middle" }));
  const words = (at) => {
    const one = found[nearest(at, found.length)];
    return `${Math.round(100 * at)} % of the way: ${one ? `${figure(one[0])} nm, ${span([one[1], one[2]])}` : "nothing fits"}`;
  };
  return el("div", { class: "chart-box" }, readable(chart, { from: left, to: WIDTH - right, top, foot: height - bottom, words, steps: found.length - 1 }));
}

/** The density over thickness above the colours of the film, with its candidates. */
export const densityChart = fitted(drawDensity);

function drawDensity(drawing, answer) {
  const [WIDTH, height] = [across(), 330];
  const [left, right, top, ramp, bottom] = [10, 10, 34, 92, 40];
  const nm = drawing.thickness_nm;
  const x = scale(nm[0], nm.at(-1), left, WIDTH - right);
  const most = Math.max(...drawing.density, 1e-12);
  const foot = height - bottom - ramp;
  const y = scale(0, most, foot, top);
  const chart = svg("svg", {
    viewBox: `0 0 ${WIDTH} ${height}`, class: "chart", role: "img",
    "aria-label": `Probability over thickness. ${answer.candidates
      .map((one) => `${Math.round(one.thickness_nm)} nm, ${percent(one.probability)}`).join("; ")}`,
  });
  for (const [low, end] of answer.region90_nm) {
    const high = end ?? nm.at(-1); // a metal once opaque has no upper end
    chart.append(svg("rect", {
      x: x(low), y: top, width: Math.max(1, x(high) - x(low)), height: foot - top, class: "within",
    }));
  }
  const curve = drawing.density.map((p, i) => [x(nm[i]), y(p)]);
  chart.append(svg("path", { d: `${path(curve)}L${x(nm.at(-1))} ${foot}L${x(nm[0])} ${foot}Z`, class: "mass" }),
    svg("path", { d: path(curve), class: "curve" }),
    ...rampParts(nm, drawing, x, foot, ramp));
  for (const one of answer.candidates) {
    const at = x(one.thickness_nm);
    const side = at > WIDTH - 70 ? "end" : at < 60 ? "start" : "middle";
    chart.append(svg("line", { x1: at, x2: at, y1: top, y2: foot + ramp, class: "mark" }),
      text(at, 14, `${Math.round(one.thickness_nm)} nm`, { "text-anchor": side, class: "mark-words" }),
      text(at, 28, percent(one.probability), { "text-anchor": side }));
  }
  for (const v of steps(nm[0], nm.at(-1), WIDTH / 90)) {
    const side = v === nm[0] ? "start" : v === nm.at(-1) ? "end" : "middle";
    chart.append(text(x(v), height - bottom + 18, `${v}`, { "text-anchor": side }));
  }
  chart.append(text(WIDTH / 2, height - 4, "thickness [nm]; shaded: 90 % of the probability",
    { "text-anchor": "middle" }));
  const words = (at) => {
    const i = nearest(at, nm.length);
    const inside = answer.region90_nm.some(([low, end]) => nm[i] >= low && nm[i] <= (end ?? Infinity));
    return `${nm[i]} nm: ${drawing.name[i]} ${drawing.srgb_hex[i]}, ${inside ? "within" : "outside"} the 90 %`;
  };
  return el("div", { class: "chart-box" }, readable(chart, { from: left, to: WIDTH - right, top, foot: foot + ramp, words, steps: nm.length - 1 }), vividHint(drawing.in_gamut));
}

/** Shares as bars with their words. Each row: { words, share, hex, note }. */
export function bars(rows) {
  return el("ul", { class: "bars" }, rows.map((row) => {
    const fill = el("span", { class: "bar-fill" });
    fill.style.width = `${Math.max(0.5, 100 * row.share)}%`;
    if (row.hex) fill.style.backgroundColor = row.hex;
    return el("li", {}, row.hex ? el("span", { class: "patch", colour: row.hex, "aria-hidden": "true" }) : null,
      el("span", { class: "bar-words" }, row.words, row.note && el("span", { class: "hex" }, ` ${row.note}`)),
      el("span", { class: "bar", "aria-hidden": "true" }, fill),
      el("span", { class: "bar-share" }, percent(row.share)));
  }));
}
