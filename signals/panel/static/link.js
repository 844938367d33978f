// The page's one link: what arrives is handed on, and its silence is told within a second.

const PATIENCE_MS = 800;
const DEAF_MS = 4000; // a connection that says nothing for so long is given up
const AGAIN_MS = [100, 300, 600, 1000];

export class Link {
  // `on` has a function for each event, and `lost(true or false, why, age in ms)`.
  constructor(url, on) {
    this.url = url;
    this.on = on;
    this.heard = 0;
    this.at = performance.now();
    this.tries = 0;
    this.lost = null;
    document.addEventListener("visibilitychange", () => this.look());
    addEventListener("offline", () => this.check());
    setInterval(() => this.check(), 100);
    this.look();
  }

  // A page nobody sees holds no connection: a browser grants few, and a call must find one free.
  look() {
    if (document.hidden) {
      this.close();
      this.at = -Infinity;
    } else if (!this.source) this.open();
    this.check();
  }

  open() {
    clearTimeout(this.again);
    this.came = performance.now();
    this.source = new EventSource(this.url);
    this.source.onerror = () => this.retry();
    for (const name of Object.keys(this.on))
      if (name !== "lost") this.source.addEventListener(name, (message) => this.take(name, message.data));
  }

  close() {
    clearTimeout(this.again);
    this.source?.close();
    this.source = null;
  }

  retry() {
    this.close();
    const wait = AGAIN_MS[Math.min(this.tries++, AGAIN_MS.length - 1)];
    this.again = setTimeout(() => document.hidden || this.open(), wait);
    this.check();
  }

  take(name, text) {
    const data = JSON.parse(text);
    this.came = performance.now();
    if (name === "beat") {
      this.heard = data.heard;
      this.up = data.up;
      this.tries = 0;
      if (data.up) this.at = performance.now();
    }
    this.on[name](data);
    this.check();
  }

  // Lost: nothing came for too long, or the server itself does not hear the controller.
  check() {
    const age = performance.now() - this.at;
    const lost = age > PATIENCE_MS || this.up === false;
    if (this.source && performance.now() - this.came > DEAF_MS) this.retry();
    if (lost !== this.lost || lost) this.on.lost(lost, age);
    this.lost = lost;
  }
}
