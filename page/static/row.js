// A row of spots along a line drawn through a photo, gauged together as one piece.

import { askLong, teller } from "./ask.js";
import { profileChart } from "./chart.js";
import { el, fill, span } from "./dom.js";

/** The panel that gauges a row; `question()` gives the fields, `row()` the line and its marks. */
export function rowPanel(question, row) {
  const line = el("p", { class: "status", role: "status" });
  const told = teller(line);
  const stop = el("button", { type: "button", class: "plain", hidden: true }, "Stop");
  const box = el("div", { "aria-live": "polite" });
  const go = el("button", { type: "button", onclick: () => gauge() }, "Gauge the row");
  async function gauge() {
    const marks = row();
    if (!marks) {
      told.busy("Mark where the row starts and where it ends first.");
      line.className = "status";
      return;
    }
    go.disabled = true;
    told.busy("Gauging the spots together …");
    try {
      const { answer, drawing, trusted } = await askLong("row", { ...question(), ...marks }, told.busy, stop);
      told.clear();
      show(answer, drawing, trusted);
    } catch (error) {
      told.refused(error);
    } finally {
      go.disabled = false;
    }
  }
  function show({ readings }, { seen_hex }, trusted) {
    const found = readings.map((one) => [one.thickness_nm, ...one.interval90_nm]);
    fill(box, el("p", { class: "lead" }, words(readings)),
      trusted ? null : el("p", { class: "status refused" }, "Two runs did not agree; do not trust this. Set the marks again."),
      profileChart(found, "along the row"),
      el("ul", { class: "cards" }, readings.map((one, i) => el("li", { class: "card" },
        el("span", { class: "patch tall", colour: seen_hex[i], "aria-hidden": "true" }),
        el("div", { class: "card-words" }, el("strong", {}, `Spot ${i + 1}: ${Math.round(one.thickness_nm)} nm`),
          el("span", {}, `90 % within ${span(one.interval90_nm)}`))))));
  }
  return el("div", { class: "row-panel" }, el("h2", {}, "A row of spots"),
    el("p", { class: "hint" }, "Mark where the row starts and ends; spots between are read together, which tells their orders apart."),
    el("div", { class: "row" }, go, stop), line, box);
}

function words(readings) {
  const nm = readings.map((one) => Math.round(one.thickness_nm));
  return `From ${nm[0]} to ${nm.at(-1)} nm along the row.`;
}
