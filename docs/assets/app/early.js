// Starts Python before the rest of the page is read, where it is known that an answer will be asked
// for: an address that carries inputs, or a rocket this device keeps. The engine takes over.
//
// A plain script in the head, because modules wait for the whole page.

if (!("finstockEarly" in globalThis)) {
  const { src, dataset } = /** @type {HTMLScriptElement} */ (document.currentScript);
  const given = [...new URLSearchParams(location.search).keys()];
  let wanted = given.some((name) => name !== "h" && name !== "q");
  try {
    const own = () => JSON.parse(localStorage.getItem("finstock:shelf") ?? "{}").current;
    wanted ||= Boolean(dataset.slug && (sessionStorage.getItem("finstock:visit") ?? own()));
  } catch {
    // Private windows refuse.
  }
  globalThis.finstockEarly = null;
  if (wanted) {
    try {
      const worker = new Worker(new URL("worker.js", src), { type: "module", name: "calculator" });
      const heard = [];
      worker.onmessage = ({ data }) => heard.push(data);
      // The engine's own try will say what is wrong.
      worker.onerror = () => (globalThis.finstockEarly = null);
      globalThis.finstockEarly = { worker, heard };
    } catch {
      // The engine tries again and says why not.
    }
  }
}
