// Phones, on the computer's own page: the code to scan, who knocks, who is in.

import { ask } from "./ask.js";
import { GUEST, byId, el, fill, svg } from "./dom.js";

const EVERY_MS = 2_000; // a knock is shown this soon

/** Show the panel where the page was started for phones, and look for knocks. */
export async function openPhones() {
  if (GUEST) return; // a phone has no say over phones
  const { answer } = await ask("phones", {});
  if (answer === null) return;
  byId("phones").hidden = false;
  show(answer);
  setInterval(() => look({}), EVERY_MS);
}

async function look(wish) {
  if (document.hidden) return;
  try {
    show((await ask("phones", wish)).answer);
  } catch { /* the server is gone, which the next question tells */ }
}

let shown = ""; // what is on the screen, so that a button under the pointer is not drawn again

function show(state) {
  const { left_s, ...lasting } = state;
  byId("phones-left").textContent = left_s ? `This code holds for another ${left_s} s, once.` : "";
  const waiting = state.phones.filter((one) => !one.allowed);
  const what = JSON.stringify({ ...lasting, phones: state.phones.map(({ idle_s, ...rest }) => [rest, Math.floor(idle_s / 60)]) });
  if (what === shown) return;
  shown = what;
  fill(byId("knocks"), waiting.map((one) => el("p", { class: "knock-line", role: "alert" },
    el("strong", {}, `A phone wants in, code ${one.digits}.`), " Does the phone in your hand show this?",
    el("button", { type: "button", onclick: () => look({ do: "allow", name: one.name }) }, "Allow"),
    el("button", { type: "button", class: "plain", onclick: () => look({ do: "out", name: one.name }) }, "Refuse"))));
  fill(byId("phones-code"), state.code.length ? picture(state.code) : el("p", {}, "No code is open."));
  byId("phones-link").textContent = state.link;
  fill(byId("phones-in"), state.phones.filter((one) => one.allowed).map((one) => el("li", {},
    `Phone ${one.digits}, ${one.idle_s < 60 ? "in use" : `idle for ${Math.floor(one.idle_s / 60)} min`} `,
    el("button", { type: "button", class: "plain", onclick: () => look({ do: "out", name: one.name }) }, "Put out"))));
}

/** The code as one path of dark squares on white. */
function picture(rows) {
  const side = rows.length;
  const d = rows.flatMap((row, y) => [...row].map((bit, x) => (bit === "1" ? `M${x} ${y}h1v1h-1z` : ""))).join("");
  return svg("svg", { viewBox: `0 0 ${side} ${side}`, class: "qr", role: "img", "aria-label": "Code to scan with the phone" },
    svg("rect", { width: side, height: side, fill: "#fff" }), svg("path", { d, fill: "#000", "shape-rendering": "crispEdges" }));
}

/** A new code; the old one is void. */
export function renewCode() {
  return look({ do: "invite" });
}
