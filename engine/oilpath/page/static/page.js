// Copy, print, and text that is kept until the server has taken it. All pages work without this.
"use strict";
(() => {
  const KEPT = "oilpath-kept:", SENT = "oilpath-sent";
  const store = {
    get(key) { try { return JSON.parse(localStorage.getItem(key)); } catch { return null; } },
    set(key, value) { try { localStorage.setItem(key, JSON.stringify(value)); } catch { /* full, or not allowed */ } },
    drop(key) { try { localStorage.removeItem(key); } catch { /* not allowed */ } },
  };
  for (const button of document.querySelectorAll("[data-print]")) {
    button.hidden = false;
    button.addEventListener("click", () => print());
  }
  for (const button of document.querySelectorAll("[data-copy]")) {
    const text = document.getElementById(button.dataset.copy);
    button.hidden = false;
    button.addEventListener("click", async () => {
      try {
        await navigator.clipboard.writeText(text.textContent);
      } catch {
        const range = document.createRange();
        range.selectNodeContents(text);
        getSelection().removeAllRanges();
        getSelection().addRange(range);
        document.execCommand("copy");
      }
      const before = button.textContent;
      button.textContent = "Copied";
      setTimeout(() => { button.textContent = before; }, 2000);
    });
  }
  // Typed text of other forms: kept under the page's address, thrown away once a page without trouble follows.
  const sent = store.get(SENT);
  if (sent) {
    if (!("trouble" in document.body.dataset)) store.drop(KEPT + sent);
    store.drop(SENT);
  }
  const kept = (form) => [...form.elements].filter((one) => one.name && one.name !== "token"
    && (one.tagName === "TEXTAREA" || ["text", "search"].includes(one.type)));
  for (const form of document.querySelectorAll("form[method=post]:not(#entry)")) {
    const own = location.pathname + "#" + [...document.forms].indexOf(form);
    const before = store.get(KEPT + own);
    const fields = kept(form);
    if (!fields.length) continue;
    for (const field of fields) {
      if (before && typeof before[field.name] === "string" && before[field.name] !== field.value) {
        field.value = before[field.name];
      }
      field.addEventListener("input", () => {
        store.set(KEPT + own, Object.fromEntries(fields.map((one) => [one.name, one.value])));
      });
    }
    form.addEventListener("submit", () => store.set(SENT, own));
  }
  if ("forget" in document.body.dataset && "caches" in window) {
    caches.keys().then((names) => names.forEach((name) => caches.delete(name)));
  }
  if ("serviceWorker" in navigator && isSecureContext) {
    navigator.serviceWorker.register("/worker.js").catch(() => { /* a certificate that the browser does not know */ });
  }
})();
