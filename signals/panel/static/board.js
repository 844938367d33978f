// The drivers' board: shown and kept fresh, nothing to touch.

import { Clocks } from "./clocks.js";
import { Link } from "./link.js";
import { morph } from "./morph.js";

const clocks = new Clocks(() => {});
new Link("/board/stream", {
  regions(fresh) {
    for (const [name, html] of Object.entries(fresh)) morph(document.querySelector(`[data-region="${name}"]`), html);
    clocks.tick();
  },
  beat: ({ now }) => clocks.heard(now),
  lost(is) {
    document.documentElement.classList.toggle("lost", is);
    document.getElementById("nolink").hidden = !is;
  },
});
