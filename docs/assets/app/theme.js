// Starts the theme's script (search, navigation, switch for dark) once the page has been painted:
// it is long, and the words do not need it.

const { script } = document.currentScript.dataset;
let begun = false;

function begin() {
  if (begun) return;
  begun = true;
  // They have done their work; the theme makes every address absolute, which would fetch them anew.
  for (const link of document.querySelectorAll("link[rel=preload]")) link.remove();
  const theme = document.createElement("script");
  theme.src = script;
  theme.addEventListener("load", () => dispatchEvent(new Event("finstock:theme")));
  document.head.append(theme);
}

// After the first frame, when there is nothing else to do, or at the reader's first move. A page in
// the background has no frames, hence the clock. Where an answer is on its way already, it comes
// first: the theme reads its search index, which would keep a small machine's second core busy.
const idle = globalThis.requestIdleCallback ?? setTimeout;
if (globalThis.finstockEarly) {
  addEventListener("finstock:answer", () => idle(begin), { once: true });
  setTimeout(begin, 5000);
} else {
  requestAnimationFrame(() => requestAnimationFrame(() => idle(begin)));
  setTimeout(begin, 2000);
}
for (const kind of ["pointerdown", "keydown"]) {
  addEventListener(kind, begin, { once: true, capture: true, passive: true });
}
