// Some browsers refuse storage altogether, when cookies are blocked. The theme cannot do without: give
// it one that lasts as long as the page. The build puts this before the theme's first script.

for (const name of ["localStorage", "sessionStorage"]) {
  try {
    window[name].getItem("");
  } catch {
    const kept = new Map();
    const storage = {
      getItem: (key) => kept.get(String(key)) ?? null,
      setItem: (key, value) => void kept.set(String(key), String(value)),
      removeItem: (key) => void kept.delete(String(key)),
      clear: () => kept.clear(),
      key: (index) => [...kept.keys()][index] ?? null,
      get length() {
        return kept.size;
      },
    };
    try {
      Object.defineProperty(window, name, { value: storage, configurable: true });
    } catch {
      // Then the theme's search and menus stay without; the calculators do not need it.
    }
    /** @type {any} */ (window).finstockForgets = true;
  }
}
