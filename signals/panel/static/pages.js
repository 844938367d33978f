// From page to page without letting go of the link: the main part is exchanged, red stays where it is.

export class Pages {
  constructor(arrived) {
    this.arrived = arrived;
    document.addEventListener("click", (event) => this.click(event));
    addEventListener("popstate", () => this.go(location.href, false));
  }

  click(event) {
    const link = event.target.closest("a[href^='/']");
    if (event.defaultPrevented || !link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
    if (!link.closest(".pages, main") || link.target || "whole" in link.dataset) return;
    event.preventDefault();
    this.go(link.href, true);
  }

  async go(href, push) {
    const answer = await fetch(href, { cache: "no-store" }).catch(() => null);
    const text = answer?.ok && !answer.redirected ? await answer.text() : "";
    const page = new DOMParser().parseFromString(text, "text/html");
    const main = page.getElementById("main");
    if (!main || !page.documentElement.classList.contains("desk")) return location.assign(href);
    if (push) history.pushState(null, "", href);
    document.title = page.title;
    const here = document.getElementById("main");
    here.replaceChildren(...main.childNodes);
    for (const part of [".pages"]) document.querySelector(part).replaceWith(page.querySelector(part));
    scrollTo(0, 0);
    here.focus({ preventScroll: true });
    this.arrived();
  }
}
