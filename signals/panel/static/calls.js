// Calls: a single touch where it makes things safer, two steps where it widens danger. What came of it
// stands beside the call until the next one. Nothing is kept for later and nothing is sent twice.

const WITHIN_MS = 1200;
const SETTLE_MS = 350; // a second tap of the same finger answers no question

export class Calls {
  // `page` gives csrf, seen, heard and lost as they are now; `tell(text, urgent)` reaches screen readers.
  constructor(page, tell) {
    this.page = page;
    this.tell = tell;
    this.asked = null;
    document.addEventListener("click", (event) => this.click(event));
    document.addEventListener("submit", (event) => this.submit(event));
    document.addEventListener("keydown", (event) => event.key === "Escape" && this.leave(true));
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

  async send(button, fields) {
    const slot = cleared(button);
    if (this.page.lost) {
      this.show(slot, { title: "Not sent: there is no link.", lines: ["Flag and radio."], accepted: false });
      return;
    }
    const reset = "reset" in button.dataset;
    const { boot, seq } = this.page.seen;
    const call = reset ? null : { ...JSON.parse(button.dataset.call), ...fields };
    const asked = { call, boot, seq, heard: this.page.heard };
    button.setAttribute("data-own-sent", "");
    const said = await this.post(reset ? "/reset" : "/call", reset ? {} : asked);
    button.removeAttribute("data-own-sent");
    this.show(slot, said);
  }

  async post(url, body) {
    try {
      const answer = await fetch(url, {
        method: "POST",
        headers: { "content-type": "application/json", "x-kerblight": this.page.csrf },
        body: JSON.stringify(body),
        cache: "no-store",
        signal: AbortSignal.timeout(WITHIN_MS),
      });
      if (answer.status === 401) location.assign("/sign-in");
      return await answer.json();
    } catch {
      return { title: "Nobody knows whether that arrived.", lines: ["Use flag and radio, look, then call again."], accepted: null };
    }
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
function cleared(button) {
  for (const slot of document.querySelectorAll(".answer")) slot.replaceChildren();
  return button.closest(".calls").querySelector(".answer");
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
