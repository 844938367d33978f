// What runs: ages of holds with their reminders, the session's clock. The controller's time, not the device's.

const REMINDERS = [
  [120, "stands for 2 minutes: tell the desk how it stands"],
  [60, "stands for 1 minute: is it still needed?"],
];

export class Clocks {
  constructor(say) {
    this.say = say;
    this.offset = null;
    this.told = new Map();
    setInterval(() => this.tick(), 250);
  }

  heard(now) {
    const offset = now - performance.now();
    if (this.offset === null || Math.abs(offset - this.offset) > 300) this.offset = offset;
    if (!this.ticked) this.tick();
  }

  tick() {
    if (this.offset === null) return;
    this.ticked = true;
    const now = this.offset + performance.now();
    for (const node of document.querySelectorAll("[data-since]")) this.age(node, now);
    for (const node of document.querySelectorAll("[data-ends]")) this.left(node, now);
  }

  age(node, now) {
    const age = Math.max(0, Math.floor((now - Number(node.dataset.since)) / 1000));
    put(node, minutes(age));
    const due = REMINDERS.find(([after]) => age >= after);
    const hold = node.closest("li");
    if (!due) return hold?.removeAttribute("data-own-late");
    const said = due[1][0].toUpperCase() + due[1].slice(1);
    if (hold?.dataset.ownLate !== said) hold?.setAttribute("data-own-late", said);
    const key = `${node.dataset.what} ${node.dataset.since} ${due[0]}`;
    if (this.told.has(key)) return;
    this.told.set(key, true);
    if (age < due[0] + 10) this.say(`${node.dataset.what} ${due[1]}`);
  }

  left(node, now) {
    const left = Math.ceil((Number(node.dataset.ends) - now) / 1000);
    put(node, left < 0 ? `+${minutes(-left)}` : minutes(left));
    node.classList.toggle("over", left < 0);
  }
}

function put(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

export function minutes(seconds) {
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}
