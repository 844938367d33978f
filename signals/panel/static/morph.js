// Makes one part of the page like another, keeping the nodes that stay: a button that is being pressed,
// the focus and an open list outlive every change around them.

const CLIENTS = new Set(["open"]);

export function morph(place, html) {
  const fresh = document.createElement("template");
  fresh.innerHTML = html;
  children(place, fresh.content);
}

function children(place, fresh) {
  const known = new Map();
  for (const node of place.childNodes) if (key(node)) known.set(key(node), node);
  let here = place.firstChild;
  for (const due of [...fresh.childNodes]) {
    const kept = key(due) ? known.get(key(due)) : same(here, due) && !key(here) ? here : null;
    if (!kept) {
      place.insertBefore(due, here);
      continue;
    }
    if (kept === here) here = here.nextSibling;
    else place.insertBefore(kept, here);
    alike(kept, due);
  }
  while (here) {
    const next = here.nextSibling;
    here.remove();
    here = next;
  }
}

function alike(node, due) {
  if (node.nodeType !== Node.ELEMENT_NODE) {
    if (node.data !== due.data) node.data = due.data;
    return;
  }
  for (const { name } of [...node.attributes])
    if (!due.hasAttribute(name) && !CLIENTS.has(name) && !name.startsWith("data-own")) node.removeAttribute(name);
  for (const { name, value } of due.attributes) if (node.getAttribute(name) !== value) node.setAttribute(name, value);
  if (!node.hasAttribute("data-keep")) children(node, due);
}

function key(node) {
  return node?.nodeType === Node.ELEMENT_NODE ? node.dataset?.id || node.dataset?.call || "" : "";
}

function same(node, due) {
  return node && node.nodeType === due.nodeType && node.nodeName === due.nodeName;
}
