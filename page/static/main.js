// The page: its rooms, and which one is shown.

import { ask } from "./ask.js";
import { openAnswerLine, showLine } from "./answer_line.js";
import { GUEST, byId, el, fill, keepTogether, whereItGoes } from "./dom.js";
import { openAssay } from "./assay.js";
import { openChamber } from "./chamber.js";
import { openHeat } from "./heat.js";
import { openDeposit } from "./deposit.js";
import { openLog } from "./log.js";
import { openLook } from "./look.js";
import { openPhones, renewCode } from "./phones.js";
import { openOrder } from "./order.js";
import { followState, readAddress, restore, writeAddress } from "./keep.js";
import { openSheet } from "./sheet.js";
import { openThickness } from "./thickness.js";
import { openVerbs } from "./verbs.js";

const ROOMS = {
  look: openLook,
  heat: openHeat,
  thickness: openThickness,
  assay: openAssay,
  deposit: (choices) => {
    const examples = [openDeposit(choices), openSheet(choices), openChamber()];
    return () => examples.forEach((show) => show());
  },
  log: openLog,
};

const whenFirstShown = {}; // what a room has to ask before it can be used, by name

function show() {
  const { name } = readAddress();
  const chosen = name in ROOMS ? name : "look";
  for (const room of document.querySelectorAll(".room")) room.hidden = room.id !== chosen;
  for (const link of document.querySelectorAll("[data-room]")) {
    if (link.dataset.room === chosen) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
  showTab();
  whenFirstShown[chosen]?.();
  delete whenFirstShown[chosen];
  const title = byId(`${chosen}-title`).textContent;
  document.title = `${title} · oxhue`;
  showLine();
}

/** Where the tabs scroll sideways, the one of the open room comes into sight. */
function showTab() {
  const [bar, tab] = [".rooms", ".rooms [aria-current]"].map((one) => document.querySelector(one));
  bar.scrollLeft += tab.getBoundingClientRect().left - (bar.clientWidth - tab.offsetWidth) / 2;
}

/** The keys go on within the room, from its top. */
function enterRoom() {
  byId("room").focus({ preventScroll: true });
  window.scrollTo(0, 0);
}

function offer(choices) {
  fill(byId("words"), choices.words.map((word) => el("option", { value: word })));
  fill(byId("materials"), choices.materials.map((one) => el("option", { value: one.name }, one.words)));
  fill(byId("substrates"), choices.materials
    .filter((one) => ["metal", "alloy", "glass", "polymer", "semiconductor", "oxide"].includes(one.kind))
    .map((one) => el("option", { value: one.name }, one.words)));
}

async function open() {
  const { answer } = await ask("choices", {});
  keepTogether(answer.kept);
  offer(answer);
  for (const field of document.querySelectorAll("input[type=text]")) Object.assign(field, { autocomplete: "off", autocapitalize: "none" });
  openAnswerLine();
  openOrder();
  document.body.classList.toggle("guest", GUEST);
  if (GUEST) byId("where-computed").textContent = `What you enter or send ${whereItGoes()}.`;
  for (const [name, set] of Object.entries(ROOMS)) whenFirstShown[name] = set(answer);
  openVerbs();
  followState();
  window.addEventListener("hashchange", async () => {
    show();
    enterRoom(); // before what may take long: by then the person is elsewhere
    await restore(readAddress().held);
    writeAddress();
  });
  window.addEventListener("resize", showTab); // as magnifying is
  for (const link of document.querySelectorAll("[data-room]")) {
    link.addEventListener("click", (event) => {
      if (link.hash !== location.hash) return;
      event.preventDefault(); // it is open: no change of the address will tell
      enterRoom();
    });
  }
  show();
  await restore(readAddress().held);
  document.body.dataset.ready = "yes";
  byId("phones-renew").addEventListener("click", renewCode);
  await openPhones();
}

open().catch((error) => {
  fill(byId("room"), el("p", { class: "status refused" }, error.message));
  throw error;
});
