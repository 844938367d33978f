// The open line for calls: nothing has to be set up when a finger touches. While it is not open, calls go as requests.

const AGAIN_MS = [300, 1000, 3000, 10000];
const READY = "ready";
const SIGNED_OUT = 401;

export class Line {
  // `word` is the session's; an answer that does not come within `within` ms ends the line it did not come on.
  constructor(path, word, within) {
    this.path = path;
    this.word = word;
    this.within = within;
    this.number = 0;
    this.tries = 0;
    this.waiting = new Map();
    document.addEventListener("visibilitychange", () => this.look());
    this.look();
  }

  // A page nobody sees calls nothing.
  look() {
    if (document.hidden) this.drop();
    else if (!this.socket) this.begin();
  }

  begin() {
    clearTimeout(this.again);
    const socket = new WebSocket(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}${this.path}`);
    socket.onopen = () => socket.send(this.word);
    socket.onmessage = ({ data }) => this.take(socket, data);
    socket.onclose = () => socket === this.socket && this.drop();
    this.socket = socket;
  }

  // Let go of the line: what waits on it learns nothing more.
  drop() {
    clearTimeout(this.again);
    const { socket } = this;
    this.socket = null;
    this.open = false;
    socket?.close();
    for (const { failed } of this.waiting.values()) failed();
    this.waiting.clear();
    if (document.hidden) return;
    this.again = setTimeout(() => this.begin(), AGAIN_MS[Math.min(this.tries++, AGAIN_MS.length - 1)]);
  }

  // Give a promise of what is said to a call; null, and nothing sent, while the line is not open.
  ask(call) {
    if (!this.open) return null;
    const number = String(++this.number);
    this.socket.send(`${number} ${call}`);
    return new Promise((answered, failed) => {
      const over = setTimeout(() => this.drop(), this.within);
      const ends = (end) => (said) => (clearTimeout(over), end(said));
      this.waiting.set(number, { answered: ends(answered), failed: ends(failed) });
    });
  }

  take(socket, text) {
    if (socket !== this.socket) return;
    if (text === READY) {
      this.open = true;
      this.tries = 0;
      return;
    }
    const [, number, status, said] = /^(\d+) (\d+) (.*)$/s.exec(text);
    const waiting = this.waiting.get(number);
    this.waiting.delete(number);
    if (Number(status) === SIGNED_OUT) location.assign("/sign-in");
    waiting?.answered(JSON.parse(said));
  }
}
