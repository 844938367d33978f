// The map: conditions, heads as they show, karts where they are. All flashing lamps share one phase.

const SVG = "http://www.w3.org/2000/svg";
const HEAD_M = 4.2, HEAD_PX = [12, 24], KART_M = 3.2, KART_PX = [9, 13];
const FLASHES_MAX = 3;

export class TrackMap {
  constructor([period, lit]) {
    this.period = period;
    this.lit = lit;
    this.steady = period * FLASHES_MAX < 1000;
    this.sizes = new ResizeObserver(() => this.fit());
    this.attach();
    const quiet = matchMedia("(prefers-reduced-motion: reduce)");
    setInterval(() => this.blink(quiet.matches), 50);
  }

  // Take up the map of the page that is shown now, if it has one.
  attach() {
    this.svg = document.getElementById("map");
    this.karts = new Map();
    this.sizes.disconnect();
    if (!this.svg) return;
    document.getElementById("karts").replaceChildren();
    this.sizes.observe(this.svg);
    this.fit();
  }

  fit() {
    const scale = this.svg.getScreenCTM()?.a || 4;
    const within = (size, [least, most]) => Math.min(most, Math.max(least, size * scale));
    this.svg.style.setProperty("--px", 1 / scale);
    this.svg.style.setProperty("--head", within(HEAD_M, HEAD_PX) / 22 / scale);
    this.svg.style.setProperty("--kart", within(KART_M, KART_PX) / 11 / scale);
    this.svg.classList.toggle("small", scale < 4);
    for (const pattern of document.querySelectorAll("pattern"))
      pattern.setAttribute("patternTransform", `scale(${1 / scale})`);
  }

  show({ sectors, heads, karts }) {
    this.levels = karts;
    if (!this.svg) return;
    for (const [id, dress] of Object.entries(sectors)) {
      const sector = this.svg.querySelector(`[data-sector="${id}"]`);
      if (sector) sector.dataset.dress = dress;
    }
    for (const [id, [mark, number, flashing, differs]] of Object.entries(heads)) {
      const head = this.svg.querySelector(`[data-head="${id}"]`);
      if (!head) continue;
      head.querySelector("use").setAttribute("href", `#mark-${mark}`);
      const text = head.querySelector(".number");
      text.textContent = number ?? "";
      text.setAttribute("x", mark === "move-over" ? "22" : "0");
      text.setAttribute("class", `number ${mark}`);
      head.classList.toggle("flashing", flashing);
      head.classList.toggle("differs", differs);
    }
  }

  move(spots) {
    if (!this.svg) return;
    for (const [number, [x, y, how]] of Object.entries(spots)) {
      const kart = this.karts.get(number) || this.make(number);
      kart.style.transform = `translate(${x}px, ${y}px)`;
      kart.dataset.how = how;
      kart.dataset.level = this.levels?.[number] || "waiting";
    }
    for (const [number, kart] of this.karts)
      if (!(number in spots)) {
        kart.remove();
        this.karts.delete(number);
      }
  }

  make(number) {
    const kart = document.createElementNS(SVG, "g");
    kart.setAttribute("class", "kart");
    kart.innerHTML = `<g class="size"><circle class="ring" r="11"/><circle class="disc" r="9"/><text>${Number(number)}</text></g>`;
    document.getElementById("karts").append(kart);
    this.karts.set(number, kart);
    return kart;
  }

  // Between flashes a shape stays, dim. With reduced motion, or a rate too fast for eyes, it stays lit.
  blink(quiet) {
    const dark = !quiet && !this.steady && Date.now() % this.period >= this.lit;
    document.documentElement.classList.toggle("dark-phase", dark);
  }
}
