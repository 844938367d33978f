// A post's page: one link, one picture, calls by touch.

import { Calls } from "./calls.js";
import { Clocks } from "./clocks.js";
import { Link } from "./link.js";
import { TrackMap } from "./map.js";
import { morph } from "./morph.js";
import { Pages } from "./pages.js";
import { WalkPage } from "./walk.js";

const NO_LINK = "NO LINK: FLAG AND RADIO";
const given = JSON.parse(document.getElementById("page").textContent);
const regions = new Map();

const map = new TrackMap(given.flash);
const clocks = new Clocks((text) => tell(text, false));
const page = {
  csrf: given.csrf,
  seen: given.seen,
  get heard() { return link.heard; },
  get lost() { return link.lost !== false; },
};
const calls = new Calls(page, tell);
const link = new Link("/stream", { regions: take, beat, lost, over, ending });
const walk = new WalkPage(page, tell);
new Pages(arrived);
map.show(given.map);

document.addEventListener("click", (event) => {
  const tab = event.target.closest("[data-pane]");
  const goes = event.target.closest("[data-goes]");
  if (tab) pane(tab.dataset.pane);
  if (goes) lead(Object.entries(JSON.parse(goes.dataset.goes)));
});

// On a narrow screen one part of the page is shown at a time.
function pane(name) {
  document.querySelector("[data-shows]").dataset.shows = name;
  for (const tab of document.querySelectorAll("[data-pane]"))
    tab.setAttribute("aria-pressed", String(tab.dataset.pane === name));
}

// Lead to the call that comes next; it is not made.
function lead(goal) {
  const leads = ({ dataset: { call } }) => call && goal.every(([name, value]) => JSON.parse(call)[name] === value);
  const button = [...document.querySelectorAll("main .call")].find(leads);
  if (!button) return;
  pane(button.closest("[data-in]").dataset.in);
  button.closest("details")?.setAttribute("open", "");
  button.scrollIntoView({ block: "center" });
  button.focus({ preventScroll: true });
}

function take(fresh) {
  for (const [name, shown] of Object.entries(fresh)) {
    regions.set(name, shown);
    if (name === "map") map.show(shown);
    else if (name === "seen") page.seen = shown;
    else draw(name, shown);
  }
  clocks.tick();
  if ("seen" in fresh) calls.changed();
  if ("status" in fresh) heralded();
}

function draw(name, html) {
  for (const place of document.querySelectorAll(`[data-region="${name}"]`)) morph(place, html);
}

// A page that has just been put in shows what was heard last.
function arrived() {
  for (const [name, shown] of regions) if (name !== "map" && name !== "seen") draw(name, shown);
  map.attach();
  walk.attach();
  if (regions.has("map")) map.show(regions.get("map"));
}

function beat({ now, karts }) {
  clocks.heard(now);
  map.move(karts);
}

let condition = null;
function heralded() {
  const said = document.querySelector(".condition")?.textContent.replace(/\s+/g, " ").trim();
  if (condition !== null && said !== condition) tell(said, true);
  condition = said;
}

function lost(is, age) {
  const banner = document.getElementById("nolink");
  const before = document.documentElement.classList.contains("lost");
  document.documentElement.classList.toggle("lost", is);
  document.documentElement.classList.toggle("live", !is);
  if (!is) {
    banner.hidden = true;
    return;
  }
  const old = Number.isFinite(age) ? ` The picture is ${Math.floor(age / 1000)} s old.` : "";
  if (!before) {
    banner.hidden = false;
    banner.firstElementChild.textContent = NO_LINK;
    navigator.vibrate?.([300, 150, 300]);
  }
  const second = banner.lastElementChild;
  const text = `Calls do not go out.${old}`;
  if (second.textContent !== text) second.textContent = text;
}

function over() {
  location.assign("/sign-in");
}

function ending({ minutes }) {
  tell(`This sign-in ends in ${minutes} minutes: sign in again when it is quiet.`, true);
  const note = document.getElementById("ending");
  note.hidden = false;
  note.querySelector("b").textContent = minutes;
}

function tell(text, urgent) {
  const place = document.getElementById(urgent ? "alarm" : "said");
  place.textContent = "";
  requestAnimationFrame(() => (place.textContent = text));
}

navigator.wakeLock?.request("screen").catch(() => {});
document.addEventListener("visibilitychange", () => document.hidden || navigator.wakeLock?.request("screen").catch(() => {}));
