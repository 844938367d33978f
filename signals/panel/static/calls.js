// Calls: a single touch where it makes things safer, two steps where it widens danger. What came of it
// stands beside the call until the next one. Nothing is kept for later and nothing is sent twice.

import { Line } from "./line.js";

const WITHIN_MS = 1200;
const SETTLE_MS = 350; // a second tap of the same finger answers no question
const PRESS_MS = 2000; // a hand that rests on the screen for longer, and is then lifted, has called nothing
const AWAY_MS = 80; // an answer that takes longer is waited for visibly
const CLICK_MS = 700; // the click of a press comes after it, if it comes

const UNKNOWN = {
  title: "Nobody knows whether that arrived.",
  lines: ["Use flag and radio, look, then call again."],
  accepted: null,
};

export class Calls {
  // `page` gives csrf, seen, heard and lost as they are now; `tell(text, urgent)` reaches screen readers.
  constructor(page, tell) {
    this.page = page;
    this.tell = tell;
    this.asked = null;
    this.presses = new Map();
    this.judged = -Infinity;
    this.line = new Line("/line", page.csrf, WITHIN_MS);
    document.addEventListener("pointerdown", (event) => this.press(event));
    document.addEventListener("pointerup", (event) => this.release(event));
    document.addEventListener("pointercancel", ({ pointerId }) => this.presses.delete(pointerId));
    document.addEventListener("click", (event) => this.after(event), true);
    document.addEventListener("click", (event) => this.click(event));
    document.addEventListener("submit", (event) => this.submit(event));
    document.addEventListener("keydown", (event) => event.key === "Escape" && this.leave(true));
  }

  // A single touch calls when the finger leaves the place of the button it came down on: not when it comes down, for
  // it may be about to scroll, and not at the click, which comes later, and never for a press that is held a little
  // long or while another finger rests on the screen. The place is taken early: to look it up costs a layout.
  press({ target, pointerId, button: which, timeStamp }) {
    this.judged = -Infinity;
    const button = which === 0 && target.closest?.(".call[data-call]:not([data-asks], [type=submit])");
    if (!button) return;
    const { call } = button.dataset;
    this.presses.set(pointerId, { button, call, timeStamp, place: button.getBoundingClientRect() });
  }

  release({ pointerId, clientX, clientY, timeStamp }) {
    const pressed = this.presses.get(pointerId);
    this.presses.delete(pointerId);
    if (!pressed) return;
    const { button, call, place } = pressed;
    const inside = clientX >= place.left && clientX <= place.right && clientY >= place.top && clientY <= place.bottom;
    this.judged = performance.now();
    if (!inside || timeStamp - pressed.timeStamp > PRESS_MS) return;
    if (button.isConnected && button.dataset.call === call) this.touch(button);
  }

  // The click that belongs to such a press is nothing more, wherever it lands by then.
  after(event) {
    if (!event.detail || performance.now() - this.judged > CLICK_MS) return;
    this.judged = -Infinity;
    event.preventDefault();
    event.stopImmediatePropagation();
  }

