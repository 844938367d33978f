// The opening check on the page: an answer is sent, what comes next is put in its place.

import { morph } from "./morph.js";

const AGAIN_MS = 400;
const MANY = new Set(["lamps", "elsewhere"]);
const NUMBERS = new Set(["number", "kmh", "kart"]);

export class WalkPage {
  // `page` gives csrf and lost; `tell(text, urgent)` reaches screen readers.
  constructor(page, tell) {
    this.page = page;
    this.tell = tell;
    document.addEventListener("click", (event) => this.click(event));
    document.addEventListener("submit", (event) => this.submit(event));
    this.attach();
  }

  // Take up the walk of the page that is shown now, if it has one.
  attach() {
    clearTimeout(this.again);
    if (this.place && this.place.querySelector(".busy")) this.again = setTimeout(() => this.look(), AGAIN_MS);
  }

  get place() {
    return document.getElementById("walk");
  }

  click(event) {
    const button = event.target.closest("button[data-walk]");
    if (button) this.send(button.dataset.walk, {});
  }

  submit(event) {
    const form = event.target.closest("form[data-walk]");
    if (!form) return;
    event.preventDefault();
    const fields = fieldsOf(form, event.submitter);
    this.send(form.dataset.walk, form.dataset.walk === "say" ? answer(form.dataset.asks, fields) : fields);
  }

  async send(act, fields) {
    if (this.place.hasAttribute("aria-busy")) return;
    if (this.page.lost) return this.complain({ title: "Not sent: there is no link.", lines: ["Flag and radio."] });
    const options = {
      method: "POST",
      headers: { "content-type": "application/json", "x-kerblight": this.page.csrf },
      body: JSON.stringify(fields),
    };
    const place = this.place;
    place.setAttribute("aria-busy", "true");
    await this.put(`/walk/${act}`, options);
    place.removeAttribute("aria-busy");
  }

  async look() {
    await this.put("/walk/now", {});
  }

  async put(url, options) {
    const answer = await fetch(url, { cache: "no-store", ...options }).catch(() => null);
    if (answer?.status === 401) return location.assign("/sign-in");
    const said = (await answer?.json().catch(() => null)) || { title: "Nobody knows whether that arrived.", lines: [] };
    if (!this.place) return;
    if (!("html" in said)) {
      this.complain(said);
      return this.attach(); // what is being done goes on: look again
    }
    const before = this.heading?.textContent;
    morph(this.place, said.html);
    if (this.heading && this.heading.textContent !== before) {
      this.heading.focus({ preventScroll: true });
      scrollTo({ top: 0 });
    }
    this.attach();
  }

  get heading() {
    return this.place?.querySelector("[data-heading]");
  }

  complain({ title, lines }) {
    this.tell([title, ...lines].join(" "), true);
    const box = document.createElement("div");
    box.className = "outcome refused";
    box.dataset.id = "against";
    box.textContent = [title, ...lines].join(" ");
    this.place.querySelector("[data-id=against]")?.remove();
    this.place.prepend(box);
  }
}

// What a form holds: ticked boxes as lists, empty fields left out, numbers as numbers.
function fieldsOf(form, submitter) {
  const fields = {};
  for (const [name, value] of new FormData(form, submitter)) {
    const text = value.trim();
    if (MANY.has(name)) (fields[name] ||= []).push(text);
    else if (text !== "") fields[name] = NUMBERS.has(name) ? Number(text.replace(",", ".")) : text;
  }
  return fields;
}

// An answer as the walk takes it.
function answer(asks, { none, nokart, unmeasured, unseen, good, ...said }) {
  if (unseen) return { unseen: true, note: said.note || "" };
  if (asks === "lamps") said.lamps = none ? [] : said.lamps || [];
  if (asks === "answers" && nokart) said.kart = null;
  if (asks === "speed" && unmeasured) delete said.kmh;
  if (asks === "good") said.good = good === "yes";
  return said;
}
