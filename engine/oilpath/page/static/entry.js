// Entry as it is typed: kept in the browser, sent one by one, judged at once; a stopwatch. Works on after a lost line.
"use strict";
(() => {
  const form = document.getElementById("entry");
  if (!form || "read" in form.dataset) return;
  const line = document.getElementById("line");
  const KEY = "oilpath-entry:" + location.pathname + "#";
  const fields = new Map();
  for (const box of form.querySelectorAll("[data-key]")) fields.set(box.dataset.key, box);
  const was = new Map([...fields].map(([key, box]) => [key, JSON.parse(box.dataset.was)]));
  let kept = read();
  let busy = false, flying = new Set(), wait = 1000, timer = 0, token = form.elements.token.value;

  // An item for each field, so that two pages of one sheet keep what is typed in both.
  function read() {
    const found = {};
    try {
      for (const name of Object.keys(localStorage)) {
        if (name.startsWith(KEY)) found[name.slice(KEY.length)] = JSON.parse(localStorage.getItem(name));
      }
    } catch { /* not allowed */ }
    return found;
  }
  function hold(key, one) {
    kept[key] = one;
    try {
      localStorage.setItem(KEY + key, JSON.stringify(one));
    } catch { say("This browser keeps nothing. Do not close the page before all is saved.", true); }
  }
  function free(key) {
    delete kept[key];
    try { localStorage.removeItem(KEY + key); } catch { /* not allowed */ }
  }
  // Where numbers are written with a comma, the number pad of a phone has no point.
  const POINT = (1.5).toLocaleString()[1] === ",";
  function pointed(box) {
    for (const one of inputs(box)) {
      if (POINT && one.inputMode === "decimal" && /^\s*[-+]?\d*,\d+\s*$/.test(one.value)) one.value = one.value.replace(",", ".");
    }
  }
  const inputs = (box) => [...box.querySelectorAll("[name^='f.']")];
  function typed(box) {
    const texts = inputs(box).map((one) => one.value.trim().replace(/\s+/g, " "));
    if (box.dataset.key.endsWith(":veer")) return /\d/.test(texts[1] || "") ? [texts.join(" ").trim()] : [];
    return texts.filter(Boolean);
  }
  function put(box, values) {
    const boxes = inputs(box);
    let shown = values;
    if (box.dataset.key.endsWith(":veer")) {
      const parts = (values[0] || "").split(" ");
      shown = parts.length > 1 ? [parts[0], parts.slice(1).join(" ")] : ["", parts[0]];
    } else if (boxes.length === 1) shown = [values.join(" ")];
    boxes.forEach((one, n) => {
      const value = shown[n] || "";
      if (one.tagName === "SELECT" && value && ![...one.options].some((o) => o.value === value)) one.add(new Option(value));
      one.value = value;
    });
  }
  const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
  function say(text, off = false) {
    line.hidden = !text;
    line.textContent = text;
    line.classList.toggle("off", off);
  }
  function tell(box, text, choices = []) {
    const told = box.querySelector(".told");
    told.textContent = text;
    told.hidden = !text;
    for (const [label, act] of choices) {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = label;
      button.addEventListener("click", act);
      told.append(" ", button);
    }
  }
  function count() {
    const left = Object.values(kept).filter((one) => one.ready).length;
    return left === 1 ? "1 entry waits" : `${left} entries wait`;
  }
  function changed(box, ready) {
    const key = box.dataset.key, now = typed(box);
    const base = kept[key] ? kept[key].was : was.get(key);
    if (same(now, base) && !flying.has(key)) {
      free(key);
      box.classList.remove("waits");
    } else {
      hold(key, { typed: now, was: base, ready, oil: form.elements.oil.value });
      box.classList.add("waits");
      if (ready && key.startsWith("reading:")) early(key.slice(8));
    }
    if (ready) later(300);
  }
  // What goes with a reading and was typed before it is sent along with it.
  function early(id) {
    for (const [key, one] of Object.entries(kept)) {
      if (one.early && key.split(":")[1] === id) hold(key, { ...one, ready: true });
    }
  }
  function later(after) {
    clearTimeout(timer);
    timer = setTimeout(send, after);
  }
  async function fresh() {
    const answer = await fetch("/token", { headers: { accept: "application/json" } });
    if (answer.status === 401) throw new Error("out");
    token = (await answer.json()).token;
    form.elements.token.value = token;
  }
  async function send(again = true) {
    if (busy) return later(200);
    const changes = Object.entries(kept).filter(([, one]) => one.ready)
      .map(([key, one]) => ({ key, typed: one.typed, was: one.was, oil: one.oil || "" }));
    if (!changes.length) return;
    busy = true;
    flying = new Set(changes.map((one) => one.key));
    try {
      const stop = new AbortController();
      const limit = setTimeout(() => stop.abort(), 15000);
      const answer = await fetch(location.pathname, {
        method: "POST", signal: stop.signal, redirect: "error",
        headers: { "content-type": "application/json", accept: "application/json", "x-oilpath-token": token },
        body: JSON.stringify({ changes }),
      });
      clearTimeout(limit);
      if (answer.status === 403 && again) {
        await fresh();
        busy = false;
        return send(false);
      }
      if (answer.status === 401) throw new Error("out");
      if (answer.status === 429 || answer.status >= 500) throw new Error("later");
      const told = await answer.json();
      if (!answer.ok) {
        say("Not saved: " + (told.message || answer.status) + " What you typed is kept here.", true);
      } else {
        taken(told, changes);
        wait = 1000;
      }
    } catch (error) {
      if (error.message === "out") say("You are signed out. What you typed is kept here. Open “Machines” in a second tab and sign in; it then sends itself.", true);
      else say(`No connection. ${count()} here, and will be sent when it is back. Go on typing.`, true);
      wait = Math.min(wait * 2, 15000);
      later(wait);
    } finally {
      busy = false;
      flying = new Set();
    }
  }
  function taken(told, changes) {
    form.elements.number.value = told.number;
    const results = new Map(told.changes.map((one) => [one.key, one]));
    for (const sent of changes) {
      const box = fields.get(sent.key), result = results.get(sent.key), own = kept[sent.key];
      if (!result || !own) continue;
      const newer = !same(own.typed, sent.typed);
      if (result.kept) {
        if (newer) hold(sent.key, { ...own, was: told.fields[sent.key] || [] });
        else free(sent.key);
        if (box) { tell(box, ""); if (!newer) box.classList.remove("waits"); }
      } else if (result.other && box) {
        hold(sent.key, { ...own, ready: false });
        const theirs = told.fields[sent.key] || [];
        tell(box, result.says, [
          ["Keep theirs", () => { free(sent.key); put(box, theirs); tell(box, ""); box.classList.remove("waits"); }],
          ["Write mine", () => { hold(sent.key, { ...own, typed: typed(box), was: theirs, ready: true }); send(); }],
        ]);
      } else {
        hold(sent.key, { ...own, ready: false, early: result.early, warm: Boolean(told.said) });
        if (box) tell(box, result.says, result.likely ? [[`Write ${result.likely}`, () => { put(box, result.likely.split(/ +(?=[-+.\d])/)); tell(box, ""); changed(box, true); }]] : []);
      }
    }
    for (const [key, box] of fields) {
      const now = told.fields[key] || [];
      if (!kept[key] && !box.contains(document.activeElement) && !same(typed(box), now)) put(box, now);
      was.set(key, now);
    }
    judged(told);
    document.getElementById("made").textContent = `${told.made} of ${told.of} readings made`;
    const left = Object.keys(kept).length;
    say(told.said ? "Oil temperature: " + told.said : left ? "Saved, but for what is marked." : "All is saved.", Boolean(told.said));
  }
  function judged(told) {
    for (const box of form.querySelectorAll("[data-id]")) {
      const one = told.judged[box.dataset.id], out = box.querySelector(".judged");
      box.className = "reading " + (one ? one.tone : "");
      const lines = one ? [...one.texts.map((text) => [text, ""]), ...one.doubts.map((text) => ["Is this meant? " + text, "near"])] : [];
      if ([...out.children].map((p) => p.textContent).join("\n") === lines.map((l) => l[0]).join("\n")) continue;
      out.replaceChildren(...lines.map(([text, tone]) => {
        const p = document.createElement("p");
        p.textContent = text;
        p.className = tone;
        return p;
      }));
    }
  }

  // --- typing
  for (const box of fields.values()) {
    box.addEventListener("input", () => changed(box, false));
    box.addEventListener("change", () => { pointed(box); changed(box, true); });
  }
  form.elements.oil.addEventListener("change", () => {
    for (const [key, one] of Object.entries(kept)) {
      if (one.warm) hold(key, { ...one, oil: form.elements.oil.value, ready: true, warm: false });
    }
    later(300);
  });
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.tagName !== "INPUT") return;
    event.preventDefault();
    const all = [...form.querySelectorAll("input:not([type=hidden]),select,textarea")].filter((one) => one.offsetParent && !one.closest("details:not([open])"));
    const next = all[all.indexOf(event.target) + 1];
    if (next) next.focus(); else event.target.blur();
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const then = event.submitter && event.submitter.value;
    for (const [key, box] of fields) if (kept[key]) changed(box, true);
    const go = async () => {
      clearTimeout(timer);
      await send();
      if (then === "answer" && !Object.keys(kept).length) location.href = location.pathname.replace(/\/entry$/, "");
      else if (!Object.keys(kept).length) say("All is saved.");
    };
    go();
  });
  for (const [key, one] of Object.entries(kept)) {
    const box = fields.get(key);
    if (!box) continue;
    if (same(one.typed, was.get(key))) { free(key); continue; }
    put(box, one.typed);
    box.classList.add("waits");
    hold(key, { ...one, ready: true });
    if (one.oil && !form.elements.oil.value) form.elements.oil.value = one.oil;
    box.closest("details")?.setAttribute("open", "");
  }
  if (Object.keys(kept).length) { say(`${count()} from before; sending.`); later(100); }
  addEventListener("online", () => { wait = 1000; send(); });
  addEventListener("offline", () => say("No connection. What you type is kept here, and will be sent when it is back.", true));
  addEventListener("visibilitychange", () => { if (!document.hidden) send(); });
  addEventListener("beforeunload", (event) => {
    try { if (Object.keys(kept).some((key) => !localStorage.getItem(KEY + key))) event.preventDefault(); } catch { event.preventDefault(); }
  });

  // --- stopwatch: each stop fills the next empty box
  let clock = null;
  for (const button of form.querySelectorAll("[data-watch]")) {
    button.hidden = false;
    button.addEventListener("click", () => open(button));
  }
  function open(button) {
    const old = clock;
    if (old) old.close();
    if (old && old.button === button) return;
    const field = button.closest(".field"), panel = document.createElement("div");
    panel.className = "clock";
    panel.setAttribute("role", "group");
    panel.setAttribute("aria-label", "Stopwatch");
    const shown = document.createElement("output"), go = document.createElement("button"), drop = document.createElement("button");
    go.type = drop.type = "button";
    go.className = "main";
    drop.textContent = "Do not count it";
    shown.textContent = "0.0";
    panel.append(shown, go, drop);
    button.parentElement.append(panel);
    button.setAttribute("aria-expanded", "true");
    let began = 0, tick = 0, last = null;
    const label = () => { go.textContent = began ? "Stop" : "Start"; };
    const show = () => { shown.textContent = ((performance.now() - began) / 1000).toFixed(1); };
    go.addEventListener("click", () => {
      if (!began) {
        began = performance.now();
        tick = setInterval(show, 50);
      } else {
        clearInterval(tick);
        show();
        began = 0;
        const boxes = inputs(field);
        last = boxes.find((one) => !one.value.trim());
        if (!last) {
          last = boxes[boxes.length - 1].cloneNode();
          boxes[boxes.length - 1].after(last);
        }
        last.value = shown.textContent;
        changed(field, true);
      }
      label();
    });
    drop.addEventListener("click", () => {
      clearInterval(tick);
      if (!began && last) { last.value = ""; last = null; changed(field, true); }
      began = 0;
      shown.textContent = "0.0";
      label();
    });
    label();
    go.focus();
    clock = { button, close() { clearInterval(tick); panel.remove(); button.removeAttribute("aria-expanded"); clock = null; } };
  }
})();