  click(event) {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.dataset.answer) this.answer(button.dataset.answer);
    else if (button.type === "submit") return;
    else if (button.dataset.call || "reset" in button.dataset) this.touch(button);
  }

  // Forms that are calls: who drives what in the next group, a change in this one.
  submit(event) {
    const form = event.target;
    const call = form.id === "prepare" ? prepared(form) : form.id === "change" ? changed(form) : null;
    if (!call) return;
    event.preventDefault();
    const button = form.querySelector("[type=submit]");
    button.dataset.call = JSON.stringify(call);
    this.touch(button);
  }

  touch(button) {
    this.leave(false);
    if (button.dataset.asks) this.ask(button);
    else this.send(button, {});
  }

  ask(button) {
    const slot = cleared(button);
    const question = node("div", { class: "question", role: "group", "aria-label": "Question" });
    const text = node("p", { id: "asked", tabindex: "-1" }, button.dataset.asks);
    const choices = JSON.parse(button.dataset.choose || "{}");
    question.append(text, ...Object.entries(choices).map(([name, values]) => chooser(name, values)));
    question.append(
      node("div", { class: "calls" }, "",
        node("button", { type: "button", class: "call yes", "data-answer": "yes", "aria-describedby": "asked" }, button.dataset.yes),
        node("button", { type: "button", class: "call", "data-answer": "no" }, "Leave it")),
    );
    slot.append(question);
    this.asked = { button, slot, question, about: this.page.seen.about, at: performance.now() };
    question.scrollIntoView({ block: "nearest" });
    text.focus({ preventScroll: true });
  }

  answer(word) {
    const asked = this.asked;
    if (!asked || performance.now() - asked.at < SETTLE_MS) return;
    const fields = Object.fromEntries(
      [...asked.question.querySelectorAll("select")].map((select) => [select.name, select.value]));
    this.leave(word === "no");
    if (word === "yes") this.send(asked.button, fields);
  }

  // Take the question away; the focus goes back to where it was asked.
  leave(back) {
    const asked = this.asked;
    this.asked = null;
    if (!asked) return;
    const inside = asked.question.contains(document.activeElement);
    asked.question.remove();
    if (back || inside) asked.button.focus();
  }

  // A question falls when the picture it was asked about has changed.
  changed() {
    if (!this.asked || this.asked.about === this.page.seen.about) return;
    const { slot } = this.asked;
    this.leave(true);
    this.show(slot, { title: "Look again: the picture has changed.", lines: [], accepted: false });
  }

  // What is sent goes out before anything on the page is touched, and is on its way before anything is drawn.
  async send(button, fields) {
    if (this.page.lost) {
      this.show(cleared(button), { title: "Not sent: there is no link.", lines: ["Flag and radio."], accepted: false });
      return;
    }
    const saying = "reset" in button.dataset ? this.post("/reset", "{}") : this.call(button, fields);
    const slot = slotOf(button); // the button may be gone by the time the answer is here
    const drawing = setTimeout(() => (clear(), button.setAttribute("data-own-sent", "")), AWAY_MS);
    const said = await saying.catch(() => UNKNOWN);
    clearTimeout(drawing);
    button.removeAttribute("data-own-sent");
    clear();
    this.show(slot, said);
  }

  call(button, fields) {
    const { boot, seq } = this.page.seen;
    const call = { ...JSON.parse(button.dataset.call), ...fields };
    const asked = JSON.stringify({ call, boot, seq, heard: this.page.heard });
    return this.line.ask(asked) ?? this.post("/call", asked);
  }

  async post(url, body) {
    const answer = await fetch(url, {
      method: "POST",
      headers: { "content-type": "application/json", "x-kerblight": this.page.csrf },
      body,
      cache: "no-store",
      signal: AbortSignal.timeout(WITHIN_MS),
    });
    if (answer.status === 401) location.assign("/sign-in");
    return answer.json();
  }

  show(slot, said) {
    const done = said.accepted === true;
    const text = [said.title, ...said.lines].join(" ");
    this.tell(text, !done);
    if (!slot.isConnected) return;
    const lines = said.lines.map((line) => node("li", {}, line));
    slot.replaceChildren(
      node("div", { class: done ? "outcome" : "outcome refused" }, "",
        node("p", {}, said.title), ...(lines.length ? [node("ul", {}, "", ...lines)] : [])));
    if (!done) slot.scrollIntoView({ block: "nearest" });
  }
}

function prepared(form) {
  const rows = [...form.querySelectorAll("tbody tr")];
  const entries = rows.map((row) => {
    const driver = row.querySelector("input");
    return { number: Number(driver.dataset.kart), driver: driver.value.trim(), class: row.querySelector("select").value };
  });
  return { call: "prepare", entries: entries.filter(({ driver }) => driver) };
}

function changed(form) {
  const from = form.elements.from.value.trim();
  const to = form.elements.to.selectedOptions[0];
  if (/^\d+$/.test(from)) return { call: "swap", kart: Number(from), to: Number(to.value) };
  return { call: "join", entries: [{ number: Number(to.value), driver: from, class: to.dataset.class }] };
}

// Every answer on the page goes when the next call is made.
function clear() {
  for (const slot of document.querySelectorAll(".answer")) slot.replaceChildren();
}

function slotOf(button) {
  return button.closest(".calls").querySelector(".answer");
}

function cleared(button) {
  clear();
  return slotOf(button);
}

function chooser(name, values) {
  const options = values.map((value) => node("option", {}, value));
  return node("label", { class: "chooser" }, "", node("select", { name, "aria-labelledby": "asked" }, "", ...options));
}

export function node(name, attributes, text, ...inside) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text) made.textContent = text;
  made.append(...inside);
  return made;
}
